"""Reports: every format prints the same report object and computes nothing."""

__all__ = ["section"]
