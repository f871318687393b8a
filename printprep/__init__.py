"""Prepare a finished photograph for one paper and one room."""
