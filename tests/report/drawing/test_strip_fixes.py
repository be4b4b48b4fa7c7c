"""Strips: what a fix would change stands beside what is written, and is told apart from it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from report_cases import (
    BAR,
    BASS,
    CHANNEL_BASS,
    DIVISION,
    FS1,
    G1,
    bend_song,
    overlap_song,
    roll_song,
    wrong_note_song,
    wrong_notes,
)
from strips import WIDE, strip

from basslint.fixes.edits import Edit, Fix
from basslint.report.drawing import marks
from basslint.report.drawing.strip import finding_strip

START, END = 4 * BAR, 4 * BAR + 2 * DIVISION  # of the wrong note, F#1 on bar 5, beat 1


def change(do, before, after, pitch=None):
    """An edit of the wrong note."""
    return Edit(
        do=do, track=BASS, channel=CHANNEL_BASS, tick=START, end_tick=END, before=before,
        after=after, pitch=pitch,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("edit", "expected"),
    [
        # F#1 stands on bar 5, beat 1, for two beats: eight columns
        (("end", 18 * DIVISION, 17 * DIVISION), "▐███▒▒▒▒"),  # what stays, what goes
        (("end", 18 * DIVISION, 19 * DIVISION), "▐███████░░░░"),
        (("start", 16 * DIVISION, 17 * DIVISION), "×▒▒▒◇███"),
        (("move", 16 * DIVISION, 17 * DIVISION), "×▒▒▒◇███░░░░"),
        (("remove", FS1, None), "×▒▒▒▒▒▒▒"),
    ],
)
def test_what_stays_and_what_changes_of_one_note_are_told_apart(edit, expected):
    chart = wrong_note_song()
    fix = Fix("", "safe", (change(*edit, pitch=FS1),))
    found = replace(wrong_notes(chart)[0], fix=fix)
    lines, _ = strip(chart, found)
    bar_5 = lines["bar"][0].index("5")
    assert lines["F#1"][0][bar_5:].split("┊")[0].strip() == expected


def test_several_edits_of_one_note_are_drawn_as_one_change():
    """A note moved by a beat and set to another pitch stands in one new place, not in two."""
    chart = wrong_note_song()
    changes = (
        change("move", START, START + DIVISION, pitch=FS1),
        change("pitch", FS1, G1),
        change("end", END, START + DIVISION * 2, pitch=FS1),
    )
    lines, _ = strip(chart, replace(wrong_notes(chart)[0], fix=Fix("", "safe", changes)))
    bar_5 = lines["bar"][0].index("5")
    assert lines["G1"][0][bar_5 + 4 :].split("┊")[0].strip() == "◇░░░"
    assert lines["F#1"][0][bar_5:].split("┊")[0].strip() == "×▒▒▒▒▒▒▒"
    assert "".join(row for row, _ in lines.values()).count("◇") == 1


def test_a_note_that_ends_up_as_it_was_is_not_drawn_as_mended():
    chart = wrong_note_song()
    there_and_back = (change("pitch", FS1, G1), change("pitch", FS1, FS1))
    lines, _ = strip(chart, replace(wrong_notes(chart)[0], fix=Fix("", "safe", there_and_back)))
    assert "◇" not in "".join(row for row, _ in lines.values())


def test_a_shift_of_a_few_ticks_is_seen_from_near():
    chart = wrong_note_song()
    late = change("move", START, START + 20, pitch=FS1)  # ticks of 480
    lines, _ = strip(chart, replace(wrong_notes(chart)[0], fix=Fix("", "safe", (late,))))
    assert lines["F#1"][0].startswith("×◇█")


def test_every_fact_of_a_fix_shows_without_colour():
    """What is written and what would be are never told apart by style alone."""
    for chart, found in (overlap_song(), bend_song(), roll_song()):
        for row in finding_strip(chart, found, WIDE):
            for segment in row.segments[1:]:
                if segment.style in (marks.AS_WRITTEN.style, marks.AS_MENDED.style):
                    assert not set(segment.text) & set("█▐")


def test_edits_of_other_parts_are_not_drawn_into_this_one():
    chart = wrong_note_song()
    other = Edit(
        do="pitch", track=BASS + 1, channel=10, tick=4 * BAR, end_tick=5 * BAR, before=36, after=60
    )
    found = replace(wrong_notes(chart)[0], fix=Fix("", "safe", (other,)))
    assert "◇" not in "".join(r.text for r in finding_strip(chart, found, WIDE))


def test_a_fault_whose_change_is_too_small_to_be_seen_from_here_is_marked_all_the_same():
    """A tick of 480 less, where the finest strip has 24 columns a beat."""
    chart = wrong_note_song()
    cut = Fix("", "safe", (change("end", END, END - 1, pitch=FS1),))
    lines, _ = strip(chart, replace(wrong_notes(chart)[0], fix=cut))
    assert lines["F#1"][0].startswith("×██")


def test_of_a_finding_in_several_places_the_first_is_shown_from_near():
    """Fixes of all places reach over the song; the strip keeps to the bars of the first."""
    chart = wrong_note_song()
    (found, *_) = wrong_notes(chart)
    later = replace(found.where, tick=START + 12 * BAR, end_tick=END + 12 * BAR, bar=17)
    edits = [change("pitch", FS1, G1)]
    edits.append(replace(edits[0], tick=later.tick, end_tick=later.end_tick))
    fix = Fix("", "safe", tuple(edits))
    lines, _ = strip(chart, replace(found, fix=fix, also=(later,)))
    alone, _ = strip(chart, replace(found, fix=Fix("", "safe", tuple(edits[:1]))))
    assert lines == alone


def test_places_out_of_view_take_no_rows_from_the_one_that_is_shown():
    chart = wrong_note_song()
    (found, *_) = wrong_notes(chart)
    later = replace(found.where, tick=START + 12 * BAR, end_tick=END + 12 * BAR, bar=17)
    here = change("pitch", FS1, G1)
    far = replace(here, tick=later.tick, end_tick=later.end_tick)
    edits = [here, *(replace(far, after=60 + n, nth=n) for n in range(20))]
    lines, _ = strip(chart, replace(found, fix=Fix("", "safe", tuple(edits)), also=(later,)))
    assert "×" in lines["F#1"][0] and "◇" in lines["G1"][0]
