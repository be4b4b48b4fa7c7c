"""Which slide is heard of a motion of the pitch bend while a note sounds?

The bend may begin before the note, run on after it, wobble, overshoot or come back; what counts
is what is heard while the note sounds, and where the motion was bound for when the note ends.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from basslint.hear.slides.glides import LEAST_SLIDE
from basslint.song.bends import BendSteps
from basslint.util.columns import rows_where
from basslint.util.records import record

# Common practice, no source, for all:
VIBRATO = 1.2  # semitones from peak to peak: a wobble up to this is vibrato
RETURNED = 0.25  # semitones: as near as this to where it began, a motion has come back
SIDE_SHARE = 0.65  # of the largest swing: smaller swings before and after it are a wobble
CURVED = 0.1  # of its height off the straight line: more makes a ramp a curve

_SWINGS = 3  # larger swings from which on a small motion is vibrato
_WOBBLE_RUNS = 2  # smaller swings before or after the largest from which on they are a wobble
_EVEN = 1.5  # event spacings: a bend event this close before a ramp is its first

Shape = Literal["glide", "ramp", "curve", "jump", "return", "turn", "wobble"]


@record(kw_only=True)
class Gesture:
    """One pitch-bend slide under one note.

    ``start``, ``land`` ticks; ``origin``, ``target`` semitones off the note's own pitch; ``shape``
    a `Shape`; ``first``, ``last``: rows of the bend curve that begin and end it.
    """

    start: int
    land: int
    origin: float
    target: float
    shape: Shape
    first: int
    last: int


def read_gesture(
    steps: BendSteps,
    lo: int,
    hi: int,
    note: tuple[int, int],
    limit: int,
    edge: int,
    previous_event: int | None,
) -> Gesture | None:
    """Read steps [lo, hi), one motion, as the slide that ``note`` (start, end tick) makes of it.

    ``limit`` is the tick of the next note: a motion that is under way when the note ends is
    followed up to there to see where it was bound. ``edge`` ticks are too short to be heard: what
    the bend does in them after the note's start or before its end is a set-up or a reset.
    ``previous_event`` is the tick of the bend event before the first step, which begins a ramp
    where it stands one event spacing before it. None where nothing is heard to slide.
    """
    tick, before, after = steps.tick, steps.before, steps.after
    runs = _audible_runs(steps, lo, hi, note, limit, edge)
    if not runs:
        return None
    first, last = runs[0][0], runs[-1][1]
    origin, target = float(before[first]), float(after[last])
    if float(np.abs(after[first : last + 1] - origin).max()) < LEAST_SLIDE:
        return None
    heights = [abs(float(after[b] - before[a])) for a, b in runs]
    small = min(VIBRATO, SIDE_SHARE * max(heights))
    if max(heights) <= VIBRATO and (
        sum(h > small for h in heights) >= _SWINGS or abs(target - origin) < RETURNED
    ):
        return None
    ahead = next(i for i, h in enumerate(heights) if h > small)
    behind = next(i for i, h in enumerate(reversed(heights)) if h > small)
    if behind >= _WOBBLE_RUNS:  # it arrives, then wobbles about where it landed
        landed = runs[-1 - behind][1]
        target = _middle(after[landed : last + 1])
        runs, last = runs[:-behind], landed
    if ahead >= _WOBBLE_RUNS:  # it wobbles, then leaves
        origin = _middle(before[first : runs[ahead][0] + 1])
        runs, first = runs[ahead:], runs[ahead][0]
    begin = int(tick[first])
    if first > lo:
        begin = int(tick[first - 1])
    elif previous_event is not None and last > first:
        spacing = int(tick[first + 1] - begin)
        begin = previous_event if begin - previous_event <= _EVEN * spacing else begin
    return Gesture(
        start=max(note[0], begin),
        land=int(tick[last]),
        origin=origin,
        target=target,
        shape=_shape(steps, first, last, len(runs), origin, target),
        first=int(steps.at[first]),
        last=int(steps.at[last]),
    )


def _audible_runs(
    steps: BendSteps, lo: int, hi: int, note: tuple[int, int], limit: int, edge: int
) -> list[tuple[int, int]]:
    """The runs of one direction (first and last step) that are heard while a note sounds.

    See `read_gesture`; empty where nothing is.
    """
    tick, rising, (start, end) = steps.tick, steps.rises, note
    first = lo + int(tick[lo:hi].searchsorted(start, side="right"))
    last = lo + int(tick[lo:hi].searchsorted(end, side="left")) - 1
    if last < first:
        return []
    while last + 1 < hi and tick[last + 1] <= limit and rising[last + 1] == rising[last]:
        last += 1
    runs = _runs(rising, first, last)
    if tick[runs[0][1]] <= start + edge:  # set right after the note-on: where the note begins
        runs = runs[1:]
    if runs and tick[runs[-1][0]] >= end - edge:  # set back before the note-off
        runs = runs[:-1]
    return runs


def _middle(path: NDArray[np.float64]) -> float:
    """Half way between the highest and the lowest of a wobble, in semitones."""
    return float(path.max() + path.min()) / 2.0


def _runs(rising: NDArray[np.bool_], first: int, last: int) -> list[tuple[int, int]]:
    """The stretches of one direction in steps [first, last]."""
    turns = first + 1 + rows_where(rising[first + 1 : last + 1] != rising[first:last])
    begins = [first, *turns.tolist()]
    return [(a, b - 1) for a, b in zip(begins, [*begins[1:], last + 1], strict=True)]


def _shape(
    steps: BendSteps, first: int, last: int, runs: int, origin: float, target: float
) -> Shape:
    if runs > 1:
        if abs(target - origin) >= RETURNED:
            return "turn"
        return "return" if runs == 2 else "wobble"
    if first == last:
        return "jump"
    tick = steps.tick[first : last + 1].astype(np.float64)
    value = steps.after[first : last + 1]
    share = (tick - tick[0]) / max(tick[-1] - tick[0], 1.0)
    straight = value[0] + share * (value[-1] - value[0])
    height = max(abs(target - origin), LEAST_SLIDE)
    return "curve" if float(np.abs(value - straight).max()) > CURVED * height else "ramp"
