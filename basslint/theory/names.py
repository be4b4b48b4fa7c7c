"""How are pitches, keys and intervals called?

Scientific pitch notation (60 = C4) with a shift for instruments that print C3 there. A pitch class
is spelled by the key: sharps or flats as the key's signature has them.
"""

from __future__ import annotations

import re

_COUNTED = re.compile(r"track \d+( ch \d+)?", re.IGNORECASE)

LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}  # semitones above C
SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
FLATS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")

# Parent major tonic of each mode, in semitones above the mode's own tonic (handbook of harmony).
_PARENT = {
    "major": 0,
    "minor": 3,
    "dorian": 10,
    "phrygian": 8,
    "lydian": 7,
    "mixolydian": 5,
    "locrian": 1,
}
_FLAT_MAJORS = frozenset({5, 10, 3, 8, 1})  # F, Bb, Eb, Ab, Db major have flats


def spelling(tonic: int, mode: str) -> tuple[str, ...]:
    """The twelve names a key uses: flats where its parent major has flats, else sharps."""
    return FLATS if (tonic + _PARENT.get(mode, 0)) % 12 in _FLAT_MAJORS else SHARPS


def given_name(part: str) -> str:
    """A part's name if somebody gave it; nothing for one that counts the tracks (``track 3``),
    which another order of tracks would change."""
    return "" if _COUNTED.fullmatch(part) else part


def key_name(tonic: int, mode: str) -> str:
    """``F# minor``."""
    return f"{spelling(tonic, mode)[tonic]} {mode}"


def pitch_name(pitch: int, spelled: tuple[str, ...] = SHARPS, middle_c: int = 4) -> str:
    """``F#1``; ``middle_c`` is the octave printed for MIDI note 60."""
    return f"{spelled[pitch % 12]}{pitch // 12 + middle_c - 5}"


def frequency(pitch: float) -> float:
    """Hertz of a MIDI number: 440·2^((n−69)/12), ISO 16 and equal temperament."""
    return float(440.0 * 2.0 ** ((pitch - 69.0) / 12.0))
