"""What is read of notes by themselves, each value counted by hand.

At 120 bpm a quarter lasts 500 ms (Standard MIDI Files 1.0); frequencies: ISO 16 and equal
temperament: A1 55 Hz, A3 220 Hz.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from beats import heard

from basslint.readings.base import registered
from basslint.readings.notes import beats_in_words

SONG = """tempo 120
meter {meter}
key A minor
keys | A3:1@90 C#4:1@30 C4:2 | A3+C4+E4:4@64 |
sub  | A1:1~0.5@100 A1:1@101 E2+E2:1.5 .:.5 | A1:.5@1 .:3.5 |
drums | C2:4 | C2:4 |
"""


def read(subject: str, name: str, meter: str = "4/4") -> list[object]:
    """A reading of the notes in order of start and then of pitch."""
    column = registered(subject)[name].column(heard(SONG.format(meter=meter)))
    return column.tolist()


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("note_name", ["A1", "A3", "A1", "C#4", "E2", "E2", "C4", "A1", "A3", "C4", "E4"]),
        ("pitch", [33, 57, 33, 61, 40, 40, 60, 33, 57, 60, 64]),
        ("length", [1.5, 1, 1, 1, 1.5, 1.5, 2, 0.5, 4, 4, 4]),
        ("length_ms", [750, 500, 500, 500, 750, 750, 1000, 250, 2000, 2000, 2000]),
        ("velocity", [100, 90, 101, 30, 100, 100, 100, 1, 64, 64, 64]),
        ("beat", [1, 1, 2, 2, 3, 3, 3, 1, 1, 1, 1]),
        ("in_scale", [True] * 3 + [False] + [True] * 7),
        ("doubled", [0, 0, 0.5, 0, 0, 1.5, 0, 0, 0, 0, 0]),
        ("struck_twice", [False] * 5 + [True] + [False] * 5),
        ("has_end", [True] * 11),
    ],
)
def test_a_reading_of_any_note_has_a_row_for_each_in_order(name: str, told: list[object]) -> None:
    assert read("note", name) == told


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("note_name", ["A1", "A1", "E2", "E2", "A1"]),
        ("length", [1.5, 1, 1.5, 1.5, 0.5]),
        ("held", ["1.5 beats", "1 beat", "1.5 beats", "1.5 beats", "0.5 beats"]),
        ("stand", [2, 2, 1.5, 1.5, 0.5]),  # the first two are one stand, and so are the doubles
        ("length_ms", [750, 500, 750, 750, 250]),
        ("velocity", [100, 101, 100, 100, 1]),
        ("beat", [1, 2, 3, 3, 1]),
        ("bar", [1, 1, 1, 1, 2]),
        ("part_name", ["sub"] * 5),
        ("above_register", [-7, -7, 0, 0, -7]),
        ("part_frequency", [55.0] * 5),
        ("periods", [55, 55, 61.8, 61.8, 13.75]),  # 55 Hz for a second, 82.41 Hz for .75 s
    ],
)
def test_a_bass_note(name: str, told: list[object]) -> None:
    values = read("bass-note", name)
    if isinstance(told[0], float | int):
        assert values == pytest.approx(told, rel=1e-3)
    else:
        assert values == told


def test_a_leap_is_counted_from_the_last_note_that_starts_earlier() -> None:
    first, *others = read("bass-note", "leap")
    assert np.isnan(first)
    assert others == [0, 7, 7, -7]


@pytest.mark.parametrize(("meter", "lengths"), [("4/4", [1.5, 1]), ("6/8", [3, 2])])
def test_beats_are_those_of_the_meter(meter: str, lengths: list[float]) -> None:
    assert read("bass-note", "length", meter)[:2] == lengths


@pytest.mark.parametrize(
    ("count", "said"),
    [(1, "1 beat"), (1.004, "1 beat"), (2, "2 beats"), (10, "10 beats"), (0.25, "0.25 beats")],
)
def test_beats_in_words(count: float, said: str) -> None:
    assert beats_in_words(count) == said


@pytest.mark.parametrize(("rest", "stands"), [(0.5, [2.5, 2.5]), (0.55, [1, 1])])
def test_a_line_stands_on_over_an_eighth_of_rest(rest: float, stands: list[float]) -> None:
    line = f"A1:1 .:{rest} A1:1 E2:{1.5 - rest}"
    column = registered("bass-note")["stand"].column(heard(f"tempo 120\nsub | {line} |*2\n"))
    assert column.tolist()[:2] == pytest.approx(stands)


def test_an_octave_has_twice_the_frequency() -> None:
    """ISO 16 and equal temperament: A4 is 440 Hz."""
    column = registered("note")["frequency"].column(heard("keys | A1 A2 A3 A4 |\n"))
    assert column[-1] == 440.0
    assert [high / low for low, high in pairwise(column.tolist())] == [2.0] * 3


@pytest.mark.parametrize(
    ("notes", "low"),
    [
        ("A#0 C2 A#0 C2 A#0 C2", True),  # three notes, half of all, lie under 30 Hz
        ("A#0 C2 A#0 C2", False),  # two are slips
        ("A#0 C2 A#0 C2 A#0 C2 C2", False),  # three of seven
        ("B0 C2 B0 C2 B0 C2", False),  # 30.9 Hz
        ("F0 F0 G1 G1 G1 " * 8, True),  # by its register, where the middle one is G1 at most
        ("F0 F0 G#1 G#1 G#1 " * 8, False),
        ("A0 A0 G#1 G1 G1 " * 8, False),  # as other basses do, too
    ],
)
def test_a_part_that_lies_low_as_a_whole(notes: str, low: bool) -> None:
    """B flat 0 has 29.1 Hz (ISO 16, equal temperament). Other parts say nothing of it."""
    words = [f"{note}:4" for note in notes.split()]
    keys, high = (" | ".join([chord] * len(words)) for chord in ("A3+C4+E4:4", "A2:4"))
    chart = heard(f"keys | {keys} |\nlow-bass | {' | '.join(words)} |\nmid-bass | {high} |\n")
    told = registered("bass-note")["low_as_a_whole"].column(chart)
    names = registered("bass-note")["part_name"].column(chart)
    assert set(names) == {"low-bass", "mid-bass"}
    assert {bool(words) for words in told[names == "low-bass"]} == {low}
    assert not any(told[names == "mid-bass"])
