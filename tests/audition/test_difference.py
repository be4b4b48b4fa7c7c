"""What a fix changes in what is heard, and over which bars it is listened to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from beats import heard

from basslint.audition.difference import MOST_BARS, difference, differences, stretch_of
from basslint.audition.tones import bass_tones, strokes_within, tones_within
from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.judging.results import Finding
from basslint.rulebook.loader import read_book

KEYS = "tempo 140\ndecay 900ms\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
PLAIN = "A1:3.5 | F1:3.5 | C2:3.5 | G1:3.5"
WRONG = KEYS + f"sub | {PLAIN} || A1:3.5 | F#1:3.5 | C2:3.5 | G1:3.5 || {PLAIN} |*2"
FAR = KEYS + f"sub | {PLAIN} || A1:3.5 | F1:3 F1:1/6x6 | C2:3.5 | G1:3.5 || {PLAIN} |*2"
WHEEL = KEYS + (
    "sub wheel 12\nsub | A1:1 A1:1 A1:1 A1:1 |"
    "\nsub bend | 1:0 1.5:+2 2:0 2.5:+1 3:0 3.5:+2 3.7:0 4:0 |"
)


def found(text: str, rule: str) -> tuple[Chart, Finding]:
    chart = heard(text)
    (finding,) = [f for f in judge(chart, read_book()).findings if f.rule == rule]
    return chart, finding


def tones_of(chart: Chart) -> list:
    return bass_tones(chart, 0, int(chart.song.grid.start[-1]))


def test_a_wrong_note_gives_way_to_the_right_one() -> None:
    chart, finding = found(WRONG, "off-root")
    (change,) = differences(chart, tones_of(chart), [finding])
    assert [float(t.pitches[0]) for t in change.lost] == [30]
    assert [float(t.pitches[0]) for t in change.gained] == [29]
    assert change.gained[0].start == pytest.approx(change.lost[0].start)
    assert not change.silent and not change.struck
    stretch = stretch_of(chart, finding)
    assert (stretch.first, stretch.last) == (5, 7)


def test_the_bars_reach_to_where_the_fix_lands() -> None:
    """The fill of bar 6 belongs into bar 8: both are heard, and what comes before and after."""
    chart, finding = found(FAR, "fill-off-phrase")
    ticks = [e.after for e in finding.fix.edits if e.do == "move" and e.after]
    landing = int(chart.song.grid.bar_of(max(ticks))) + 1
    assert landing > finding.where.bar
    stretch = stretch_of(chart, finding)
    assert stretch.first == finding.where.bar - 1
    assert stretch.last == landing + 1 <= stretch.first + MOST_BARS
    (change,) = differences(chart, tones_of(chart), [finding])
    assert len(change.lost) >= 6 and len(change.gained) >= 6


def test_of_a_fault_in_several_places_the_first_is_heard() -> None:
    """C sharp over a tune alone in bars 2, 4, 6 and 8: one finding, and bars 1 to 3 of it."""
    lead = "lead | A4:1 C5:1 E5:2 | F5:1 E5:1 C5:2 | D5:1 C5:1 B4:2 | A4:4 |*2\n"
    line = "sub | A1:3.5 .:.5 | E1:2 C#2:1.5 .:.5 |*4"
    chart, finding = found(f"tempo 140\nkey A minor\n{lead}{line}", "outside-scale")
    assert [at.bar for at in finding.places] == [2, 4, 6, 8]
    stretch = stretch_of(chart, finding)
    assert (stretch.first, stretch.last) == (1, 3)
    (change,) = differences(chart, tones_of(chart), [finding])
    assert len(change.lost) == len(change.gained) == 4


def test_fixes_written_together_are_told_apart() -> None:
    """Two wrong notes far apart are mended in one copy; each finding gets its own note back."""
    twice = "A1:3.5 | F#1:3.5 | C2:3.5 | G1:3.5 || {0} || A1:3.5 | F1:3.5 | C2:3.5 | G#1:3.5"
    text = KEYS + f"sub | {PLAIN} || {twice.format(PLAIN)} |"
    chart = heard(text)
    wrong = [f for f in judge(chart, read_book()).findings if f.rule == "off-root"]
    assert len(wrong) == 2
    for finding, change in zip(wrong, differences(chart, tones_of(chart), wrong), strict=True):
        (lost,), (gained,) = change.lost, change.gained
        assert lost.pitches[0] == finding.pitch != gained.pitches[0]
        assert lost.start == pytest.approx(finding.where.time_s)


def test_a_finding_without_a_fix_changes_nothing() -> None:
    chart, finding = found(WRONG, "off-root")
    assert differences(chart, tones_of(chart), [replace(finding, fix=None)]) == [None]


def test_a_song_does_not_differ_from_itself() -> None:
    chart = heard(WRONG)
    assert not difference(chart, tones_of(chart), heard(WRONG))


def test_drums_that_move_are_told_as_notes() -> None:
    one = heard(KEYS + f"sub | {PLAIN} |*4\nkick | C2:2 C2:2 |*16")
    other = heard(KEYS + f"sub | {PLAIN} |*4\nkick | C2:2 C2:2 || C2:1 C2:3 || C2:2 C2:2 |*14")
    change = difference(one, tones_of(one), other)
    assert not change.lost and not change.gained
    gone = one.song.notes.take(np.array(change.silent))
    assert 1920 + 960 in gone.start.tolist()
    assert any(start == 1920 + 480 for start, *_ in change.struck)


@pytest.mark.parametrize("part", ["keys", "sub"])
def test_one_of_two_alike_is_told_when_it_is_taken_out(part: str) -> None:
    """Of two notes of one place and pitch the second goes: what is left sounds less loud."""
    keys = "A3+C4+C4+E4:4" if part == "keys" else "A3+C4+E4:4"
    sub = "A1+A1:3.5" if part == "sub" else "A1:3.5"
    once = heard("tempo 140\nkeys | A3+C4+E4:4 |*2\nsub | A1:3.5 |*2")
    twice = heard(f"tempo 140\nkeys | {keys} | A3+C4+E4:4 |\nsub | {sub} | A1:3.5 |")
    change = difference(twice, tones_of(twice), once)
    assert (len(change.lost), len(change.silent)) == ((1, 0) if part == "sub" else (0, 1))
    assert not change.gained and not change.struck
    back = difference(once, tones_of(once), twice)
    assert (len(back.gained), len(back.struck)) == ((1, 0) if part == "sub" else (0, 1))


def test_what_a_stroke_sounds_of_is_worked_out_once() -> None:
    """A page asks it of every stroke of every copy, to count them and to tell them apart."""
    chart = heard(WHEEL)
    stretch = [(0, chart.song.end_tick)]
    strokes = strokes_within(chart, stretch)
    again = [tone.stroke for tone in tones_within(chart, stretch, frozenset())]
    assert len(strokes) == len(set(strokes)) == 4
    assert all(one is other for one, other in zip(strokes, again, strict=True))
    assert set(strokes) == set(strokes_within(heard(WHEEL), stretch))
    other = heard(WHEEL.replace("3.7:0", "3.8:0"))
    assert len(set(strokes) & set(strokes_within(other, stretch))) == 3, "one bends otherwise"
