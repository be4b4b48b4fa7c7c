"""Strips: where the cells of a drawing stand, and what they say without colour.

Columns are checked against the beat: at four columns a beat, beat b of a bar stands 4·(b − 1)
columns after the bar's first. Everything else is layout of our own.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from made_roots import made_roots
from report_cases import (
    BAR,
    BASS,
    CHANNEL_BASS,
    DIVISION,
    E1,
    FS1,
    bend_song,
    chart_of,
    finding,
    midi_bytes,
    overlap_song,
    plain_line,
    roll_song,
    slides_of,
    wrong_note_song,
    wrong_notes,
)
from strips import WIDE, strip

from basslint.fixes.edits import Edit, Fix
from basslint.report.drawing import marks
from basslint.report.drawing.look import Look, legend
from basslint.report.drawing.song_map import song_map
from basslint.report.drawing.strip import finding_strip, stretch_strip
from basslint.report.drawing.window import choose


def test_a_wrong_note_is_crossed_and_its_correction_stands_below_it():
    chart = wrong_note_song()
    lines, _ = strip(chart, wrong_notes(chart)[0])
    assert lines["bar"][0].split() == ["4", "5", "6", "7"]
    bar_5 = lines["bar"][0].index("5")
    assert lines["beat"][0][bar_5 : bar_5 + 16] == "1   2   3   4   "
    assert lines["root"][0][bar_5 : bar_5 + 2] == "Em"
    written, gutter = lines["F#1"]
    assert gutter.strip() == "× F#1"
    assert written[bar_5 : bar_5 + 9] == "×▒▒▒▒▒▒▒ "  # two beats of four columns
    mended, gutter = lines["E1"]
    assert gutter.strip() == "◇ E1"
    assert mended[bar_5 : bar_5 + 16] == "◇░░░░░░░▐███████"


def test_only_the_finding_s_own_copy_of_a_fault_is_marked():
    chart = wrong_note_song()
    lines, _ = strip(chart, wrong_notes(chart)[1])
    assert lines["bar"][0].split()[0] == "12"
    assert lines["F#1"][0].count("×") == 1


def test_without_unicode_every_mark_has_an_ascii_stand_in_in_the_same_column():
    for chart, found in (overlap_song(), bend_song(), roll_song()):
        signs = finding_strip(chart, found, WIDE)
        plain = finding_strip(chart, found, Look(80, unicode=False))
        assert all(r.text.isascii() for r in plain)
        for a, b in zip(signs, plain, strict=True):
            assert [c == " " for c in a.text] == [c == " " for c in b.text]
    assert all(words.isascii() for words in legend(Look(unicode=False)))


@pytest.mark.parametrize(
    "mark",
    [v for v in vars(marks).values() if isinstance(v, marks.Mark)]
    + [*marks.LEVEL_MARKS.values(), *marks.ROLE_MARKS.values()],
)
def test_a_mark_and_its_stand_in_take_one_column_and_have_a_style(mark):
    assert len(mark.sign) == len(mark.plain) == 1
    assert mark.plain.isascii() and mark.word
    assert mark.style in marks.STYLES


def test_levels_are_told_apart_without_colour():
    for unicode in (True, False):
        drawn = [m.drawn(unicode) for m in marks.LEVEL_MARKS.values()]
        assert len(set(drawn)) == 3


def test_an_overlap_is_drawn_as_a_slope_from_its_start_to_its_landing():
    chart, found = overlap_song()
    lines, _ = strip(chart, found)
    beat_3 = lines["bar"][0].index("5") + 8
    slope = {label: line.find("╱") for label, (line, _) in lines.items() if "╱" in line}
    assert list(slope) == ["A#1", "A1", "G#1", "G1", "F#1", "F1"]
    assert set(slope.values()) <= {beat_3, beat_3 + 1}
    assert lines["A#1"][0][beat_3 : beat_3 + 3] == " ╱▒"  # not heard there before it lands
    assert lines["E1"][0][beat_3 - 8 : beat_3 + 2] == "▐████████ "  # overlaps by a column
    assert lines["B1"][1].strip() == "◇ B1"


def test_a_bend_leaves_the_row_of_its_note_and_sounds_on_where_it_lands():
    chart, found = bend_song()
    lines, _ = strip(chart, found)
    bar_5 = lines["bar"][0].index("5")
    assert lines["E1"][0][bar_5 : bar_5 + 16].rstrip("┊ ") == "▐████"  # one beat, then it leaves
    assert lines["F#1"][1].strip() == "× F#1"
    assert "▒" * 8 in lines["F#1"][0][bar_5 + 7 : bar_5 + 16]
    assert lines["G1"][1].strip() == "◇ G1"  # the edits scale 2.5 semitones to 3
    assert "░" * 6 in lines["G1"][0]


def test_a_falling_slide_slopes_down():
    line = [n for n in plain_line(16) if not 16.0 <= n[0] < 20.0]
    chart = chart_of(midi_bytes([*line, (16.0, 2.25, 40, 100), (18.0, 2.0, E1, 100)]))
    notes = chart.song.notes
    start = 18 * DIVISION
    landing = int(np.flatnonzero((notes.pitch == E1) & (notes.start == start))[0])
    chart.slides = slides_of(
        [{"note": landing, "start": start, "land": start + 480, "origin": 40.0, "target": 28.0}]
    )
    text = "\n".join(r.text for r in stretch_strip(chart, 1, 16 * DIVISION, 20 * DIVISION, WIDE))
    assert "╲" in text and "╱" not in text


def test_velocities_are_drawn_before_and_after_where_the_fix_is_about_them():
    chart, found = roll_song()
    rows = finding_strip(chart, found, WIDE)
    written, mended = [r.text for r in rows if "velocity" in r.text]
    assert written.strip().startswith("×") and mended.strip().startswith("◇")
    before = [marks.STEPS[0].index(c) for c in written.split()[-1]]
    after = [marks.STEPS[0].index(c) for c in mended.split()[-1]]
    assert len(before) == len(after) == 12
    assert len(set(before)) == 1
    assert after == sorted(after) and after[0] < after[-1]


def test_hits_too_fast_for_a_column_each_are_shown_as_several():
    roll = [(20.0 + k / 32, 1 / 32, E1, 100) for k in range(32)]
    chart = chart_of(midi_bytes([*plain_line(5), *roll], 8))
    rows = stretch_strip(chart, 1, 16 * DIVISION, 24 * DIVISION, WIDE)
    assert "║║║║" in "\n".join(r.text for r in rows)


def test_a_song_wide_finding_has_no_strip():
    chart = wrong_note_song()
    assert finding_strip(chart, finding(chart, 0, 1, None, part=None), WIDE) == ()


def test_a_phrase_that_begins_in_view_is_shown_and_no_other():
    chart = wrong_note_song(24)  # phrases of eight bars
    near = stretch_strip(chart, 1, 7 * BAR, 8 * BAR, WIDE)
    far = stretch_strip(chart, 1, 3 * BAR, 4 * BAR, WIDE)
    assert "┣━ B" in "\n".join(r.text for r in near)
    assert not any("phrase" in r.text for r in far)


def test_drums_are_named_by_their_general_midi_keys():
    chart = wrong_note_song()
    text = "\n".join(r.text for r in stretch_strip(chart, 2, 0, BAR, WIDE))
    assert "kick ▐" in text and "snare" in text  # keys 36 and 38, General MIDI 1


@pytest.mark.parametrize("width", [40, 80])
@pytest.mark.parametrize("late", [20, -20])
def test_the_kick_stands_below_a_note_that_is_found_off_it(width, late):
    """20 ticks of 480 off the kick of bar 5, and no fix: the two are still drawn apart."""
    start = 4 * BAR + late
    line = [n for n in plain_line(8) if not 15.0 < n[0] < 18.0]
    chart = chart_of(midi_bytes([*line, (start / DIVISION, 0.5, FS1, 100)], 8))
    found = finding(chart, start, start + 240, FS1, fix=None, readings=(("kick_gap", 20.8),))
    rows = [r.text for r in finding_strip(chart, found, Look(width))]
    assert rows[-1].split()[0] == "kick"
    gutter = rows[-1].index("kick") + 5
    written = next(row for row in rows if "F#1" in row)
    kicks = {at for at, sign in enumerate(rows[-1]) if sign == "▐"}
    assert written.index("×", gutter) - late // abs(late) in kicks
    other = finding_strip(chart, replace(found, readings=()), Look(width))
    assert not any("kick" in r.text for r in other)


@pytest.mark.parametrize("width", [34, 36, 40, 78, 80])
def test_rows_of_drums_stand_under_the_ruler_however_long_their_names(width):
    """Floor tom, high tom, open hat and a key without a name, one a beat; the fix moves all four
    by a beat, so that each row carries both signs."""
    keys = {41: "floor tom", 50: "high tom", 46: "openhat", 101: "key 101"}
    hits = [(16.0 + b, 0.25, key, 100) for b, key in enumerate(keys)]
    chart = chart_of(midi_bytes([*plain_line(8), *hits], 8))
    chart.parts.drums, chart.parts.bass = (1,), ()
    edits = tuple(
        Edit(
            do="move",
            track=BASS,
            channel=CHANNEL_BASS,
            tick=4 * BAR + b * DIVISION,
            end_tick=4 * BAR + b * DIVISION + DIVISION // 4,
            before=4 * BAR + b * DIVISION,
            after=4 * BAR + (b + 1) * DIVISION,
            pitch=key,
        )
        for b, key in enumerate(keys)
    )
    found = finding(chart, 4 * BAR, 5 * BAR, 41, family="fills", fix=Fix("", "by-ear", edits))
    rows = [r.text for r in finding_strip(chart, found, Look(width))]
    assert all(len(row) <= width for row in rows)
    beat = next(row for row in rows if "beat" in row)
    first = next(row for row in rows if "bar" in row).index("5")
    columns = [first + beat[first:].index(str(b)) for b in (1, 2, 3, 4)]
    seen = {name: next(row for row in rows if name in row) for name in keys.values()}
    for name, column in zip(keys.values(), columns, strict=True):
        label = seen[name].index(name) + len(name)
        assert seen[name][:label].strip() == f"×◇ {name}"
        assert label + seen[name][label:].index("×") == column


def test_middle_c_moves_the_names_alone():
    chart = wrong_note_song()
    found = wrong_notes(chart)[0]
    usual = [r.text for r in finding_strip(chart, found, WIDE)]
    moved = [r.text for r in finding_strip(chart, found, Look(80, middle_c=3))]
    assert [t.replace("1 ", "0 ", 1) for t in usual[3:]] == moved[3:]


def test_many_pitches_leave_the_ones_that_matter():
    line = [(b / 2, 0.5, 24 + b % 24, 100) for b in range(64)]
    chart = chart_of(midi_bytes(line))
    found = finding(chart, 4 * BAR, 4 * BAR + 240, 24 + 32 % 24)
    rows = finding_strip(chart, found, WIDE)
    assert len(rows) <= 3 + 1 + 9
    assert sum("×" in r.text for r in rows) == 1 and sum("◇" in r.text for r in rows) == 1


@given(
    start=st.integers(0, 15 * BAR),
    length=st.integers(1, 10 * BAR),
    finest=st.integers(1, 4 * BAR),
    width=st.integers(12, 200),
)
@example(start=4 * BAR - 2, length=2, finest=2, width=67)
@example(start=4 * BAR - 2, length=2, finest=2, width=24)
def test_a_window_shows_where_a_stretch_begins_and_keeps_to_its_width(start, length, finest, width):
    grid = wrong_note_song().song.grid
    end = min(start + length, int(grid.start[-1]))
    window = choose(grid, start, end, finest, width)
    assert window.width <= width
    assert window.start <= start < window.end
    assert window.column(start) < window.width  # what begins a hair before a bar line, too
    assert window.start in grid.beats
    assert window.column(window.end) <= width


@given(width=st.integers(24, 120), bar=st.integers(0, 15))
def test_no_row_is_wider_than_asked(width, bar):
    chart = wrong_note_song()
    rows = stretch_strip(chart, 1, bar * BAR, (bar + 1) * BAR, Look(width))
    assert all(len(r.text) <= width for r in rows)
    assert len(rows) >= 4


@pytest.mark.parametrize(
    ("name", "root", "room", "expected"),
    [
        ("Csus4", "C", 5, "Csus4"),
        ("Csus4", "C", 4, "C…"),
        ("Csus4", "C", 2, "C…"),
        ("Csus4", "C", 1, ""),  # "C" would be C major
        ("Dm", "D", 2, "Dm"),
        ("Dm", "D", 1, ""),
        ("F#", "F#", 1, ""),  # "F" would be another root
        ("F#m7", "F#", 3, "F#…"),
        ("D", "D", 1, "D"),
        ("?", "", 1, "?"),
    ],
)
def test_a_chord_without_room_is_never_told_as_another(name, root, room, expected):
    assert marks.fitted(name, root, room, True) == expected
    plain = marks.fitted(name, root, room, False)
    assert plain.isascii() and len(plain) == len(expected)


@pytest.mark.parametrize("width", range(20, 90, 3))
def test_no_strip_and_no_map_cuts_a_chord_to_another_one(width):
    """Csus4 and Dm in turn, four of each in a bar: the rows hold these names, or a mark of more."""
    chart = wrong_note_song()
    start = np.arange(0, 16 * BAR, BAR // 4)
    kinds, times = ["suspended-4", "minor"], len(start) // 2
    chart.roots = made_roots(start, start + BAR // 4, [0, 2] * times, kinds * times)
    whole = {
        marks.chord_name(r, q, chart.spelling_at(0)) for r, q in zip((0, 2), kinds, strict=True)
    }
    look = Look(width)
    rows = list(finding_strip(chart, wrong_notes(chart)[0], look))
    rows += [row for system in song_map(chart, look) for row in system]
    told = [r.text.split("root", 1)[1] for r in rows if "root" in r.text]
    assert told
    for name in re.findall(r"[A-G][^A-G ]*", " ".join(told)):
        assert name in whole | {"C…", "D…"}
