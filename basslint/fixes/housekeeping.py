"""How is a note made whole: ended, taken out, or freed of its double?"""

from __future__ import annotations

from collections.abc import Mapping

from basslint.fixes.base import fixer, removal, retime
from basslint.fixes.edits import Fix
from basslint.hear.chart import Chart
from basslint.hear.form.bars import bar_of_onset
from basslint.hear.slides.voice import EMPTY_S
from basslint.readings.any_notes import doubled_row


@fixer("end-note", of="note", does="ends the note at the next one of its part, or at its bar's end")
def end_note(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """End a note that rings on at the next one of its part, else at the bar line.

    Safe where that next note shows where it must end; by ear at the bar line.
    """
    note = int(chart.pitched_rows[row])
    notes, grid = chart.notes, chart.song.grid
    after = int(notes.end[note])
    bar = int(bar_of_onset(notes.start[note : note + 1], grid)[0])
    bar_end = int(grid.start[bar + 1])
    followed = bool(((notes.part == notes.part[note]) & (notes.start == after)).any())
    if after <= bar_end and followed:
        return Fix(
            "End it where the next note starts", "safe", (retime(chart, note, "end", after),)
        )
    return Fix("End it with its bar", "by-ear", (retime(chart, note, "end", bar_end),))


@fixer("take-out", of="note", does="takes the note out")
def take_out(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Take out a note without length.

    Safe, but by ear in a bass part: a one-shot may sound all the same.
    """
    note = int(chart.pitched_rows[row])
    bass = int(chart.song.notes.part[note]) in chart.parts.bass
    return Fix("Take the note out", "by-ear" if bass else "safe", (removal(chart, note),))


@fixer(
    "one-of-two",
    of="note",
    does="takes the double out, or ends the earlier note where the later one starts",
)
def one_of_two(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Take out the double of a note, or part the two in time.

    Safe: the pitch sounds from the same moment on as before, to within what can be heard.
    Of notes struck together the one that lasts longest stays: rows of one key are in order of
    their ends too (first opened, first closed), so each double but the last is taken out once.
    """
    before = int(doubled_row(chart)[row])
    if before < 0:
        return None
    notes = chart.song.notes
    later, earlier = int(chart.pitched_rows[row]), int(chart.pitched_rows[before])
    if notes.start[earlier] == notes.start[later]:
        return Fix("Take the double out", "safe", (removal(chart, earlier),))
    seconds = chart.song.tempo.seconds
    if seconds(notes.start[later]) - seconds(notes.start[earlier]) < EMPTY_S:
        shorter = earlier if notes.end[earlier] <= notes.end[later] else later
        return Fix("Take the double out", "safe", (removal(chart, shorter),))
    edit = retime(chart, earlier, "end", int(notes.start[later]))
    return Fix("End the first where the second starts", "safe", (edit,))
