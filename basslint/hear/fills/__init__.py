"""Where are the rolls and fills of bass and drums, and on which grid?"""

__all__ = ["fills", "grid", "shape", "steps"]
