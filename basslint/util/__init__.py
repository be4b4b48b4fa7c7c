"""Atomic files, safe texts, columns put in order, records that are made quickly."""

__all__ = ["columns", "files", "locks", "records", "stopped", "terminal", "text", "toml"]
