"""What is each row of a strip called, and how wide is the gutter that holds every name?"""

from __future__ import annotations

from basslint.hear.chart import Chart
from basslint.report.drawing.focus import Focus
from basslint.report.drawing.look import Look
from basslint.theory.general_midi import DRUM_NAMES
from basslint.theory.names import pitch_name
from basslint.util.columns import distinct
from basslint.util.records import record

_SIGNS = 3  # columns in front of a name: as written, as mended, a space


@record
class Labels:
    """The names of the rows of one strip."""

    chart: Chart
    focus: Focus
    look: Look

    @property
    def drums(self) -> bool:
        """Whether rows are drums, not pitches."""
        return self.focus.part in self.chart.parts.drums

    def name(self, pitch: int) -> str:
        """The pitch as the key spells it, or the drum of General MIDI at that key."""
        if self.drums:
            return DRUM_NAMES.get(pitch, f"key {pitch}")
        return pitch_name(pitch, self.chart.spelling_at(self.focus.start), self.look.middle_c)

    def gutter(self) -> int:
        """Columns left of the cells: signs, the longest name and a space.

        What stands in view depends on this width, so every drum that the part plays is counted.
        """
        names = ["velocity" if self.focus.loudness else "phrase"]  # no pitch has a longer one
        if self.drums:
            notes = self.chart.song.notes
            names += map(self.name, distinct(notes.pitch[notes.part == self.focus.part]).tolist())
            names += [self.name(bar.pitch) for bar in self.focus.mended]
        return _SIGNS + max(map(len, names)) + 1
