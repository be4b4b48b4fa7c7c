"""Which edits rescale a pitch bend, move it in time, or bring it back to its centre?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.fixes.edits import Edit
from basslint.hear.chart import Chart
from basslint.smf.status import BEND
from basslint.song.bends import HALF, NO_ROW, BendCurve, hear_bends
from basslint.util.records import record

_HIGHEST = 8191  # fourteen bits, MIDI 1.0


@record(eq=False)
class Bend:
    """The bend of a slide: rows [first, last] of ``curve`` move it, [last, until) hold it."""

    curve: BendCurve
    first: int
    last: int
    until: int


def bend_of(chart: Chart, row: int) -> Bend | None:
    """The bend of a slide; None where more than the part's own pitch bend takes part in it."""
    slides, song = chart.slides, chart.song
    part = int(slides.part[row])
    curve = hear_bends(song, (part,), chart.facts.bend_range).get(part)
    if curve is None or slides.first_change[row] < 0 or slides.last_change[row] < 0:
        return None
    first = int(np.flatnonzero(curve.row == slides.first_change[row])[0])
    last = int(np.flatnonzero(curve.row == slides.last_change[row])[0])
    moves = np.flatnonzero(np.abs(np.diff(curve.semitones)) > 1e-9) + 1
    after = moves[moves > last]
    until = int(after[0]) if len(after) else len(curve)
    rows = curve.row[first : last + 1]
    own = song.changes.channel[rows[rows >= 0]] == song.parts[part].channel
    return Bend(curve, first, last, until) if (rows != NO_ROW).all() and own.all() else None


def rescale(chart: Chart, row: int, target: float) -> tuple[Edit, ...] | None:
    """Edits that make a bend land on MIDI pitch ``target``, its shape and place kept.

    The curve is stretched from its origin, with what holds its landing and what leads back towards
    the origin. None where the bend range does not reach that far.
    """
    bend = bend_of(chart, row)
    if bend is None:
        return None
    slides, curve = chart.slides, bend.curve
    pitch = float(chart.song.notes.pitch[slides.note[row]])
    base, old = float(slides.origin[row]) - pitch, float(slides.target[row]) - pitch
    new = target - pitch
    if abs(old - base) < 1e-6:
        return None
    share = (curve.semitones - base) / (old - base)  # 0 at its origin, 1 where it lands
    stretched = base + share * (new - base)
    then = curve.semitones.copy()
    then[bend.first : bend.last + 1] = stretched[bend.first : bend.last + 1]
    then[bend.last + 1 : bend.until] += new - old
    falls, level = bend.until, 1.0
    while falls < len(curve) and 1e-9 < share[falls] <= level:
        then[falls], level = stretched[falls], float(share[falls])
        falls += 1
    return _set(chart, int(slides.part[row]), curve, then)


def _set(
    chart: Chart, part: int, curve: BendCurve, then: NDArray[np.float64]
) -> tuple[Edit, ...] | None:
    """Edits of every bend event whose height changes; None where one would leave the range."""
    changes, owner = chart.song.changes, chart.song.parts[part]
    edits: list[Edit] = []
    for i in np.flatnonzero((np.abs(then - curve.semitones) > 1e-9) & (curve.row >= 0)).tolist():
        change = int(curve.row[i])
        before = int(changes.value[change])
        after = before + round(float(then[i] - curve.semitones[i]) / float(curve.range[i]) * HALF)
        if after == int(HALF):  # the top is one step short of the range
            after = _HIGHEST
        if not -HALF <= after <= _HIGHEST:
            return None
        if after != before:
            tick, track = int(changes.tick[change]), int(changes.track[change])
            edits.append(_set_to(track, owner.channel, tick, before, after))
    return tuple(edits) or None


def shift(chart: Chart, row: int, earlier: int) -> tuple[Edit, ...] | None:
    """Edits that play a bend's motion some ticks earlier; the bend then holds its landing.

    None where another motion of the bend is in the way.
    """
    bend = bend_of(chart, row)
    if bend is None:
        return None
    changes, owner = chart.song.changes, chart.song.parts[int(chart.slides.part[row])]
    curve, first, last = bend.curve, bend.first, bend.last
    if first and curve.row[first - 1] >= 0 and curve.tick[first - 1] == chart.slides.start[row]:
        first -= 1  # the event from which the ramp sets out moves along
    start = int(curve.tick[first]) - earlier
    low = int(np.searchsorted(curve.tick, start, side="left"))
    between = curve.semitones[low:first]
    before = float(curve.semitones[low - 1]) if low else 0.0
    if len(between) and float(np.abs(between - before).max()) > 1e-9:
        return None
    edits = [
        _set_to(
            int(changes.track[change]),
            owner.channel,
            int(changes.tick[change]),
            int(changes.value[change]),
            None,
        )
        for change in curve.row[low : last + 1].tolist()
        if change >= 0
    ]
    for change in curve.row[first : last + 1].tolist():
        tick, track = int(changes.tick[change]) - earlier, int(changes.track[change])
        value = int(changes.value[change])
        edits.append(_set_to(track, owner.channel, tick, None, value))
    return tuple(edits)


def centre_at(chart: Chart, part: int, tick: int) -> tuple[Edit, ...]:
    """Edits that bring the pitch bend of a part to its centre at a tick."""
    changes, owner = chart.song.changes, chart.song.parts[part]
    here = np.flatnonzero(
        (changes.tick == tick) & (changes.kind == BEND) & (changes.channel == owner.channel)
        & (changes.track == owner.track)
    )  # fmt: skip
    if len(here):
        return tuple(
            _set_to(owner.track, owner.channel, tick, int(changes.value[i]), 0)
            for i in here.tolist()
        )
    return (_set_to(owner.track, owner.channel, tick, None, 0),)


def _set_to(track: int, channel: int, tick: int, before: int | None, after: int | None) -> Edit:
    """Edit: give the bend event at a tick the value ``after``; from or to None, put it in or take
    it out."""
    return Edit(
        do="bend",
        track=track,
        channel=channel,
        tick=tick,
        end_tick=tick,
        before=before,
        after=after,
    )
