"""Which qualities of chord does hearing tell apart: their tones, and how each is written?

Tones are semitones above the root, by Open Music Theory. Suffixes are those of lead sheets in
common use; there is no published standard. Symbols as a user writes them are read elsewhere, in
`basslint.theory.chord_symbols`, which knows more spellings.
"""

from __future__ import annotations

from typing import Final

import numpy as np

_QUALITIES: Final[tuple[tuple[str, tuple[int, ...], str], ...]] = (  # name, tones, suffix
    ("major", (0, 4, 7), ""),
    ("minor", (0, 3, 7), "m"),
    ("dominant-7", (0, 4, 7, 10), "7"),
    ("minor-7", (0, 3, 7, 10), "m7"),
    ("major-7", (0, 4, 7, 11), "maj7"),
    ("suspended-4", (0, 5, 7), "sus4"),
    ("suspended-2", (0, 2, 7), "sus2"),
    ("diminished", (0, 3, 6), "dim"),
    ("half-diminished", (0, 3, 6, 10), "m7b5"),
    ("diminished-7", (0, 3, 6, 9), "dim7"),
    ("augmented", (0, 4, 8), "aug"),
)
QUALITIES: Final = tuple(name for name, _, _ in _QUALITIES)
TONES: Final = {name: tones for name, tones, _ in _QUALITIES}
SUFFIXES: Final = {name: suffix for name, _, suffix in _QUALITIES}

# Whether each quality holds so many semitones, [qualities, 12].
IS_TONE: Final = np.zeros((len(TONES), 12), dtype=bool)
for _row, _tones in enumerate(TONES.values()):
    IS_TONE[_row, list(_tones)] = True

# Chords of more tones, or of fewer where the third or the fifth is left out, which hearing does not
# tell apart: they are recognised by all of their tones over a given root.
EXTENDED_SUFFIXES: Final[dict[tuple[int, ...], str]] = {
    (0, 3, 7, 11): "m(maj7)",
    (0, 5, 7, 10): "7sus4",
    (0, 2, 7, 10): "9",
    (0, 2, 7, 11): "maj9",
    (0, 4, 10): "7",
    (0, 3, 10): "m7",
    (0, 4, 11): "maj7",
    (0, 4, 7, 9): "6",
    (0, 3, 7, 9): "m6",
    (0, 2, 4, 7, 9): "6/9",
    (0, 2, 4, 7, 10): "9",
    (0, 2, 4, 7, 11): "maj9",
    (0, 2, 3, 7, 10): "m9",
    (0, 2, 4, 10): "9",
    (0, 2, 4, 11): "maj9",
    (0, 2, 3, 10): "m9",
    (0, 2, 5, 7, 10): "9sus4",
    (0, 3, 5, 7, 10): "m11",
    (0, 2, 3, 5, 7, 10): "m11",
    (0, 4, 9, 10): "13",
    (0, 4, 7, 9, 10): "13",
    (0, 2, 4, 7, 9, 10): "13",
}
