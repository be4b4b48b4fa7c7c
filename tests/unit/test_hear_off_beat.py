"""Chords that are not struck on the beat, and chords with a colour of their own.

Tones of chords: handbook of harmony. Where a chord that is struck off the beat changes: common
practice, no source.
"""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.hear.chords import QUALITIES
from basslint.rulebook import read_book

BOOK = read_book()


def chord_at(text: str, bar: int) -> tuple[int, str]:
    """Root and quality of the chord in the middle of a bar, from 1."""
    chart = heard(text)
    tick = chart.song.grid.start[bar - 1 : bar] + 2 * chart.song.division
    (row,) = chart.root_at(tick)
    return int(chart.roots.root[row]), QUALITIES[chart.roots.quality[row]]


@pytest.mark.parametrize(
    ("voicing", "root"),
    [
        ("E4+G4+Bb4+C5+D5", 0),  # C9, its root inside
        ("Bb3+C4+D4+E4", 0),
        ("F4+G4+Bb4+Eb5", 3),  # Eb with an added ninth, which lies lowest
        ("C4+E4+G4+B4+D5", 0),
        ("A3+C4+E4+G4+B4", 9),
    ],
)
def test_a_ninth_is_a_colour_of_its_chord(voicing: str, root: int) -> None:
    assert chord_at(f"keys | F3+A3+C4:4 | {voicing}:4 |*4\n", 2)[0] == root


@pytest.mark.parametrize(
    ("voicing", "quality"),
    [
        ("G3+Bb3+F4+A4", "minor-7"),  # Gm9 without its fifth: nothing says that it is diminished
        ("G3+Bb3+Db4+F4", "half-diminished"),
        ("G3+B3+D4", "major"),
    ],
)
def test_no_chord_is_diminished_that_leaves_its_fifth_out(voicing: str, quality: str) -> None:
    assert chord_at(f"keys | F3+A3+C4:4 | {voicing}:4 |*4\n", 2) == (7, quality)


STABS = "keys | {} | {} |*4\n".format(*(" ".join([f".:.5 {{{n}}}:.5"] * 4) for n in (0, 1)))
WALTZ = "meter 3/4\nkeys | .:1 {0}:1 {0}:1 | .:1 {1}:1 {1}:1 |*8\n"


@pytest.mark.parametrize("form", [STABS, WALTZ], ids=["stabs", "waltz"])
def test_a_chord_struck_after_the_beat_has_changed_on_it(form: str) -> None:
    beats = 3 if "3/4" in form else 4
    turns = 8 if beats == 3 else 4
    text = "tempo 120\n" + form.format("A3+C4+E4", "F3+A3+C4")
    clean = f"sub | A1:{beats - 0.5} .:.5 | F1:{beats - 0.5} .:.5 |*{turns}"
    assert judged(text + clean, BOOK).findings == ()
    chart = heard(text + clean)
    assert (chart.roots.since[1:] < chart.roots.start[1:]).all()
    assert (chart.roots.since[1:] % (beats * chart.song.division) == 0).all()
    early = (
        f"sub | A1:{beats - 1} F1:1~{beats} | .:{beats} | A1:{beats} | F1:{beats} |*{turns // 2}"
    )
    assert {f.rule for f in judged(text + early, BOOK).findings} >= {"late-change"}


def test_a_chord_pushed_onto_the_last_eighth_is_heard_from_there() -> None:
    """C goes to Am an eighth before the bar line; its E and C sound on in both."""
    there = ".:3.5 A3+C4+E4:.5~4 | .:3.5 C4+E4+G4:.5~4"
    chart = heard(
        f"tempo 100\nkeys | C4+E4+G4:3.5 {there.removeprefix('.:3.5 ')} | {there} | {there} |\n"
    )
    assert chart.roots.root[:2].tolist() == [0, 9]
    assert chart.roots.start[1] == 3.5 * chart.song.division
