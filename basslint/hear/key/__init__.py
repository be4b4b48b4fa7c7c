"""Which key and scale is the song in, when, and how sure is that?"""

__all__ = ["keys"]
