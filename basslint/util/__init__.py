"""Atomic files, safe texts, columns put in order."""

__all__ = ["columns", "files", "text"]
