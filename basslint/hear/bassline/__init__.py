"""Which bass pattern does the line play, and what does each note do in it?"""

__all__ = [
    "accompaniment",
    "displacement",
    "doubling",
    "functions",
    "lag",
    "line_fit",
    "one_move",
    "pattern",
    "register",
    "shift",
    "sounding",
    "tuning",
    "two_keys",
    "two_notes",
    "which_is_off",
]
