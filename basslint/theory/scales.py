"""Which modes are there, of which notes, and which major scale does each share?

The seven modes of the major scale, by Open Music Theory.
"""

from __future__ import annotations

from typing import Final

MAJOR_SCALE: Final = (0, 2, 4, 5, 7, 9, 11)  # semitones above the tonic
# Semitones from the tonic of the major scale whose notes a mode shares up to the mode's own tonic.
MODE_STEPS: Final = {
    "major": 0,
    "minor": 9,
    "dorian": 2,
    "phrygian": 4,
    "lydian": 5,
    "mixolydian": 7,
    "locrian": 11,
}
MODES: Final = tuple(MODE_STEPS)
# Semitones above its own tonic of each mode's notes.
SCALES: Final = {
    mode: tuple(sorted((note - step) % 12 for note in MAJOR_SCALE))
    for mode, step in MODE_STEPS.items()
}


def parent_major(tonic: int, mode: str) -> int:
    """Pitch class of the tonic of the major scale that a mode on ``tonic`` shares its notes with.

    A mode that is not one of `MODES` counts as major.
    """
    return (tonic - MODE_STEPS.get(mode, 0)) % 12
