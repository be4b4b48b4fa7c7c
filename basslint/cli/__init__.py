"""The command line: parses, connects, prints."""

__all__ = ["main"]
