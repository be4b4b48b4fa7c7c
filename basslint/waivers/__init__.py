"""Which findings may stand, and for what reason?"""

__all__ = ["model"]
