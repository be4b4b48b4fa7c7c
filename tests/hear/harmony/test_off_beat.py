"""Chords that are not struck on the beat, and chords with a colour of their own.

Tones of chords: Open Music Theory. Where a chord that is struck off the beat changes: common
practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from bass_lines import TPQ, song_of
from beats import heard, judged
from made_roots import made_roots

from basslint.hear.harmony.cover import chord_rows
from basslint.rulebook.loader import read_book
from basslint.theory.chords import QUALITIES

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


@pytest.mark.parametrize(
    ("keys", "felt"),
    [
        ("C4+E4+G4:3 .:1 | .:1.5 A3+C4+E4:2.5", 5.0),  # a stroke after beat 2 is felt from there
        ("C4+E4+G4:4~1 | .:1 F3+A3+C4:3", 5.0),  # the old chord sounds up to the stroke
        ("C4+E4+G4:3 .:1 | .:1 A3+C4+E4:3", 4.0),
        ("C4+E4+G4:3 .:1 | A3+C4+E4:4", 4.0),
    ],
)
def test_where_a_chord_is_felt_from(keys: str, felt: float) -> None:
    chart = heard(f"tempo 120\nkeys | {keys} |*4\n")
    (row,) = chart.root_at(np.array([7 * chart.song.division]))
    assert chart.roots.root[row] in (5, 9)
    assert chart.roots.since[row] / chart.song.division == felt


def test_a_third_on_the_beat_starts_the_chord_that_is_struck_after_it() -> None:
    text = "tempo 120\n" + STABS.format("A3+C4+E4", "F3+A3+C4")
    roots = "sub | A1:3.5 .:.5 | F1:3.5 .:.5 |*3"
    found = judged(f"{text}{roots} || A1:3.5 .:.5 | A1:.95 .:.05 A1:2.5 .:.5 |", BOOK).findings
    assert not [f for f in found if f.rule == "inverted-root" and f.where.bar < 8]
    inverted = judged(f"{text}sub | A1:3.5 .:.5 | C2:.95 .:3.05 || {roots[6:]}", BOOK).findings
    assert [(f.rule, f.where.bar) for f in inverted] == [("inverted-root", 2)]


def test_a_third_on_the_downbeat_starts_the_chord_of_a_waltz() -> None:
    waltz, loop = WALTZ.format("A3+C4+E4", "F3+A3+C4"), "A1:2.5 .:.5 | F1:2.5 .:.5"
    sub = f"sub | A1:2.5 .:.5 | C2:2.5 .:.5 || {loop} |*7"
    found = judged(f"tempo 120\n{waltz}{sub}", BOOK).findings
    assert [(f.rule, f.where.bar) for f in found] == [("inverted-root", 2)]


@pytest.mark.parametrize("late", [0.5, 0.53])
def test_an_eighth_after_the_change_by_hand_starts_with_the_chord(late: float) -> None:
    text = "tempo 120\nkeys | A3+C4+E4:4 | F3+A3+C4:4 |*4\nsub | A1:3.5 .:.5 | .:{} C2:{} .:.5 ||"
    rest = " A1:3.5 .:.5 | F1:3.5 .:.5 |*3"
    found = judged(text.format(late, 3.5 - late) + rest, BOOK).findings
    assert [(f.rule, f.where.bar) for f in found] == [("inverted-root", 2)]


def test_a_chord_is_felt_a_beat_before_its_stroke_at_most() -> None:
    """Three bars of a loop are silent once; F is no earlier for that."""
    keys = "keys | A3+C4+E4:4 |*4 | F3+A3+C4:4 |*4 | A3+C4+E4:4 |*4 | F3+A3+C4:4 |*4 |"
    keys += " A3+C4+E4:4 | .:4 |*3 | F3+A3+C4:4 |*4 | A3+C4+E4:4 |*4 | F3+A3+C4:4 |*4"
    roots = heard(f"tempo 120\n{keys}\n").roots
    assert (roots.since == roots.start).all()


@pytest.mark.parametrize(
    ("bass", "says"),
    [
        # chords struck on the beat change there, however soon they fall silent
        ("A1:1 F1:3~3.5 .:.5", "F1 comes 3 beats before the harmony"),
        ("G#1:3.5 .:.5 | F1:3.5 .:.5", "G#1 holds 3.5 beats under Am"),
    ],
)
def test_stabs_on_the_beat_are_no_freedom_for_the_bass(bass: str, says: str) -> None:
    keys = "keys | A3+C4+E4:.5 .:3.5 | F3+A3+C4:.5 .:3.5 |*4"
    rest = "A1:3.5 .:.5 | F1:3.5 .:.5 |*3"
    bars = bass if "|" in bass else bass.replace("~3.5 .:.5", "~3.5 | .:3.5 .:.5")
    found = judged(f"tempo 120\n{keys}\nsub | {bars} || {rest}", BOOK).findings
    assert [f.message for f in found if f.message.startswith(says)]


def test_an_early_bass_is_mended_onto_the_beat_that_the_chord_is_felt_from() -> None:
    waltz = WALTZ.format("A3+C4+E4", "F3+A3+C4")
    loop = "A1:2.5 .:.5 | F1:2.5 .:.5"
    sub = f"sub | {loop} | A1:1 F1:2~2.5 | .:2.5 .:.5 || {loop} |*6"
    (found,) = [f for f in judged(waltz + sub, BOOK).findings if f.rule == "late-change"]
    assert found.message == "F1 comes 2 beats before the harmony changes to its root."
    assert found.fix is not None
    assert {e.after for e in found.fix.edits} == {9 * 480}


@pytest.mark.parametrize("up", range(12))
def test_what_a_bass_note_belongs_to_does_not_hang_on_its_key(up: int) -> None:
    """A note in the silence before a chord, where no root was told before."""
    tick = np.array([0, 4 * TPQ, 8 * TPQ])
    since = [0, 3 * TPQ, 8 * TPQ]
    roots = made_roots(tick, tick + 4 * TPQ, [-1, (5 + up) % 12, -1], fit=1.0, since=since)
    notes = song_of([(3.0, 3.9, 33 + up)], 3).notes  # the third of F
    assert chord_rows(notes, roots, TPQ).tolist() == [1]


def test_a_chord_pushed_onto_the_last_eighth_is_heard_from_there() -> None:
    """C goes to Am an eighth before the bar line; its E and C sound on in both."""
    there = ".:3.5 A3+C4+E4:.5~4 | .:3.5 C4+E4+G4:.5~4"
    chart = heard(
        f"tempo 100\nkeys | C4+E4+G4:3.5 {there.removeprefix('.:3.5 ')} | {there} | {there} |\n"
    )
    assert chart.roots.root[:2].tolist() == [0, 9]
    assert chart.roots.start[1] == 3.5 * chart.song.division
