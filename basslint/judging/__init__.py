"""What is off in a song by a book of rules, and what could not be judged?"""

__all__ = ["coverage", "examples", "fingerprint", "judge", "nearly", "one_note", "results"]
