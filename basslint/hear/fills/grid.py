"""Which grid do the hits of a roll stand on, and how far is each of them off?

A run of onsets is explained by the simplest of six stories that leaves every hit within
`TOLERANCE_MS` of its place: equal steps; swung steps; a mix of up to three stretches of equal steps
(or of equal steps with holes); a steady speeding up or slowing down; places on the file's own grid;
else it is uneven. A story that bends itself around one stray among equal steps is no simpler than
the stray. The step is taken from the whole run by least squares of onset over index,
because one gap between two played hits says little: with hits up to 8 ms off, the gaps of a 1/128
roll at 180 bpm (10.4 ms) lie anywhere between −6 and 26 ms.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Kind = Literal["equal", "swung", "mixed", "gliding", "uneven"]
Column = NDArray[np.float64]

# Steps in quarter notes: a sixteenth is a quarter of a quarter, a triplet packs three into two.
GRIDS: tuple[tuple[str, float], ...] = (
    ("1/16", 1 / 4),
    ("1/16 triplet", 1 / 6),
    ("1/32", 1 / 8),
    ("1/32 triplet", 1 / 12),
    ("1/64", 1 / 16),
    ("1/64 triplet", 1 / 24),
    ("1/128", 1 / 32),
)
NAMES = (*(name for name, _ in GRIDS), "free", "mixed")
STEPS: Column = np.array([step for _, step in GRIDS])

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


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """What a run of n hits is made of.

    ``kind``: "equal", "swung", "mixed", "gliding" (speeding up or slowing down), "uneven".
    ``grid``: one of `NAMES`. ``step``: quarter notes from hit to hit (the median where they
    differ). ``ideal`` [n]: where each hit would fall, in quarter notes, on the clock of the onsets
    given. ``cuts``: indexes of the hits at which one stretch of equal steps ends and the next
    begins, first and last hit included.
    """

    kind: Kind
    grid: str
    step: float
    ideal: Column
    cuts: tuple[int, ...]


def median(values: Column) -> float:
    """The median of a few values; NumPy's own costs ten times as much."""
    ordered = np.sort(values)
    return float(ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2


def nearest_grid(step: float) -> int:
    """Index into `GRIDS` of the grid nearest to a step in quarter notes, by ratio."""
    least = STEPS.min() / 1024  # hits on one tick have no step at all
    return int(np.argmin(np.abs(np.log(STEPS / max(step, least)))))


def explain(onset: Column, quarter_ms: float, tick: float = 0.0) -> Steps:
    """Say what steps a run of hits is made of.

    ``onset`` [n ≥ 3]: rising, in quarter notes from the start of the file; ``quarter_ms``: length
    of a quarter note there; ``tick``: the file's resolution in quarter notes, which blurs every
    onset by half of it.
    """
    tolerance = TOLERANCE_MS / quarter_ms + tick / 2
    index = np.arange(len(onset), dtype=np.float64)
    line, step, error = _line(index, onset)
    whole = (0, len(onset) - 1)
    if np.abs(onset - line).max() <= tolerance:
        return Steps("equal", _name(step, error), step, line, whole)
    by_hand = WRITTEN_MS / quarter_ms
    stray = _one_stray(onset, by_hand)
    for explanation in (_swung, _stretches, _with_holes, _gliding):
        steps = explanation(onset, tolerance)
        if steps is not None and not (stray and 2 * stray.rest < np.abs(onset - steps.ideal).max()):
            return steps
    written = _as_written(onset, by_hand, tick)
    if written is not None and (stray is None or stray.halfway or _in_rows(written.ideal)):
        return written
    ideal, step = _despite_strays(onset, tolerance)
    return Steps("uneven", GRIDS[nearest_grid(step)][0], step, ideal, whole)


def _name(step: float, error: float) -> str:
    """The grid of equal steps, "free" where they are surely on none."""
    grid = nearest_grid(step)
    away = abs(step / STEPS[grid] - 1)
    return "free" if away > FREE and away * STEPS[grid] > 3 * error else GRIDS[grid][0]


def _line(index: Column, onset: Column) -> tuple[Column, float, float]:
    """Least squares of onset over index: the line, its slope, and the slope's standard error."""
    centred = index - index.mean()
    spread = float(centred @ centred)
    slope = float(centred @ onset) / spread
    line = onset.mean() + slope * centred
    rest = onset - line
    error = float(np.sqrt(rest @ rest / max(len(onset) - 2, 1) / spread))
    return line, slope, error


def _swung(onset: Column, tolerance: float) -> Steps | None:
    """Equal steps whose every second hit is late (or early) by the same part of a step."""
    count = len(onset)
    if count < 5:
        return None
    index = np.arange(count, dtype=np.float64)
    ideal = _least_squares((index, index % 2), onset)
    step = float(ideal[2] - ideal[0]) / 2
    late = float(ideal[1] - ideal[0]) - step
    if step <= 0 or abs(late) > MOST_SWING * step or np.abs(onset - ideal).max() > tolerance:
        return None
    return Steps("swung", GRIDS[nearest_grid(step)][0], step, ideal, (0, count - 1))


def _gliding(onset: Column, tolerance: float) -> Steps | None:
    """Steps that grow longer, or shorter, by the same amount each."""
    index = np.arange(len(onset), dtype=np.float64)
    ideal = _least_squares((index, index**2), onset)
    if len(onset) < 6 or np.abs(onset - ideal).max() > tolerance or np.diff(ideal).min() <= 0:
        return None
    return Steps("gliding", "mixed", median(np.diff(ideal)), ideal, (0, len(onset) - 1))


@dataclass(frozen=True, slots=True)
class _Stray:
    """A hit among equal steps: how far the worst of the others is from its place (``rest``, in
    quarter notes), and whether the hit stands halfway between two places, as a syncopation does."""

    rest: float
    halfway: bool


def _one_stray(onset: Column, by_hand: float) -> _Stray | None:
    """Tell the run as equal steps but for one hit; None where that is no story."""
    if len(onset) < FEWEST_WITH_STRAY:
        return None
    index = np.arange(len(onset), dtype=np.float64)
    worst = _worst(index, onset)
    others = np.delete(index, worst)
    line, step, _ = _line(others, np.delete(onset, worst))
    rest = float(np.abs(np.delete(onset, worst) - line).max())
    off = abs(float(onset[worst] - line.mean() - step * (worst - others.mean())))
    if step <= 0 or rest > off / 2 or off > MOST_STRAY * step:
        return None
    return _Stray(rest, abs(off - step / 2) <= by_hand)


def _least_squares(columns: tuple[Column, ...], onset: Column) -> Column:
    """The nearest mix of the columns (and a constant) to the onsets."""
    table = np.stack((np.ones(len(onset)), *columns), axis=1)
    return np.asarray(table @ np.linalg.solve(table.T @ table, table.T @ onset))


def _stretches(onset: Column, tolerance: float) -> Steps | None:
    """Two or three stretches of equal steps, each on a grid, sharing the hit between them."""
    first = _split(onset, 0, len(onset) - 1)
    if first is None:
        return None
    for cuts in ((0, first, len(onset) - 1), *_second_splits(onset, first)):
        ideal, steps, fits = _piecewise(onset, cuts, tolerance)
        if fits and len({nearest_grid(step) for step in steps}) > 1:
            return Steps("mixed", "mixed", median(np.diff(ideal)), ideal, cuts)
    return None


def _second_splits(onset: Column, first: int) -> list[tuple[int, ...]]:
    last = len(onset) - 1
    cuts: list[tuple[int, ...]] = []
    for begin, end in ((0, first), (first, last)):
        more = _split(onset, begin, end)
        if more is not None:
            cuts.append(tuple(sorted((0, first, more, last))))
    return cuts


def _split(onset: Column, begin: int, end: int) -> int | None:
    """The hit at which two lines leave the least squared error, three steps or more to each."""
    if end - begin < 2 * FEWEST_STEPS:
        return None
    x = np.arange(end - begin + 1, dtype=np.float64)
    y = onset[begin : end + 1] - onset[begin]
    ahead = _running_error(x, y)
    behind = _running_error(x, y[::-1])[::-1]
    at = np.arange(FEWEST_STEPS, len(x) - FEWEST_STEPS)
    return begin + int(at[np.argmin(ahead[at] + behind[at])])


def _running_error(x: Column, y: Column) -> Column:
    """Squared error of the least-squares line through the first k + 1 points, for every k."""
    n = x + 1
    sx, sy, sxx, sxy, syy = (np.cumsum(v) for v in (x, y, x * x, x * y, y * y))
    spread = np.maximum(sxx - sx * sx / n, 1e-12)
    return np.asarray(syy - sy * sy / n - (sxy - sx * sy / n) ** 2 / spread)


def _piecewise(
    onset: Column, cuts: tuple[int, ...], tolerance: float
) -> tuple[Column, list[float], bool]:
    ideal = onset.copy()
    steps: list[float] = []
    fits = True
    for begin, end in pairwise(cuts):
        index = np.arange(end - begin + 1, dtype=np.float64)
        line, step, _ = _line(index, onset[begin : end + 1])
        ideal[begin : end + 1] = line
        steps.append(step)
        fits &= bool(np.abs(onset[begin : end + 1] - line).max() <= tolerance)
        fits &= _name(step, tolerance / (2 * (end - begin))) != "free"
    return ideal, steps, fits


def _with_holes(onset: Column, tolerance: float) -> Steps | None:
    """Hits on one grid with holes, such as two sixteenths, two thirty-seconds, a sixteenth.

    The coarsest grid wins. A third of the gaps must be single steps: on a fine enough grid
    anything fits.
    """
    gap = np.diff(onset)
    for name, step in GRIDS:
        if step < 3 * tolerance:
            return None
        jump = np.maximum(np.rint(gap / step), 1)
        if jump.max() > 4 or np.mean(jump == 1) < 1 / 3:
            continue
        place = np.concatenate(([0.0], np.cumsum(jump)))
        line, slope, _ = _line(place, onset)
        if np.abs(onset - line).max() <= tolerance and abs(slope / step - 1) <= FREE:
            name = name if np.mean(jump == 1) >= 2 / 3 else "mixed"
            return Steps("mixed", name, median(gap), line, (0, len(onset) - 1))
    return None


def _as_written(onset: Column, by_hand: float, tick: float) -> Steps | None:
    """Hits that all stand on the file's own thirty-seconds or triplets were put there.

    ``by_hand``: how near a mouse puts them. A place between two ticks is written on either; one on
    a tick is hit or missed, else a coarse file's 1/24 would take in most of its ticks.
    """
    for step in (1 / 8, 1 / 12, 1 / 24):
        ideal = np.rint(onset / step) * step
        on_tick = tick == 0 or abs(step / tick - round(step / tick)) < 1e-6
        if np.abs(onset - ideal).max() <= max(by_hand, 0.0 if on_tick else tick) + 1e-9:
            usual = median(np.diff(onset))
            return Steps("mixed", "mixed", usual, ideal, (0, len(onset) - 1))
    return None


def _in_rows(place: Column) -> bool:
    """Whether every step comes twice in a row or more: a mix is of grids, not of single hits."""
    gap = np.rint(np.diff(place) * 24)
    turns = np.flatnonzero(np.diff(gap, prepend=-1, append=-1))
    return bool(np.diff(turns).min() > 1)


def _despite_strays(onset: Column, tolerance: float) -> tuple[Column, float]:
    """The line of equal steps that most hits stand on, found by leaving strays out one by one."""
    index = np.arange(len(onset), dtype=np.float64)
    kept = np.ones(len(onset), dtype=bool)
    for _ in range(max(1, len(onset) // 4)):
        line, _, _ = _line(index[kept], onset[kept])
        away = np.abs(onset[kept] - line)
        if away.max() <= tolerance or kept.sum() <= 4:
            break
        kept[np.flatnonzero(kept)[_worst(index[kept], onset[kept])]] = False
    _, slope, _ = _line(index[kept], onset[kept])
    base = float(np.mean(onset[kept] - slope * index[kept]))
    return base + slope * index, slope


def _worst(index: Column, onset: Column) -> int:
    """The hit without which the line fits the others best."""
    centred = index - index.mean()
    line, _, _ = _line(index, onset)
    lever = 1 / len(index) + centred**2 / float(centred @ centred)
    return int(np.argmax((onset - line) ** 2 / np.maximum(1 - lever, 1e-9)))
