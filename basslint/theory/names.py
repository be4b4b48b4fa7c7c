"""How are pitches and keys spelled?

Scientific pitch notation (60 = C4) with a shift for instruments that print C3 there. A pitch class
is spelled by the key: its own notes as the key's signature has them, others by what they are in it
(Open Music Theory): the raised seventh of D minor is C#, its lowered second Eb. Double
accidentals are left out, and so are E#, B#, Cb and Fb.
"""

from __future__ import annotations

from typing import Final

from basslint.theory.scales import MODES, SCALES, parent_major

LETTERS: Final = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}  # semitones above C
SHARPS: Final = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
FLATS: Final = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")

_FLAT_MAJORS: Final = frozenset({5, 10, 3, 8, 1})  # F, Bb, Eb, Ab, Db major have flats
# Semitones above the tonic of notes that are none of the scale, by their usual part in harmony; the
# others (third, fourth, sixth and seventh) are raised, as leading notes.
_LOWERED: Final = frozenset({3, 8, 10})  # third, sixth and seventh, borrowed from minor
_SECOND: Final = 1  # lowered in minor (the Neapolitan chord), in major the first note raised


def _spelled(tonic: int, mode: str) -> tuple[str, ...]:
    flats = parent_major(tonic, mode) in _FLAT_MAJORS
    scale = SCALES.get(mode, SCALES["major"])
    names = []
    for pitch in range(12):
        above = (pitch - tonic) % 12
        flat = flats
        if above not in scale:
            flat = above in _LOWERED or (above == _SECOND and 3 in scale)
        names.append((FLATS if flat else SHARPS)[pitch])
    return tuple(names)


_SPELLED: Final = {(tonic, mode): _spelled(tonic, mode) for tonic in range(12) for mode in MODES}
SPELLINGS: Final = tuple(dict.fromkeys([SHARPS, FLATS, *_SPELLED.values()]))  # all there are


def spelling(tonic: int, mode: str) -> tuple[str, ...]:
    """The twelve names that a key uses, from C up; a mode that is not one of `MODES` as major."""
    return _SPELLED.get((tonic % 12, mode), _SPELLED[tonic % 12, "major"])


def key_name(tonic: int, mode: str) -> str:
    """Name of a key, such as ``F# minor``."""
    return f"{spelling(tonic, mode)[tonic]} {mode}"


def pitch_name(pitch: int, spelled: tuple[str, ...] = SHARPS, middle_c: int = 4) -> str:
    """Name of a MIDI number, such as ``F#1``; ``middle_c`` is the octave printed for 60."""
    return f"{spelled[pitch % 12]}{pitch // 12 + middle_c - 5}"
