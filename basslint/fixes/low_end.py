"""How is the low end put right: into a register that carries, onto the kick?"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from basslint.fixes.base import fixer, repitch, retime
from basslint.fixes.edits import Fix
from basslint.fixes.line import lines_of
from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.readings.kicks import first_with_feel, kick_at
from basslint.readings.notes import low_as_a_whole
from basslint.readings.octaves import usual_octave_away
from basslint.theory.acoustics import CARRIED_HZ
from basslint.theory.general_midi import HIGHEST_KEY
from basslint.theory.tuning import frequency
from basslint.util.columns import median

_WRITTEN_LOW = 0.5  # share of a part below what systems sound: it is written low as a whole …
_FEWEST_LOW = 3  # … and so many notes: fewer are slips


def _by_octaves(chart: Chart, row: int, way: int, fits: float) -> Fix | None:
    """Shift a bass note by octaves, up (1) or down (−1), to where its frequency passes ``fits``.

    None where that would lie below what systems sound.
    """
    bass = chart.bass
    count = _octaves(chart, int(bass.part[row]), way, fits).get(row, 0)
    written = int(chart.sounding.written[row])
    key = written + 12 * way * count
    if not count or not 0 <= key <= HIGHEST_KEY:
        return None
    name = chart.note_name(written, int(bass.start[row]))
    far = "an octave" if count == 1 else f"{count} octaves"
    title = f"Move {name} {far} {'up' if way > 0 else 'down'}"
    return Fix(title, "by-ear", (repitch(chart, int(chart.bass_rows[row]), key),))


def _octaves(chart: Chart, part: int, way: int, fits: float) -> dict[int, int]:
    """By how many octaves each note of a part that does not pass ``fits`` is moved, by its row.

    Notes that follow one another there are a figure, and move alike, so that it keeps its shape;
    where no octave carries all of them, each goes by itself.
    """
    known, asked = _moved_by_octaves(chart), (part, way, fits)
    if asked not in known:
        line = lines_of(chart)[part]
        hertz = np.array([frequency(p) for p in line.pitch.tolist()])
        moves: dict[int, int] = {}
        beyond = np.flatnonzero(way * (hertz - fits) < 0)
        for figure in np.split(beyond, np.flatnonzero(np.diff(beyond) > 1) + 1):
            together = _best_octave(chart, part, line.pitch[figure], way, fits)
            for note in figure.tolist():
                alone = line.pitch[note : note + 1]
                octaves = together or _best_octave(chart, part, alone, way, fits)
                moves[int(line.rows[note])] = octaves
        known[asked] = moves
    return known[asked]


def _best_octave(chart: Chart, part: int, pitch: NDArray[np.int16], way: int, fits: float) -> int:
    """How many octaves bring some pitches to where they pass ``fits``; 0 where none do.

    Rather to within an octave of the part's middle, then to where it plays them most often, then
    near the middle, then low.
    """
    middle, played = _registers(chart)[part]
    best, least = 0, (np.inf, np.inf, np.inf, np.inf)
    for count in range(1, 1 + 128 // 12):
        there = pitch.astype(int) + 12 * way * count
        hertz = frequency(there)
        if there.min() < 0 or there.max() > HIGHEST_KEY or hertz.min() < CARRIED_HZ:
            continue
        if (way * (hertz - fits) < 0).any():
            continue
        away = np.abs(there - middle)
        far, used = float((away > 12).sum()), float(played[there].sum())
        cost = (far, -used, float(away.sum()), way * float(count))
        if cost < least:
            best, least = count, cost
    return best


@once_per_chart
def _moved_by_octaves(chart: Chart) -> dict[tuple[int, int, float], dict[int, int]]:
    """What `_octaves` has answered, by what was asked."""
    return {}


@once_per_chart
def _registers(chart: Chart) -> dict[int, tuple[float, NDArray[np.intp]]]:
    """The median pitch of every bass part, and how often it plays each pitch, [128]."""
    parts = chart.bass.parts
    lines = {part: chart.bass.pitch[chart.bass.part == part] for part in parts}
    return {
        part: (float(median(line)), np.bincount(line, minlength=128))
        for part, line in lines.items()
    }


@fixer(
    "note-octave-up",
    of="bass-note",
    does="moves the note up to the octave above the page's lowest_hz that its part plays most",
)
def octave_up(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a note up by octaves; a part that lies too low as a whole moves as one.

    By ear: the line's shape changes.
    """
    lowest = parameters.get("lowest_hz", 0.0)
    return _whole_part_up(chart, row, lowest) or _by_octaves(chart, row, 1, lowest)


def _whole_part_up(chart: Chart, row: int, lowest_hz: float) -> Fix | None:
    """All of a note's part so many octaves up as bring its middle tone above ``lowest_hz``.

    Built once for a part, not for each of its notes.
    """
    known, as_a_whole = _parts_up(chart), bool(low_as_a_whole(chart)[row])
    asked = int(chart.bass.part[row]), as_a_whole, lowest_hz
    if asked not in known:
        known[asked] = _part_up(chart, *asked)
    return known[asked]


@once_per_chart
def _parts_up(chart: Chart) -> dict[tuple[int, bool, float], Fix | None]:
    """What `_part_up` has answered, by what was asked."""
    return {}


def _part_up(chart: Chart, part: int, as_a_whole: bool, lowest_hz: float) -> Fix | None:
    """A part so many octaves up, if it is low ``as_a_whole`` or too many of its notes are low."""
    mine = np.flatnonzero(chart.bass.part == part)
    hertz = [frequency(p) for p in chart.bass.pitch[mine].tolist()]
    low = sum(f < lowest_hz for f in hertz)
    if not as_a_whole and low < max(_FEWEST_LOW, _WRITTEN_LOW * len(hertz)):
        return None
    octaves = max(1, math.ceil(math.log2(lowest_hz / float(median(np.array(hertz))))))
    written = chart.song.notes.pitch[chart.bass_rows[mine]]
    if int(written.max()) + 12 * octaves > HIGHEST_KEY:
        return None
    edits = tuple(
        repitch(chart, note, int(chart.song.notes.pitch[note]) + 12 * octaves)
        for note in chart.bass_rows[mine].tolist()
    )
    name = chart.song.parts[part].name
    far = "an octave" if octaves == 1 else f"{octaves} octaves"
    return Fix(f"Move all of {name} {far} up", "by-ear", edits)


@fixer(
    "note-octave-down",
    of="bass-note",
    does="moves the note down to the octave below the page's highest_hz that its part plays most",
)
def octave_down(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a note down by octaves, by ear: the line's shape changes."""
    return _by_octaves(chart, row, -1, parameters.get("highest_hz", float("inf")))


@fixer(
    "note-to-usual-octave",
    of="bass-note",
    does="moves the note to the octave in which its part has it elsewhere",
)
def to_usual_octave(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move a note by octaves, by ear: a line may leap for once."""
    away, written = int(usual_octave_away(chart)[row]), int(chart.sounding.written[row])
    if not away or not 0 <= written + away <= HIGHEST_KEY:
        return None
    tick = int(chart.bass.start[row])
    title = f"Move {chart.note_name(written, tick)} to {chart.note_name(written + away, tick)}"
    return Fix(title, "by-ear", (repitch(chart, int(chart.bass_rows[row]), written + away),))


@fixer("onto-kick", of="bass-note", does="moves the start of the note onto the nearest kick")
def onto_kick(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Start a note with the nearest kick, by ear: it may be the kick that is late.

    None where the note would end before it starts, and where it keeps the way in which its part
    usually lies to the kick: that is a feel.
    """
    if first_with_feel(chart)[row]:
        return None
    tick = kick_at(chart, int(chart.bass.start[row]))
    if tick is None or tick >= int(chart.bass.end[row]) or tick == int(chart.bass.start[row]):
        return None
    edit = retime(chart, int(chart.bass_rows[row]), "start", tick)
    return Fix("Start the note on the kick", "by-ear", (edit,))
