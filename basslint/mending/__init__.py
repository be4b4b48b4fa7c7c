"""From findings to edits, from edits to bytes, and the bytes judged again."""

__all__ = ["account", "bare", "locate", "meant", "mend", "nudged", "offer", "patch"]
