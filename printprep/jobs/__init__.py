"""Jobs: files prepared, one or many, here or on many machines, and their tickets."""
