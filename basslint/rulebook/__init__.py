"""Which rules are there? Pages read, checked and collected; the notation of examples."""

__all__ = ["compiled", "loader", "lookup", "model", "notation", "pages", "stored"]
