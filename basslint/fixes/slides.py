"""How is a slide mended in time: when it starts, how long its notes sound, when its bend rests?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from basslint.fixes.base import fixer, retime
from basslint.fixes.bends import centre_at, shift
from basslint.fixes.edits import Fix, FixKind
from basslint.hear.chart import Chart
from basslint.hear.slides.voice import EDGE_S, FOREVER, controllers_at
from basslint.readings.slid_notes import residual_bend
from basslint.readings.slides import glides_elsewhere, stroke_db
from basslint.theory.acoustics import STILL_HEARD_DB, T60_FALL_DB

_GRIDS = (1.0, 0.5, 1 / 3, 0.25, 1 / 6, 0.125)  # quarters: 1/4 to 1/32, triplets among them
_ON_GRID = 1 / 120  # of a quarter: as near counts as on the grid (rounding to ticks)
_OCTAVE = 12


@fixer(
    "land-earlier",
    of="slide",
    does="starts a slide earlier, on the line's grid, so that it lands while the sound is heard",
)
def land_earlier(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Start a slide early enough to land above the page's ``floor_db``, and no earlier.

    By ear, since it changes the rhythm.
    None where the sound is too short for any slide there: a longer sound is the cure then.
    """
    slides, tempo, decay = chart.slides, chart.song.tempo, chart.facts.decay_s
    if decay is None:
        return None
    fall = float(stroke_db(chart)[row]) - parameters.get("floor_db", STILL_HEARD_DB)
    onset, start, land = (int(x[row]) for x in (slides.onset, slides.start, slides.land))
    glide = tempo.seconds(land) - tempo.seconds(start)
    latest = tempo.seconds(onset) + decay * fall / T60_FALL_DB - glide
    return _start_by(chart, row, _tick(chart, latest))


def _tick(chart: Chart, seconds: float) -> int:
    """A moment in ticks, rounded down."""
    tick = chart.song.tempo.ticks(seconds)
    return tick if chart.song.tempo.seconds(tick) <= seconds else tick - 1


def _start_by(chart: Chart, row: int, latest: int) -> Fix | None:
    """Start a slide at ``latest`` or before, on its own grid where it stands on one."""
    slides = chart.slides
    start = int(slides.start[row])
    least = _free_from(chart, row)
    tick = _grid_before(chart, start, latest, least)
    if tick is None or tick >= start:
        return None
    grid = chart.song.grid
    beat = f"{float(grid.beat_of(tick)):.2f}".rstrip("0").rstrip(".")
    title = f"Start the slide at bar {int(grid.bar_of(tick)) + 1}, beat {beat}"
    note, source = int(slides.note[row]), int(slides.source_note[row])
    if slides.how[row] == "bend":
        edits = shift(chart, row, start - tick)
        return Fix(title, "by-ear", edits) if edits else None
    if int(chart.song.notes.start[note]) != start:  # it glides back when the other note ends
        return Fix(title, "by-ear", (retime(chart, source, "end", tick),))
    if slides.how[row] == "portamento" and not _glides_still(chart, note, tick):
        return None
    return Fix(title, "by-ear", (retime(chart, note, "start", tick),))


def _free_from(chart: Chart, row: int) -> int:
    """The first tick at which the slide could start: after the stroke, and after the last slide."""
    slides, notes = chart.slides, chart.song.notes
    note, source = int(slides.note[row]), int(slides.source_note[row])
    mine = (slides.part == slides.part[row]) & (slides.start < slides.start[row])
    mine &= slides.land >= slides.onset[row]
    busy = [int(x) for x in slides.land[mine]]
    if slides.how[row] == "bend":
        return max([int(notes.start[note]) + 1, *busy])
    same = notes.part == notes.part[note]
    struck = notes.start[same & (notes.start < slides.start[row])]
    return max([int(notes.start[source]) + 1, int(struck.max()) + 1, *busy])


def _grid_before(chart: Chart, start: int, latest: int, least: int) -> int | None:
    """The last place on the slide's own grid from ``least`` to ``latest``; finer ones after it."""
    song = chart.song
    line = int(song.grid.start[int(song.grid.bar_of(start))])
    quarters = (start - line) / song.division

    def off(step: float) -> float:
        return abs(quarters / step - round(quarters / step)) * step

    own = [step for step in _GRIDS if off(step) <= _ON_GRID]
    if not own:
        return latest if latest >= least else None
    straight = own[0] in (1.0, 0.5, 0.25, 0.125)
    for step in (own[0], *(s for s in _GRIDS if s < own[0])):
        if straight == (step in (1.0, 0.5, 0.25, 0.125)):
            count = np.floor((latest - line) / (step * song.division))
            tick = line + round(float(count) * step * song.division)
            if least <= tick <= latest:
                return tick
    return None


def _glides_still(chart: Chart, note: int, tick: int) -> bool:
    """Whether the controllers that make a note glide are already set at an earlier tick."""
    notes = chart.song.notes
    part = int(notes.part[note])
    here = controllers_at(chart.song, part, notes.start[note : note + 1])
    then = controllers_at(chart.song, part, np.array([tick], dtype=np.int64))
    return bool(here[0][0] == then[0][0] and here[1][0] == then[1][0])


@fixer(
    "let-it-land",
    of="slide",
    does="lengthens the note a slide lands on until it is there, or starts the slide earlier",
)
def let_it_land(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Give a slide the time to arrive: a longer last note, else an earlier start.

    A longer note is safe where there is room, an earlier start is by ear; a stub is let go of.
    """
    slides, notes = chart.slides, chart.song.notes
    note = int(slides.note[row])
    start, land = int(slides.start[row]), int(slides.land[row])
    same = notes.start[(notes.part == notes.part[note]) & (notes.start > start)]
    following = int(same.min()) if len(same) else FOREVER
    heard = _tick(chart, chart.song.tempo.seconds(land) + EDGE_S) + 1
    if heard <= following:
        end, under = _grid_after(chart, heard), _sounds_under(chart, note)
        seconds = chart.song.tempo.seconds
        # what is held under it is slid back to: not for a stub in which that cannot land
        if 0.0 < seconds(under) - seconds(end) < seconds(land) - seconds(start) + EDGE_S:
            end = under
        end = min(end, following)
        name = chart.note_name(int(notes.pitch[note]), land)
        title = f"Hold {name} until the slide has landed"
        kind: FixKind = "safe" if bool(slides.range_stated[row]) else "by-ear"
        return Fix(title, kind, (retime(chart, note, "end", end),))
    if slides.how[row] != "bend" and int(notes.start[note]) != start:
        name = chart.note_name(int(notes.pitch[note]), start)
        title = f"Let go of {name} before it is slid back to"
        return Fix(title, "by-ear", (retime(chart, note, "end", start),))
    earlier = _start_by(chart, row, start - (heard - int(slides.until[row])))
    if earlier is not None or slides.how[row] != "overlap":
        return earlier
    held = (notes.part == notes.part[note]) & (notes.start < start) & (notes.end > start)
    title = "End the note before where the next one starts: no slide"
    edits = tuple(retime(chart, n, "end", start) for n in np.flatnonzero(held).tolist())
    return Fix(title, "by-ear", edits) if edits else None


def _sounds_under(chart: Chart, note: int) -> int:
    """The tick up to which notes of its part that start before a note sound on; 0 for none."""
    notes = chart.song.notes
    under = (notes.part == notes.part[note]) & (notes.start < notes.start[note])
    return int(notes.end[under & (notes.end > notes.start[note])].max(initial=0))


def _grid_after(chart: Chart, tick: int) -> int:
    """The next sixteenth from a tick on."""
    song = chart.song
    line = int(song.grid.start[int(song.grid.bar_of(tick))])
    step = song.division / 4
    return line + round(float(np.ceil((tick - line) / step)) * step)


@fixer("close-bend", of="bass-note", does="brings the wheel back to its centre where a note starts")
def close_bend(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Centre the pitch bend where a note starts under an earlier bend.

    Safe where the note is out of tune or out of the scale; else a shift may have been meant.
    """
    off = float(residual_bend(chart)[row])
    if not off:
        return None
    start, part = int(chart.bass.start[row]), int(chart.bass.part[row])
    written = int(chart.sounding.written[row])
    sounds = written + off
    key = int(chart.key_at(np.array([start]))[0])
    in_tune = abs(sounds - round(sounds)) < 0.1
    fits = key >= 0 and bool(chart.keys.scale[key][round(sounds) % _OCTAVE])
    guessed = chart.unstated_range.first & (chart.bass.part == part) & (chart.bass.start <= start)
    kind: FixKind = "by-ear" if (in_tune and fits) or guessed.any() else "safe"
    name = chart.note_name(written, start)
    return Fix(f"Centre the wheel where {name} starts", kind, centre_at(chart, part, start))


@fixer("trim-overlap", of="slide", does="ends the first note of an overlap where the next starts")
def trim_overlap(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """End the first of two overlapping notes where the second starts, so that nothing slides.

    Safe on a line whose other slides are clear, so that this one is a slip; else by ear.
    """
    slides, notes = chart.slides, chart.song.notes
    note, source, start = (int(x[row]) for x in (slides.note, slides.source_note, slides.start))
    stub = int(notes.start[note]) != start  # the held note outlives the other by a hair
    longer = note if stub else source
    if int(notes.end[longer]) <= start:
        return None
    kind: FixKind = "safe" if bool(glides_elsewhere(chart)[row]) else "by-ear"
    name = chart.note_name(int(notes.pitch[longer]), start)
    what = "the other ends" if stub else "the next note starts"
    return Fix(f"End {name} where {what}", kind, (retime(chart, longer, "end", start),))
