"""How is a roll mended: its steps, its velocities, its register, its overlaps?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from basslint.fixes.base import fixer, repitch, retime, revelocity
from basslint.fixes.edits import Edit, Fix, FixKind
from basslint.hear.chart import Chart
from basslint.hear.fills.shape import loudness_db
from basslint.hear.fills.steps import TOLERANCE_MS
from basslint.readings.fill_doubles import doubled_hits
from basslint.readings.fills import periods_per_hit, strays
from basslint.theory.general_midi import DRUM_CHANNEL, KICKS, TIMEKEEPERS

# A hit that is moved by less than a quarter of a step could have meant no other place.
SURE_OF_PLACE = 0.25
HIGHEST_BASS = 60  # middle C, the ledger line above the bass staff
Ticks = NDArray[np.int64]


@fixer("even-steps", of="fill", does="moves stray hits of a roll to where the others put them")
def even_steps(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move the stray hits of a roll to its steps; hits within human timing stay.

    Safe where every stray is nearest to its own place by far.
    """
    song, fills = chart.song, chart.fills
    rows = fills.notes[row]
    away = strays(chart)[row]
    place = np.rint(fills.ideal[row] * song.division).astype(np.int64)
    off = np.flatnonzero(away > TOLERANCE_MS)
    if not len(off):
        return None
    moved = np.abs(place[off] - song.notes.start[rows[off]])
    sure = moved.max() < SURE_OF_PLACE * fills.step[row] * song.division
    title = f"Put {_hits(len(off))} back in step"
    return Fix(title, "safe" if sure else "by-ear", _move(chart, rows, off, place[off]))


@fixer("onto-drums", of="fill", does="moves the hits of a bass roll onto the drum roll it doubles")
def onto_drums(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Move the hits of a bass roll onto the drum roll that it doubles.

    Safe where every hit moves by less than a quarter of a step.
    """
    song, fills = chart.song, chart.fills
    mine, theirs = doubled_hits(chart, row)
    target = song.notes.start[theirs]
    off = np.flatnonzero(target != song.notes.start[mine])
    if not len(off):
        return None
    moved = np.abs(target[off] - song.notes.start[mine[off]])
    kind: FixKind = "safe"
    if moved.max() >= SURE_OF_PLACE * fills.step[row] * song.division:
        kind = "by-ear"
    at = np.searchsorted(fills.notes[row], mine[off])
    name = song.parts[int(song.notes.part[theirs[0]])].name
    return Fix(
        f"Put {_hits(len(off))} on those of {name}",
        kind,
        _move(chart, fills.notes[row], at, target[off]),
    )


@fixer("ramp", of="fill", does="lets a flat roll rise to (or fall from) its loudest velocity")
def ramp(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Give a flat roll rising velocities where it leads into a bar, else falling ones.

    By ear: rise or fall is a choice. What is struck with a hit goes along only where its drum
    doubles half of the roll and more, as a clap layered on the snare does; an accent on top stays.

    Even steps of level over ``ramp_db`` (6 by default); levels by the velocity curve of
    `hear.shape.loudness_db`.
    """
    fills, notes = chart.fills, chart.song.notes
    rows = fills.notes[row]
    loudest = int(notes.velocity[rows].max())
    levels = np.linspace(-parameters.get("ramp_db", 6.0), 0.0, len(rows))
    lines = chart.song.grid.start
    rising = np.abs(lines - fills.end[row]).min() <= 0.5 * fills.step[row] * chart.song.division
    levels = levels if rising else levels[::-1]
    velocity = np.maximum(np.rint(loudest * 10.0 ** (levels / 40.0)), 1).astype(int)
    if np.ptp(loudness_db(velocity.astype(np.float64))) < 1.0:
        return None  # too soft for a ramp that is heard
    struck = [_doubles(chart, hit) for hit in rows.tolist()]
    drums = Counter(pitch for hit in struck for pitch in {int(notes.pitch[n]) for n in hit})
    edits = [
        revelocity(chart, note, new)
        for hit, together, new in zip(rows.tolist(), struck, velocity.tolist(), strict=True)
        for note in together
        if note == hit or 2 * drums[int(notes.pitch[note])] >= len(rows)
        if int(notes.velocity[note]) != new
    ]
    way = (
        f"rise from {velocity[0]} to {loudest}"
        if rising
        else (f"fall from {loudest} to {velocity[-1]}")
    )
    return Fix(f"Let the velocities {way}", "by-ear", tuple(edits))


@fixer("octave-up", of="fill", does="lifts a bass roll by octaves until its pitch is heard")
def octave_up(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """Raise a bass roll by as few octaves as give every hit ``fewest_periods`` (3), by ear.

    No hit goes above middle C. Where the bass register is too low for that, no fix is offered: a
    slower roll would be one.
    """
    fills, notes = chart.fills, chart.song.notes
    rows = fills.notes[row]
    short = parameters.get("fewest_periods", 3.0) / float(periods_per_hit(chart)[row])
    octaves = int(np.ceil(np.log2(short)))
    if octaves < 1 or int(notes.pitch[rows].max()) + 12 * octaves > HIGHEST_BASS:
        return None
    edits = tuple(repitch(chart, n, int(notes.pitch[n]) + 12 * octaves) for n in rows.tolist())
    way = "an octave" if octaves == 1 else f"{octaves} octaves"
    return Fix(f"Play the roll {way} up", "by-ear", edits)


@fixer("apart", of="fill", does="ends every hit of a roll where the next one starts")
def apart(chart: Chart, row: int, parameters: Mapping[str, float]) -> Fix | None:
    """End every hit of a roll where the next one starts.

    Safe where they overlap by less than half a step, else a legato may be meant.
    """
    fills, notes = chart.fills, chart.song.notes
    rows = fills.notes[row]
    after = np.append(rows[1:], fills.landing[row])
    pairs = [
        (hit, int(notes.start[follower]))
        for hit, follower in zip(rows.tolist(), after.tolist(), strict=True)
        if follower >= 0 and notes.end[hit] > notes.start[follower]
    ]
    if not pairs:
        return None
    longest = max(int(notes.end[hit]) - start for hit, start in pairs)
    kind: FixKind = "safe" if longest < 0.5 * fills.step[row] * chart.song.division else "by-ear"
    edits = tuple(retime(chart, hit, "end", start) for hit, start in pairs)
    return Fix(f"End {_hits(len(pairs))} where the next starts", kind, edits)


def _hits(count: int) -> str:
    return "1 hit" if count == 1 else f"{count} hits"


def _doubles(chart: Chart, hit: int) -> list[int]:
    """The notes struck with a hit of a roll, itself too: in a drum part a clap on the snare."""
    notes = chart.song.notes
    part = int(notes.part[hit])
    if part not in chart.parts.drums:
        return [hit]
    first, last = np.searchsorted(notes.start, [notes.start[hit], notes.start[hit] + 1]).tolist()
    general = chart.song.parts[part].channel == DRUM_CHANNEL
    others = (*TIMEKEEPERS, *KICKS) if general else ()
    near = [n for n in range(first, last) if notes.part[n] == part]
    return [n for n in near if n == hit or notes.pitch[n] not in others]


def _move(chart: Chart, rows: Ticks, at: Ticks, start: Ticks) -> tuple[Edit, ...]:
    """Edits that move the hits ``at`` (indexes into a fill's ``rows``) to new starts.

    A hit keeps its length, but never comes to overlap the next where it did not before.
    """
    notes = chart.song.notes
    starts = notes.start[rows].copy()
    starts[at] = start
    ends = notes.end[rows] + starts - notes.start[rows]
    touching = notes.end[rows[:-1]] <= notes.start[rows[1:]]
    same_part = notes.part[rows[:-1]] == notes.part[rows[1:]]
    cut = np.flatnonzero(touching & same_part & (ends[:-1] > starts[1:]))
    ends[cut] = starts[cut + 1]
    edits: list[Edit] = []
    for index, hit in enumerate(rows.tolist()):
        by = int(starts[index] - notes.start[hit])
        length = int(ends[index] - starts[index])
        same = length == notes.end[hit] - notes.start[hit]
        if not same:
            edits.append(retime(chart, hit, "end", int(ends[index])))
        if by:
            edits.append(retime(chart, hit, "move" if same else "start", int(starts[index])))
        edits += [
            retime(chart, n, "move", int(notes.start[n]) + by)
            for n in _doubles(chart, hit)
            if by and n != hit
        ]
    return tuple(edits)
