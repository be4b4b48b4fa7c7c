"""What does an edit do to the song, in a musician's words?"""

from __future__ import annotations

from collections.abc import Sequence

from basslint.fixes.edits import Edit
from basslint.hear.chart import Chart
from basslint.report.drawing import marks
from basslint.theory.general_midi import DRUM_NAMES
from basslint.theory.names import pitch_name

_MOST = 6  # edits told one by one; a longer row is told by its ends


def edits_in_words(edits: Sequence[Edit], chart: Chart, middle_c: int) -> str:
    """The edits of one fix, such as ``F#1 becomes F1 at bar 2, beat 1``."""
    if len(edits) <= _MOST:
        return "; ".join(_edit(edit, chart, middle_c) for edit in edits)
    first, last = [_edit(edit, chart, middle_c) for edit in edits[:3]], edits[-1]
    return "; ".join((*first, f"… {len(edits) - 4} more …", _edit(last, chart, middle_c)))


def _edit(edit: Edit, chart: Chart, middle_c: int) -> str:
    drums = [chart.song.parts[i] for i in chart.parts.drums]
    drummed = (edit.track, edit.channel) in [(part.track, part.channel) for part in drums]

    def named(pitch: int | None) -> str:
        if pitch is None:
            return "nothing"
        if drummed:
            return DRUM_NAMES.get(pitch, f"key {pitch}")
        return pitch_name(pitch, chart.spelling_at(edit.tick), middle_c)

    def place(tick: int | None) -> str:
        if tick is None:
            return "nowhere"
        grid = chart.song.grid
        bar = int(grid.bar_of(tick))
        return marks.spot(bar + 1, float(grid.beat_of(tick)), int(grid.numerator[bar]))

    at = f"at {place(edit.tick)}"
    if edit.do == "pitch":
        return f"{named(edit.before)} becomes {named(edit.after)} {at}"
    if edit.do == "insert":
        return f"{named(edit.after)} comes in {at}"
    if edit.do == "remove":
        return f"{named(edit.before)} goes {at}"
    if edit.do == "move":
        return f"{named(edit.pitch)} moves to {place(edit.after)} from {place(edit.before)}"
    if edit.do in ("start", "end"):
        what = {"start": "begins", "end": "ends"}[edit.do]
        return f"{named(edit.pitch)} {what} at {place(edit.after)} instead of {place(edit.before)}"
    if edit.do == "velocity":
        return f"velocity {edit.before} becomes {edit.after} {at}"
    before = "none" if edit.before is None else str(edit.before)
    after = "none" if edit.after is None else str(edit.after)
    return f"bend {before} becomes {after} {at}"
