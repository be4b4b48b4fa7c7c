"""From findings to edits, from edits to bytes, and the bytes judged again."""

__all__ = ["account", "locate", "meant", "mend", "nudged", "offer", "patch"]
