"""What to know before ink is spent: proof, loss, report, rank, compare, target, screen."""
