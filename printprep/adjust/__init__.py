"""What may be done to a picture: one file per adjustment, found by its name."""
