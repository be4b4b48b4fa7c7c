"""How is the low end put right: into a register that carries, onto the kick?"""

from __future__ import annotations

from collections.abc import Mapping

from basslint.charting import Chart
from basslint.findings import Fix
from basslint.fixes.base import fixer, repitch, retime
from basslint.names import frequency, pitch_name
from basslint.readings.against_parts import kick_at
from basslint.readings.kick_feel import first_with_feel


def _by_octaves(chart: Chart, row: int, way: int, fits: float) -> Fix | None:
    """Shift a bass note by octaves, up (1) or down (−1), until its frequency passes ``fits``."""
    now = pitch = int(chart.bass.pitch[row])
    while 0 <= pitch <= 127 and way * (frequency(pitch) - fits) < 0:
        pitch += 12 * way
    if not 0 <= pitch <= 127 or pitch == now:
        return None
    spelled = chart.spelling_at(int(chart.bass.start[row]))
    octaves = abs(pitch - now) // 12
    far = "an octave" if octaves == 1 else f"{octaves} octaves"
    title = f"Move {pitch_name(now, spelled)} {far} {'up' if way > 0 else 'down'}"
    return Fix(title, "by-ear", (repitch(chart, int(chart.bass_rows[row]), pitch),))


@fixer(
    "note-octave-up",
    of="bass-note",
    does="moves the note up by octaves until it lies above the page's lowest_hz",
)
def octave_up(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear: the line's shape changes."""
    return _by_octaves(chart, row, 1, parameters.get("lowest_hz", 0.0))


@fixer(
    "note-octave-down",
    of="bass-note",
    does="moves the note down by octaves until it lies below the page's highest_hz",
)
def octave_down(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear: the line's shape changes."""
    return _by_octaves(chart, row, -1, parameters.get("highest_hz", float("inf")))


@fixer("onto-kick", of="bass-note", does="moves the start of the note onto the nearest kick")
def onto_kick(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """By ear: it may be the kick that is late. None where the note would end before it starts.

    None either where it keeps the way its part usually lies to the kick: that is a feel.
    """
    if first_with_feel(chart)[row]:
        return None
    tick = kick_at(chart, int(chart.bass.start[row]))
    if tick is None or tick >= int(chart.bass.end[row]) or tick == int(chart.bass.start[row]):
        return None
    edit = retime(chart, int(chart.bass_rows[row]), "start", tick)
    return Fix("Start the note on the kick", "by-ear", (edit,))
