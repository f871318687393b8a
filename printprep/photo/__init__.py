"""Photographs, their profiles and their metadata, read and written without loss."""
