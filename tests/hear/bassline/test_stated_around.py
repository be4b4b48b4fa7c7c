"""What sounds around a bass note where chords are stated by their roots alone."""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard, judged

from basslint.readings.accompaniment import rub_share, supported
from basslint.rulebook.loader import read_book

BOOK = tuple(rule for rule in read_book() if rule.name == "off-root")
ROOTS = "A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |"
MINOR = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4\n"


def test_a_root_alone_lets_no_note_rub_with_a_third() -> None:
    """C# over A may be its third; whether A minor or A major was meant, nobody said."""
    for note in ("C2", "C#2", "D2", "B1", "G1"):
        chart = heard(f"tempo 140\nchords A\nsub | {note}:4 |*4\n")
        assert rub_share(chart).max() == 0.0, note
    for note in ("A#1", "G#1", "D#2", "F2"):  # beside the root, and the fifth of nearly all chords
        assert rub_share(heard(f"tempo 140\nchords A\nsub | {note}:4 |*4\n")).min() > 0.9, note


def test_full_chords_rub_as_they_are_stated() -> None:
    assert rub_share(heard("tempo 140\nchords Am\nsub | C#2:4 |*4\n")).min() == 1.0
    assert rub_share(heard("tempo 140\nchords Am\nsub | D#2:4 |*4\n")).min() == 1.0


@pytest.mark.parametrize(
    ("note", "rubs", "sounds"), [("C#2", 1.0, 0.0), ("C2", 0.0, 1.0), ("D2", 0.0, 0.0)]
)
def test_parts_beside_a_bare_root_say_which_chord_it_is(
    note: str, rubs: float, sounds: float
) -> None:
    """Am is played: C belongs to it, C# rubs with the C that sounds, and is no third any more."""
    chart = heard(f"tempo 140\nchords A\nkeys | A3+C4+E4:4 |*4\nsub | {note}:4 |*4\n")
    assert np.allclose(rub_share(chart), rubs)
    assert np.allclose(supported(chart), sounds)


def told(wrong: str, harmony: str) -> list[str]:
    line = f"sub | {ROOTS}| {ROOTS.replace('A1', wrong)}| {ROOTS}*2\n"
    return [f.message for f in judged(f"tempo 140\nchords A F C G\n{harmony}{line}", BOOK).findings]


def test_no_message_names_a_tone_that_nobody_stated_or_plays() -> None:
    assert not told("C#2", "") and not told("C2", MINOR) and not told("E1", MINOR)
    (alone,) = told("B1", "")
    assert "rubs" not in alone
    (beside,) = told("B1", MINOR)
    assert "rubs with C for" in beside
    (third,) = told("C#2", MINOR)  # A major may have been meant; A minor is played
    assert "rubs with C for" in third


def test_parts_beside_bare_roots_say_alone_what_the_song_has() -> None:
    """Where a part plays every chord, no third that nobody plays is counted beside it."""
    song = f"tempo 140\n{{}}{MINOR}sub | {ROOTS}*4\n"
    beside, played = (heard(song.format(c)).accompaniment.time for c in ("chords A F C G\n", ""))
    assert np.allclose(beside, played)


def test_without_parts_the_thirds_of_the_scale_are_what_the_song_has() -> None:
    time = heard(f"tempo 140\nchords A F C E\nsub | {ROOTS}*4\n").accompaniment.time
    assert time[8] < time[11] / 2  # G# and B, the thirds that E may have
