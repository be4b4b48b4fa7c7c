"""Many files: which ones, on how many processes, what is known already?"""

__all__ = [
    "accept",
    "bounds",
    "cache",
    "discovery",
    "executors",
    "groups",
    "job",
    "merge",
    "pool",
    "run",
    "stems",
]
