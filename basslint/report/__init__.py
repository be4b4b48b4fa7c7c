"""Reports: every format prints the same report object and computes nothing."""
