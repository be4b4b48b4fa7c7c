"""From findings to edits, from edits to bytes, and the bytes judged again."""

__all__ = ["account", "locate", "mend", "nudged", "offer", "patch"]
