"""From steps to pixels: compile to a table, apply it band by band, many files at once."""
