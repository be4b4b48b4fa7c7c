"""Where a place lies, in a musician's words."""

from __future__ import annotations

import pytest
from beats import heard
from made_roots import made_roots

from basslint.hear.harmony.sources import LOOP, MIDI, STATED
from basslint.report.drawing.look import Look
from basslint.report.drawing.marks import bar_list, chord_at, fitted, number, spot
from basslint.report.drawing.song_map import song_map
from basslint.theory.names import SHARPS


@pytest.mark.parametrize(
    ("bar", "beat", "beats", "words"),
    [
        (5, 1.0, 4, "bar 5, beat 1"),
        (5, 2.5, 4, "bar 5, beat 2.5"),
        (5, 4.99, 4, "just before bar 6"),
        (5, 2.97, 4, "bar 5, just before beat 3"),
        (5, 3.99, 3, "just before bar 6"),
        (5, 4.9, 4, "bar 5, beat 4.9"),
        (5, 4.99, 0, "bar 5, beat 4.99"),
    ],
)
def test_what_comes_a_hair_before_a_beat_is_told_by_that_beat(
    bar: int, beat: float, beats: int, words: str
) -> None:
    assert spot(bar, beat, beats) == words


@pytest.mark.parametrize(
    ("value", "digits", "words"),
    [
        (100.0, 0, "100"),
        (100.0, 2, "100"),
        (0.5, 2, "0.5"),
        (1.994, 1, "2"),
        (-0.25, 2, "-0.25"),
        (-0.04, 1, "0"),
    ],
)
def test_numbers_have_no_idle_zeros(value: float, digits: int, words: str) -> None:
    assert number(value, digits) == words


@pytest.mark.parametrize(
    ("name", "root", "room", "drawn"),
    [
        ("F#m7", "F#", 4, "F#m7"),
        ("F#m7", "F#", 3, "F#…"),  # a name that is cut would be another chord's
        ("F#m7", "F#", 2, ""),
        ("N.C.", "", 3, ""),
        ("?", "", 1, "?"),
    ],
)
def test_a_chord_is_named_as_far_as_there_is_room(
    name: str, root: str, room: int, drawn: str
) -> None:
    assert fitted(name, root, room, True) == drawn


@pytest.mark.parametrize(
    ("bars", "words"),
    [
        ([(5, 6)], "bar 5"),
        ([(5, 6), (9, 10)], "bars 5 and 9"),
        ([(7, 8), (8, 9), (9, 10), (20, 21), (21, 22)], "bars 7–9 and 20–21"),
        ([(1, 9), (3, 5), (9, 11)], "bars 1–10"),
        ([(b, b + 1) for b in range(1, 27, 2)], "bars 1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23 "
         "and 25"),  # one more is told itself
        ([(b, b + 1) for b in range(1, 29, 2)], "bars 1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23 "
         "and 2 more"),
        ([(b, b + 1) for b in range(1, 31, 2)], "bars 1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23 "
         "and 3 more"),
    ],
)  # fmt: skip
def test_bars_that_touch_are_told_as_one_stretch(bars: list[tuple[int, int]], words: str) -> None:
    assert bar_list(bars) == words


@pytest.mark.parametrize(("certainty", "drawn"), [(0.4, "?"), (0.6, "Dm")])
def test_a_chord_is_named_only_where_it_is_likelier_than_not(certainty: float, drawn: str) -> None:
    roots = made_roots([0], [960], [2], ["minor"], certainty=certainty)
    assert chord_at(roots, 0, SHARPS) == drawn


@pytest.mark.parametrize(
    ("root", "source", "drawn"),
    [(-1, MIDI, "?"), (-1, STATED, "N.C."), (-1, LOOP, "~"), (2, STATED, "Dm"), (2, LOOP, "Dm")],
)
def test_where_no_root_is_told_its_source_says_why(root: int, source: int, drawn: str) -> None:
    roots = made_roots([0], [960], [root], ["minor"], source=source)
    assert chord_at(roots, 0, SHARPS) == drawn


def test_no_chord_is_named_under_a_tune_alone() -> None:
    chart = heard("tempo 100\nlead | A4:1 F4:1 D5:2 | D5:1 F5:1 D5:2 |*4\nsub | D2:4 | A#1:4 |*4\n")
    assert len(chart.roots) > 1
    rows = [row.text for system in song_map(chart, Look()) for row in system]
    roots = next(row for row in rows if row.lstrip().startswith("root"))
    assert roots.split() == ["root", "?"]
