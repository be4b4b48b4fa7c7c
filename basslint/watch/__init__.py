"""What does a folder hold now, and since the last export? The local page that follows it."""

__all__ = ["plan", "run"]
