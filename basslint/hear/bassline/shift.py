"""Does a bass lie whole semitones off the other parts, for the song or a stretch of it?

A bass one-shot under a wrong root key, or a part that was transposed by mistake, is wrong in every
note by the same interval. So each shift of the line is asked how well it fits what the others
sound: support by their notes or by a common chord over it, less its rub, plus the chord roots that
it meets. A shift is told only where it beats the line as written clearly and fits well by itself.

The three weights were fitted by `tests/bench/fit_shifts.py` on 349 real songs: a softmax over the
twelve shifts, the line as written taken as right. Cross-validated by song, it won in .98 of the
parts. All other numbers here were set by hand on the same songs; `tests/bench/shifts.py` measures
what this module, as it stands, tells of them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.accompaniment import Accompaniment
from basslint.hear.bassline.bar_runs import best_run, joined, sums_between, sums_to
from basslint.song.events import Notes
from basslint.song.timing import BarGrid
from basslint.util.columns import TINY, distinct, found_in
from basslint.util.records import record

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_Row = tuple[int, int, int, int, float, bool, float]  # of `ShiftedStretches`

SHIFTS = np.arange(-5, 7)  # semitones by which the line is moved on trial; octaves say nothing
_WITH_NEIGHBOURS = np.arange(-6, 8)
AS_WRITTEN = 5  # the place of 0 among them
WEIGHTS = np.array([11.58, -7.84, 8.31])  # log odds for a line all support, rub, root (fitted)
_CHORD = 0.8  # what a common chord over the note counts for against the tone itself (by judgement)
_SOUNDS = 0.5  # share of a note for which a tone must sound to belong to that chord
_RUBS_UNLESS = 0.3  # share of a note: what others sound as well does not rub
_LONGEST = 2.0  # quarters of a note that count: a drone is one note of its line
LEAST_FIT = 0.5  # mean support at which a line fits by itself …
_POOR_FIT = 0.35  # … and at which it does where it is far ahead: a line of many passing notes
STEP = 2  # semitones: shifts by more, mostly by a fourth or fifth, look alike in a stretch
# Pitch classes that a line must have to be told a shift by a semitone, a whole tone, more: a pedal
# fits a tone or a fourth away as well as where it is
_FEWEST_TONES = (0, 1, 2, 3)
_LEAST_TONES = 2  # of a stretch: a single pitch class is a pedal, right under many chords
_SHORTEST = 3  # bars of a stretch in which notes show it: one of four bars may be silent


@record
class _Limits:
    """What a group of notes must have to be called shifted.

    ``lead``: log odds by which the shift beats the line as written, ``farther`` more where it is
    above `STEP`; ``far_ahead``: the lead from which a poor fit will do; ``most``: mean support as
    written above which it is not off; ``notes``, ``quarters`` with harmony over them at least.
    """

    lead: float
    farther: float
    far_ahead: float
    most: float
    notes: int
    quarters: float


_NEVER = 1000.0  # log odds: as four bars tell no fourth from the line as it is
PART = _Limits(1.8, 2.4, 6.0, 1.0, 12, 8.0)
# A stretch holds less evidence, and there are many in a song; but the rest of its part speaks too.
_STRETCH = _Limits(6.0, 6.0, _NEVER, 0.45, 8, 6.0)
_SHORT_STRETCH = _Limits(8.3, _NEVER, _NEVER, 0.4, 4, 4.0)
# Bars that are heard at a time, from one such window to the next, and what they must have.
_WINDOWS = ((8, 2, _STRETCH), (4, 1, _SHORT_STRETCH))
_LARGEST = max(size for size, _, _ in _WINDOWS)
_REST_FITS = 0.5  # mean support as written of the part's other bars: else no stretch stands out

# Chords on the bass note, semitones above it: triads and sevenths (Open Music Theory), some without
# their fifth, with a ninth or a fourth (common practice, no source).
_CHORDS = (
    (0, 4, 7), (0, 3, 7), (0, 4, 7, 10), (0, 3, 7, 10), (0, 4, 7, 11), (0, 3, 6, 10), (0, 4, 10),
    (0, 3, 10), (0, 4, 11), (0, 2, 4, 7, 10), (0, 2, 3, 7, 10), (0, 2, 4, 7, 11), (0, 5, 7),
)  # fmt: skip
_IS_CHORD = found_in(np.arange(1 << 12), [sum(1 << t for t in tones) for tones in _CHORDS])


@record(eq=False, kw_only=True)
class ShiftedStretches:
    """Stretches of a bass part that lie off the other parts, columns [s] in order of time.

    ``start``, ``end`` int64 ticks; ``part`` int64 index into song.parts; ``semitones`` int64: how
    far the part lies above (or, negative, below) where it fits; ``certainty`` float64 0..1: the
    chance of that shift among the twelve; ``whole`` bool: the part lies off from its first note
    to its last; ``support`` float64 0..1: mean support of its notes where it fits, of whole parts.
    """

    start: Ints
    end: Ints
    part: Ints
    semitones: Ints
    certainty: Floats
    whole: NDArray[np.bool_]
    support: Floats

    def only(self, rows: NDArray[np.bool_]) -> ShiftedStretches:
        """The stretches that ``rows`` marks, [s]."""
        return ShiftedStretches(**{name: getattr(self, name)[rows] for name in _COLUMNS})


_COLUMNS = ("start", "end", "part", "semitones", "certainty", "whole", "support")


def hear_shifts(bass: Notes, around: Accompaniment, root: Ints, grid: BarGrid) -> ShiftedStretches:
    """Stretches of the bass parts that lie semitones off what ``around`` says the others sound.

    ``bass``: [m] notes in order of time; ``root``: chord root of each, −1 where none is told.
    """
    weight = _weight(bass, around, grid.division)
    parts = bass.parts
    asked = [part for part in parts if _may_lie_off(bass, around, root, weight, part, grid)]
    if not asked:
        return _NONE
    rows: list[_Row] = []
    value, _ = fit_of_notes(bass, around, root, grid.division)
    for part in asked:
        mine = np.flatnonzero((bass.part == part) & (weight > 0))
        total, whole = value[mine].sum(axis=0)[None], weight[mine].sum()[None]
        shift, chance, likely = _best_shift(total, whole, np.array([len(mine)]), PART)
        if likely[0] and _moves_enough(bass.pitch[mine], int(shift[0])):
            first, last = int(bass.start[mine[0]]), int(bass.end[mine].max())
            fits = float(total[0, AS_WRITTEN + int(shift[0]), 0] / whole[0])
            rows.append((first, last, part, -int(shift[0]), float(chance[0]), True, fits))
        else:
            rows += _in_stretches(bass, mine, value, weight, grid)
    return _table(sorted(rows))


def _table(rows: list[_Row]) -> ShiftedStretches:
    table = list(zip(*rows, strict=True)) if rows else [()] * len(_COLUMNS)
    return ShiftedStretches(
        start=np.array(table[0], dtype=np.int64),
        end=np.array(table[1], dtype=np.int64),
        part=np.array(table[2], dtype=np.int64),
        semitones=np.array(table[3], dtype=np.int64),
        certainty=np.array(table[4], dtype=np.float64),
        whole=np.array(table[5], dtype=bool),
        support=np.array(table[6], dtype=np.float64),
    )


_NONE = _table([])


def _may_lie_off(
    bass: Notes, around: Accompaniment, root: Ints, weight: Floats, part: int, grid: BarGrid
) -> bool:
    """Whether a shift of a part, or of a stretch, could be told: bounds of what it could gain.

    A stretch gains at most what others do not sound of it as written. All of the part gains that,
    less rub, which only such notes have, and roots where it meets none.
    """
    mine = np.where(bass.part == part, weight, 0.0)
    lacking = mine * (1.0 - around.at(0, bass.pitch))
    bar, bars = grid.bar_of(bass.start), grid.bars + _LARGEST
    total, lacks = (
        sums_to(np.bincount(bar, each, bars).astype(np.float64)) for each in (mine, lacking)
    )
    for size, _, limits in _WINDOWS:
        held, lost = total[size:] - total[:-size], lacks[size:] - lacks[:-size]
        enough = held >= limits.quarters - TINY
        if np.count_nonzero(enough & (lost >= (1.0 - limits.most) * held - TINY)):
            return True
    roots = float(mine @ (bass.pitch % 12 == root))
    support, rub, root_met = WEIGHTS.tolist()
    gain = (support - rub / (1.0 - _RUBS_UNLESS)) * lacks[-1] + root_met * (total[-1] - 2.0 * roots)
    return bool(gain >= PART.lead * total[-1])


def _weight(bass: Notes, around: Accompaniment, division: int) -> Floats:
    """How much each note counts, [m]: its quarters up to a bound, 0 where nothing else sounds."""
    length = np.minimum((bass.end - bass.start) / division, _LONGEST)
    return length * around.share.any(axis=1)


def fit_of_notes(
    bass: Notes, around: Accompaniment, root: Ints, division: int
) -> tuple[Floats, Floats]:
    """How well each note fits under each shift, [m, 12, 3] as support, rub, root, and its weight.

    The fit is times the weight already, which is how long the note lasts, up to a bound.
    """
    share, tone = around.share, bass.pitch.astype(np.int64) % 12
    around_it = (tone[:, None] + _WITH_NEIGHBOURS) % 12
    turned = share[np.arange(len(tone))[:, None], around_it]  # one gather for a tone and beside it
    moved, own = around_it[:, 1:-1], turned[:, 1:-1]
    rub = np.maximum(turned[:, 2:], turned[:, :-2]) * (own < _RUBS_UNLESS)
    sounds = (share >= _SOUNDS).astype(np.int64)
    mask = (sounds @ (1 << np.arange(12)))[:, None]
    bits = ((mask >> moved) | (mask << (12 - moved))) & (len(_IS_CHORD) - 1) | 1  # from the bass up
    chord = _IS_CHORD[bits] & (sounds.sum(axis=1)[:, None] > 1)
    meets = (root[:, None] == moved) & (root[:, None] >= 0)
    value = np.empty((len(tone), len(SHIFTS), 3))
    value[:, :, 0], value[:, :, 1], value[:, :, 2] = np.maximum(own, _CHORD * chord), rub, meets
    weight = _weight(bass, around, division)
    value *= weight[:, None, None]
    return value, weight


def lead_of(mean: Floats, semitones: int) -> float:
    """Log odds for a line moved by ``semitones`` over the line as written; ``mean`` [12, 3]."""
    moved = (semitones + AS_WRITTEN) % len(SHIFTS)
    return float((mean[moved] - mean[AS_WRITTEN]) @ WEIGHTS)


def _best_shift(
    total: Floats, whole: Floats, count: Ints, limits: _Limits
) -> tuple[Ints, Floats, NDArray[np.bool_]]:
    """The best shift of groups of notes, its chance, and whether it is likely enough, [g] each.

    ``total`` [g, 12, 3]: summed weighted fit of each group; ``whole`` [g] its weight; ``count`` [g]
    its notes. A group is told none where it is right as it is, or too small.
    """
    mean = total / np.maximum(whole, TINY)[:, None, None]
    odds = mean @ WEIGHTS
    best = np.argmax(odds, axis=1)
    row = np.arange(len(best))
    least = limits.lead + limits.farther * (np.abs(SHIFTS[best]) > STEP)
    likely = (count >= limits.notes) & (whole >= limits.quarters)
    lead = odds[row, best] - odds[:, AS_WRITTEN]
    fit = np.where(lead >= limits.far_ahead, _POOR_FIT, LEAST_FIT)
    likely &= (
        (lead >= least) & (mean[row, best, 0] >= fit) & (mean[:, AS_WRITTEN, 0] <= limits.most)
    )
    chance = 1.0 / np.exp(odds - odds[row, best][:, None]).sum(axis=1)
    return SHIFTS[best], chance, likely


def fewest_tones(semitones: int) -> int:
    """How many pitch classes notes must have for such a shift of them to be told."""
    return _FEWEST_TONES[min(abs(semitones), len(_FEWEST_TONES) - 1)]


def _moves_enough(pitch: NDArray[np.int16], semitones: int) -> bool:
    return len(distinct(pitch % 12)) >= fewest_tones(semitones)


def _in_stretches(
    bass: Notes, mine: NDArray[np.intp], value: Floats, weight: Floats, grid: BarGrid
) -> list[_Row]:
    """Stretches of four bars and more that ask for a shift, neighbours that ask for one joined."""
    if not len(mine):
        return []
    bar, worth = grid.bar_of(bass.start[mine]), value[mine]
    so_far = sums_to(weight[mine]), sums_to(worth[:, AS_WRITTEN, 0])
    asking = [
        row
        for size, hop, limits in _WINDOWS
        for row in _windows(worth, so_far, bar, np.arange(0, grid.bars, hop), size, limits)
    ]
    part, rows, free_from = int(bass.part[mine[0]]), [], 0
    for begin, end, by, sure in joined(asking, grid.bars):
        better = (worth[:, AS_WRITTEN + by] - worth[:, AS_WRITTEN]) @ WEIGHTS
        gain = np.bincount(bar, better, grid.bars).astype(np.float64)[begin:end]
        first, last = (begin + edge for edge in best_run(gain))
        inside = mine[(bar >= first) & (bar < last)]
        if last - first < _SHORTEST or first < free_from:
            continue
        if len(distinct(bass.pitch[inside] % 12)) >= max(fewest_tones(by), _LEAST_TONES):
            start, end = int(grid.start[first]), int(grid.start[last])
            rows.append((start, end, part, -by, sure, False, 0.0))
            free_from = last
    return rows


def _windows(
    value: Floats,
    so_far: tuple[Floats, Floats],
    bar: Ints,
    first: Ints,
    size: int,
    limits: _Limits,
) -> list[tuple[int, int, int, float]]:
    """Windows of ``size`` bars from ``first`` on that ask for a shift: bars, shift and chance.

    ``value`` [n, 12, 3] of a part's notes, ``bar`` [n] in which they begin; ``so_far`` [n + 1]:
    their weight up to each, and their support as written.
    """
    edges = bar.searchsorted((first, first + size))
    held, everything = sums_between(so_far[0], edges)
    as_written, support = sums_between(so_far[1], edges)
    # the other shifts are not asked of windows that fit, or do not stand out
    odd = np.flatnonzero(
        (as_written <= limits.most * held)
        & (support - as_written >= _REST_FITS * np.maximum(everything - held, TINY))
    )
    if not len(odd):
        return []
    inside, _ = sums_between(sums_to(value), edges[:, odd])
    shift, chance, likely = _best_shift(inside, held[odd], (edges[1] - edges[0])[odd], limits)
    return [
        (int(first[odd[row]]), int(first[odd[row]]) + size, int(shift[row]), float(chance[row]))
        for row in np.flatnonzero(likely).tolist()
    ]
