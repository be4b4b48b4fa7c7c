"""Which chord root sounds when, and how sure is that?"""

__all__ = [
    "accents",
    "bare",
    "chords",
    "chords_elsewhere",
    "cover",
    "hmm",
    "loop",
    "loops",
    "roots",
    "segments",
    "sources",
    "stated",
    "stretches",
    "together",
    "witnesses",
]
