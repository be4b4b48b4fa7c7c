"""Notes are spelled by their part in the key: Open Music Theory (leading notes, Neapolitan)."""

from __future__ import annotations

import pytest

from basslint.theory.names import FLATS, SHARPS, SPELLINGS, spelling
from basslint.theory.scales import MODES

NATURALS = {0: "C", 2: "D", 4: "E", 5: "F", 7: "G", 9: "A", 11: "B"}


@pytest.mark.parametrize(
    ("tonic", "mode", "pitch", "name"),
    [
        (2, "minor", 1, "C#"),  # raised sevenths
        (7, "minor", 6, "F#"),
        (9, "minor", 8, "G#"),
        (9, "minor", 10, "Bb"),  # lowered seconds
        (4, "minor", 1, "C#"),  # … and a raised sixth
        (7, "minor", 8, "Ab"),
        (2, "minor", 10, "Bb"),  # of the scale
        (5, "minor", 1, "Db"),
        (9, "minor", 3, "D#"),  # raised fourth
        (0, "major", 10, "Bb"),  # borrowed from minor
        (0, "major", 3, "Eb"),
        (0, "major", 6, "F#"),  # raised fourth
        (2, "major", 6, "F#"),
        (10, "major", 3, "Eb"),
        (9, "phrygian", 10, "Bb"),
    ],
)
def test_a_note_is_spelled_by_what_it_is_in_the_key(
    tonic: int, mode: str, pitch: int, name: str
) -> None:
    assert spelling(tonic, mode)[pitch] == name


@pytest.mark.parametrize("mode", MODES)
def test_every_key_has_each_pitch_once_and_no_double_accidentals(mode: str) -> None:
    for tonic in range(12):
        names = spelling(tonic, mode)
        assert names in SPELLINGS
        assert len(set(names)) == 12
        for pitch, name in enumerate(names):
            assert name in (SHARPS[pitch], FLATS[pitch])
            assert NATURALS.get(pitch, name) == name
