"""Many files: which ones, on how many processes, what is known already?"""

__all__ = ["accept", "cache", "discovery", "groups", "job", "merge", "run"]
