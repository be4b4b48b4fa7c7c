"""How are pitches and keys spelled?

Scientific pitch notation (60 = C4) with a shift for instruments that print C3 there. A pitch class
is spelled by the key: sharps or flats as the key's signature has them.
"""

from __future__ import annotations

from typing import Final

from basslint.theory.scales import parent_major

LETTERS: Final = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}  # semitones above C
SHARPS: Final = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
FLATS: Final = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")

_FLAT_MAJORS: Final = frozenset({5, 10, 3, 8, 1})  # F, Bb, Eb, Ab, Db major have flats


def spelling(tonic: int, mode: str) -> tuple[str, ...]:
    """The twelve names a key uses: flats where its parent major has flats, else sharps."""
    return FLATS if parent_major(tonic, mode) in _FLAT_MAJORS else SHARPS


def key_name(tonic: int, mode: str) -> str:
    """Name of a key, such as ``F# minor``."""
    return f"{spelling(tonic, mode)[tonic]} {mode}"


def pitch_name(pitch: int, spelled: tuple[str, ...] = SHARPS, middle_c: int = 4) -> str:
    """Name of a MIDI number, such as ``F#1``; ``middle_c`` is the octave printed for 60."""
    return f"{spelled[pitch % 12]}{pitch // 12 + middle_c - 5}"
