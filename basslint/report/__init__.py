"""Reports: every format says what stands in the same report object, and finds nothing itself."""

__all__ = ["section"]
