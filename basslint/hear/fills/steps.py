"""Which grid do the hits of a roll stand on, and how far is each of them off?

A run of onsets is explained by the simplest of seven explanations that leaves every hit within
`TOLERANCE_MS` of its position: equal steps; swung steps; a mix of up to three stretches of equal
steps (or of equal steps with holes); a steady speeding up or slowing down; two even rolls with a
breath between them; positions on the file's own grid; else it is uneven. An explanation that bends
around one stray hit among equal steps is no simpler than the stray. The step is taken from the
whole run by least squares of onset over index, because one gap between two played hits says
little: with hits up to 8 ms off, the gaps of a 1/128 roll at 180 bpm (10.4 ms) lie anywhere
between −6 and 26 ms.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from basslint.hear.fills.grid import GRIDS, STEPS, Column, Steps, median, nearest_grid
from basslint.hear.fills.least_squares import best_mix, best_split, line_fit, worst_fitted
from basslint.util.columns import differences, rows_where
from basslint.util.records import record

# Tight human timing scatters hits by about 10 ms; a hit up to 8 ms off lies, with the error of the
# fitted line added, within 12 ms of it.
TOLERANCE_MS = 12.0
FEWEST_STEPS = 3  # of a stretch: two gaps around one stray hit would make a grid of their own
WRITTEN_MS = 2.0  # hits this near to a grid were written with the mouse
# With fewer hits the rest of them is too few to say where one belongs; one further off than this
# share of a step may as well be a rhythm of its own.
FEWEST_WITH_STRAY = 5
MOST_STRAY = 0.6
# Neighbouring grids differ by a third or a half, their midpoint lies 14–20 % away; equal steps
# more than 10 % off every grid (five or seven to a beat) are a grid of their own.
FREE = 0.10
# Swing runs from straight to a triplet's two to one: off hits come up to a third of a step late.
MOST_SWING = 0.36
# By judgement, tried on made-up rolls (tests/bench/fills.py):
_FEWEST_SWUNG = 5  # hits: two pairs of a long and a short step
_FEWEST_GLIDING = 6  # hits: a parabola goes through three of any kind, and near five
_SURELY = 3.0  # standard errors of a step by which it is off a grid
_CLEAR = 2.0  # times as far off as all others: a stray hit, not uneven playing
_APART = 3.0  # tolerances between the positions of a grid: on a finer one any hit stands somewhere
_LONGEST_HOLE, _DOUBLE = 4, 2  # steps
_BREATH = 1.75  # steps: further apart than a stray hit may set two of them
_FEWEST_SINGLE, _MOSTLY_SINGLE = 1 / 3, 2 / 3  # share of the gaps that are single steps
_WRITTEN_STEPS = (1 / 8, 1 / 12, 1 / 24)  # quarters: thirty-seconds, their triplets, half of those
_PER_QUARTER = 24  # the finest of them
_ON_TICK = 1e-6  # of a tick: rounding
_ROUNDING = 1e-9  # quarters
_HITS_PER_STRAY = 4  # one hit in so many may be left out as a stray
_FEWEST_KEPT = 4  # hits: fewer make no line to be off


def explain(onset: Column, quarter_ms: float, tick: float = 0.0) -> Steps:
    """Say what steps a run of hits is made of.

    ``onset`` [n ≥ 3]: rising, in quarter notes from the start of the file; ``quarter_ms``: length
    of a quarter note there; ``tick``: the file's resolution in quarter notes, which blurs every
    onset by half of it.
    """
    tolerance = TOLERANCE_MS / quarter_ms + tick / 2
    index = np.arange(len(onset), dtype=np.float64)
    line, step, error = line_fit(index, onset)
    whole = (0, len(onset) - 1)
    if np.abs(onset - line).max() <= tolerance:
        return Steps(kind="equal", grid=_name(step, error), step=step, ideal=line, cuts=whole)
    by_hand = WRITTEN_MS / quarter_ms
    stray = _one_stray(onset, by_hand, tolerance)
    for explanation in (_swung, _stretches, _with_holes, _gliding, _apart):
        steps = explanation(onset, tolerance)
        if steps is None:
            continue
        off = np.abs(onset - steps.ideal).max()
        if stray is None or stray.upbeat or _CLEAR * stray.rest >= off:
            return steps
    written = _as_written(onset, by_hand, tick)
    if written is not None and (stray is None or stray.halfway or _in_rows(written.ideal)):
        return written
    ideal, step = _despite_strays(onset, tolerance)
    return Steps(
        kind="uneven", grid=GRIDS[nearest_grid(step)][0], step=step, ideal=ideal, cuts=whole
    )


def _name(step: float, error: float) -> str:
    """The grid of equal steps, "free" where they are surely on none."""
    grid = nearest_grid(step)
    away = abs(step / STEPS[grid] - 1)
    return "free" if away > FREE and away * STEPS[grid] > _SURELY * error else GRIDS[grid][0]


def _swung(onset: Column, tolerance: float) -> Steps | None:
    """Equal steps whose every second hit is late (or early) by the same part of a step."""
    count = len(onset)
    if count < _FEWEST_SWUNG:
        return None
    index = np.arange(count, dtype=np.float64)
    ideal = best_mix((index, index % 2), onset)
    step = float(ideal[2] - ideal[0]) / 2
    late = float(ideal[1] - ideal[0]) - step
    if step <= 0 or abs(late) > MOST_SWING * step or np.abs(onset - ideal).max() > tolerance:
        return None
    return Steps(
        kind="swung", grid=GRIDS[nearest_grid(step)][0], step=step, ideal=ideal, cuts=(0, count - 1)
    )


def _gliding(onset: Column, tolerance: float) -> Steps | None:
    """Steps that grow longer, or shorter, by the same amount each."""
    index = np.arange(len(onset), dtype=np.float64)
    ideal = best_mix((index, index**2), onset)
    off, gap = np.abs(onset - ideal).max(), differences(ideal)
    if len(onset) < _FEWEST_GLIDING or off > tolerance or gap.min() <= 0:
        return None
    return Steps(
        kind="gliding", grid="mixed", step=median(gap), ideal=ideal, cuts=(0, len(onset) - 1)
    )


def _apart(onset: Column, tolerance: float) -> Steps | None:
    """Two rolls of equal steps, each its own, with a breath between them."""
    gap = differences(onset)
    cut = int(np.argmax(gap)) + 1
    sides = (onset[:cut], onset[cut:])
    if min(len(side) for side in sides) < FEWEST_STEPS:
        return None
    fits = [line_fit(np.arange(len(side), dtype=np.float64), side) for side in sides]
    off = max(float(np.abs(side - fit[0]).max()) for side, fit in zip(sides, fits, strict=True))
    if off > tolerance or gap[cut - 1] < _BREATH * max(fit[1] for fit in fits):
        return None
    ideal = np.concatenate([fit[0] for fit in fits])
    return Steps(
        kind="mixed", grid="mixed", step=median(gap), ideal=ideal, cuts=(0, cut, len(onset) - 1)
    )


@record
class _Stray:
    """A hit that stands off a run of equal steps.

    ``rest``: how far the worst of the others is from its position, in quarter notes; ``halfway``:
    the stray hit stands halfway between two positions, as a syncopation does; ``upbeat``: it is the
    last and comes half a step early, as near as a hand plays.
    """

    rest: float
    halfway: bool
    upbeat: bool


def _one_stray(onset: Column, by_hand: float, tolerance: float) -> _Stray | None:
    """The one hit that stands off a run of equal steps; None where no single hit explains it."""
    if len(onset) < FEWEST_WITH_STRAY:
        return None
    index = np.arange(len(onset), dtype=np.float64)
    worst = worst_fitted(index, onset)
    others = np.delete(index, worst)
    line, step, _ = line_fit(others, np.delete(onset, worst))
    rest = float(np.abs(np.delete(onset, worst) - line).max())
    late = float(onset[worst] - line.mean() - step * (worst - others.mean()))
    off = abs(late)
    if step <= 0 or _CLEAR * rest > off or off > MOST_STRAY * step:
        return None
    upbeat = worst == len(onset) - 1 and abs(late + step / 2) <= tolerance
    return _Stray(rest, abs(off - step / 2) <= by_hand, upbeat)


def _stretches(onset: Column, tolerance: float) -> Steps | None:
    """Two or three stretches of equal steps, each on a grid, sharing the hit between them."""
    first = best_split(onset, 0, len(onset) - 1, FEWEST_STEPS)
    if first is None:
        return None
    for cuts in ((0, first, len(onset) - 1), *_second_splits(onset, first)):
        ideal, steps, fits = _piecewise(onset, cuts, tolerance)
        if fits and len({nearest_grid(step) for step in steps}) > 1:
            return Steps(
                kind="mixed", grid="mixed", step=median(differences(ideal)), ideal=ideal, cuts=cuts
            )
    return None


def _second_splits(onset: Column, first: int) -> list[tuple[int, ...]]:
    last = len(onset) - 1
    cuts: list[tuple[int, ...]] = []
    for begin, end in ((0, first), (first, last)):
        more = best_split(onset, begin, end, FEWEST_STEPS)
        if more is not None:
            cuts.append(tuple(sorted((0, first, more, last))))
    return cuts


def _piecewise(
    onset: Column, cuts: tuple[int, ...], tolerance: float
) -> tuple[Column, list[float], bool]:
    ideal = onset.copy()
    steps: list[float] = []
    fits = True
    for begin, end in pairwise(cuts):
        index = np.arange(end - begin + 1, dtype=np.float64)
        line, step, _ = line_fit(index, onset[begin : end + 1])
        ideal[begin : end + 1] = line
        steps.append(step)
        fits &= bool(np.abs(onset[begin : end + 1] - line).max() <= tolerance)
        fits &= _name(step, tolerance / (2 * (end - begin))) != "free"
    return ideal, steps, fits


def _with_holes(onset: Column, tolerance: float) -> Steps | None:
    """Hits on one grid with holes, such as two sixteenths, two thirty-seconds, a sixteenth.

    The coarsest grid wins. A third of the gaps must be single steps: on a fine enough grid
    anything fits. One single step is enough where it is an upbeat, the last after double ones.
    """
    gap = differences(onset)
    for name, step in GRIDS:
        if step < _APART * tolerance:
            return None
        jump = np.maximum(np.rint(gap / step), 1)
        upbeat = jump[-1] == 1 and (jump[:-1] == _DOUBLE).all()
        if jump.max() > _LONGEST_HOLE or (not upbeat and np.mean(jump == 1) < _FEWEST_SINGLE):
            continue
        place = np.concatenate(([0.0], jump.cumsum()))
        line, slope, _ = line_fit(place, onset)
        if np.abs(onset - line).max() <= tolerance and abs(slope / step - 1) <= FREE:
            name = name if np.mean(jump == 1) >= _MOSTLY_SINGLE else "mixed"
            return Steps(
                kind="mixed", grid=name, step=median(gap), ideal=line, cuts=(0, len(onset) - 1)
            )
    return None


def _as_written(onset: Column, by_hand: float, tick: float) -> Steps | None:
    """Hits that all stand on the file's own thirty-seconds or triplets were put there.

    ``by_hand``: how near a mouse puts them. A place between two ticks is written on either; one on
    a tick is hit or missed, else a coarse file's 1/24 would take in most of its ticks.
    """
    for step in _WRITTEN_STEPS:
        ideal = np.rint(onset / step) * step
        on_tick = tick == 0 or abs(step / tick - round(step / tick)) < _ON_TICK
        if np.abs(onset - ideal).max() <= max(by_hand, 0.0 if on_tick else tick) + _ROUNDING:
            usual = median(differences(onset))
            return Steps(
                kind="mixed", grid="mixed", step=usual, ideal=ideal, cuts=(0, len(onset) - 1)
            )
    return None


def _in_rows(position: Column) -> bool:
    """Whether every step comes twice in a row or more: a mix is of grids, not of single hits."""
    gap = np.rint(differences(position) * _PER_QUARTER)
    turns = rows_where(np.diff(gap, prepend=-1, append=-1))
    return bool(differences(turns).min() > 1)


def _despite_strays(onset: Column, tolerance: float) -> tuple[Column, float]:
    """The line of equal steps that most hits stand on, found by leaving strays out one by one."""
    index = np.arange(len(onset), dtype=np.float64)
    kept = np.ones(len(onset), dtype=bool)
    for _ in range(max(1, len(onset) // _HITS_PER_STRAY)):
        line, _, _ = line_fit(index[kept], onset[kept])
        away = np.abs(onset[kept] - line)
        if away.max() <= tolerance or kept.sum() <= _FEWEST_KEPT:
            break
        kept[rows_where(kept)[worst_fitted(index[kept], onset[kept])]] = False
    _, slope, _ = line_fit(index[kept], onset[kept])
    base = float(np.mean(onset[kept] - slope * index[kept]))
    return base + slope * index, slope
