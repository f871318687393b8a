"""What was done: the job ticket inside a prepared file."""
