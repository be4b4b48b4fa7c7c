"""Which of the bass patterns heard again and again does the line play, and in which bars?

One root all through (``root-pedal``) or following each chord's root (``root-follow``); the root
and one other note (``two-note``), where it is the octave ``octave``; the root for four bars, a
step down for two, another step down for two, or the same going up (``stepwise``); else ``mixed``.
Common practice, no source.
"""

from __future__ import annotations

from itertools import pairwise, product
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear.form.bars import bar_of_onset
from basslint.hear.harmony.sources import Roots
from basslint.song.arrangement import Notes, Song
from basslint.song.timing import BarGrid
from basslint.util.columns import distinct, ends_of, found_in, row_at, rows_where, turns, within
from basslint.util.records import record

if TYPE_CHECKING:
    from basslint.hear.form.phrases import Phrases

KINDS = ("root-pedal", "root-follow", "two-note", "octave", "stepwise", "mixed")
_PEDAL, _FOLLOW, _TWO, _OCTAVE, _STEPWISE, _MIXED = range(6)

Floats = NDArray[np.float64]

_WINDOW = 4  # bars: the unit in which lines repeat; two make the stepwise pattern's eight
_CARRIES = 0.85  # share of its time that a line must spend on a pattern: the rest are ornaments
_OTHER = 0.1  # share from which a second note or register is part of the line, not an ornament
_ROOTED = 0.2  # share of its time that one of two notes must be the chord's root
_KNOWN = 0.5  # share of its time under roots from which a line is judged by them
_IN_USE = 0.05  # share of the song from which a root belongs to it: a passing chord does not
_ONE_CHORD = 4  # quarters: a note held for longer may belong to several chords
_MIXED_DOUBT = 0.5  # a mixed line is the less sure, the nearer it comes to one root or to all
_BARS_PER_SLIP = 8  # one bar of so many may be a slip or a roll
_OCTAVES = 11  # of MIDI numbers, the last one not whole
_MAIN = 0.7  # share of a bar from which one pitch class stands for the bar
_LEAST_PIECES = 64  # of one note: no note is cut short before this
_MOST_PIECES = 200_000  # bounds time and memory where notes last for hundreds of chords
_STEP_WAY = np.array([0, 1, 1, 0, 0, 0, 0, 0, 0, 0, -1, -1])  # of an interval: up a step, down one


@record(eq=False)
class Pattern:
    """Stretches of bars with one kind of bass line, in order, without overlap; columns [n].

    ``start_bar`` int64: the first bar, from 0; ``end_bar`` int64: the bar after the last; ``kind``:
    one of `KINDS`; ``certainty`` float64 0–1: share of the line's time that the pattern explains,
    times the certainty of the roots where it leans on them. Bars without bass have no row.
    """

    start_bar: NDArray[np.int64]
    end_bar: NDArray[np.int64]
    kind: tuple[str, ...]
    certainty: Floats

    def __len__(self) -> int:
        return len(self.start_bar)

    def row_at(self, bar: NDArray[np.int64]) -> NDArray[np.int64]:
        """Row that holds each bar (from 0), −1 where none does."""
        return row_at(self.start_bar, self.end_bar, bar)

    def row_of(self, onset: NDArray[np.int64], grid: BarGrid) -> NDArray[np.int64]:
        """Row that holds each onset (ticks), −1 where none does; see `bar_of_onset`."""
        return self.row_at(bar_of_onset(onset, grid))


def hear_pattern(
    song: Song, bass: Notes, roots: Roots, chords: NDArray[np.intp], phrases: Phrases
) -> Pattern:
    """Name the bass pattern of every four bars of each phrase, equal neighbours joined.

    ``bass`` holds the notes of the bass parts in order of time; ``chords`` [m]: the row of
    ``roots`` that each belongs to, as from `hear.cover.chord_rows`. Linear in notes, roots, bars.
    """
    if not len(bass):
        none = np.zeros(0, dtype=np.int64)
        return Pattern(none, none, (), np.zeros(0))
    begin, end, paired = _windows(song.grid.bars, phrases)
    pieces = _pieces(song, bass, roots, chords, begin)
    kind, certainty = _kinds(pieces, len(begin), _roots_in_use(roots))
    _find_stepwise(song, bass, begin, end, paired, kind, certainty)
    return _joined(begin, end, kind, certainty, pieces)


def _windows(
    bars: int, phrases: Phrases
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """First bar, bar after the last, and whether the next window completes eight bars with it."""
    cuts = np.concatenate(([0, bars], phrases.start_bar, phrases.end_bar))
    cuts = distinct(within(cuts, 0, bars))
    stretches = pairwise(cuts.tolist())
    begin = np.array([bar for a, b in stretches for bar in range(a, b, _WINDOW)], dtype=np.int64)
    end = ends_of(begin, bars)
    whole = end - begin == _WINDOW
    # eight bars of a bass over one chord may well be heard as two phrases of four
    phrase = cuts.searchsorted(begin, side="right")
    starts = found_in(begin, cuts)
    paired = np.concatenate(
        (whole[:-1] & whole[1:] & (starts[:-1] | (phrase[1:] == phrase[:-1])), [False])
    )
    return begin, end, paired


@record(eq=False, kw_only=True)
class _Pieces:
    """Bass notes cut at window lines and root changes, columns [k]."""

    window: NDArray[np.int64]
    pitch: NDArray[np.int64]
    root: NDArray[np.int64]  # pitch class, −1 where none is told
    certainty: Floats  # of the root
    weight: Floats  # ticks


def _pieces(
    song: Song, bass: Notes, roots: Roots, chords: NDArray[np.intp], begin: NDArray[np.int64]
) -> _Pieces:
    lines = song.grid.start[begin]
    edges = distinct(np.concatenate((lines, roots.start, roots.end)))
    stop = np.maximum(bass.end, bass.start + 1)
    first = edges.searchsorted(bass.start, side="right")
    most = max(_LEAST_PIECES, _MOST_PIECES // len(bass))
    count = within(edges.searchsorted(stop, side="left") - first + 1, 1, most)
    note = np.arange(len(bass)).repeat(count)
    nth = np.arange(len(note)) - np.repeat(count.cumsum() - count, count) + first[note]
    padded = np.concatenate(([0], edges, [max(int(stop.max()), int(edges[-1])) + 1]))
    start = np.maximum(padded[nth], bass.start[note])
    weight = (np.minimum(padded[nth + 1], stop[note]) - start).astype(np.float64)
    # a note belongs to one chord as a whole, unless it is held for longer than a bar
    whole = (stop - bass.start <= _ONE_CHORD * song.division)[note]
    row = np.where(whole, chords[note], row_at(roots.start, roots.end, start))
    has_root = row >= 0
    root, certainty = np.full(len(note), -1, dtype=np.int64), np.zeros(len(note))
    root[has_root] = roots.root[row[has_root]]
    certainty[has_root] = roots.certainty[row[has_root]]
    window = lines.searchsorted(start, side="right") - 1
    return _Pieces(
        window=window,
        pitch=bass.pitch[note].astype(np.int64),
        root=root,
        certainty=certainty,
        weight=weight,
    )


def _roots_in_use(roots: Roots) -> NDArray[np.bool_]:
    """Pitch classes that are a root for long enough to belong to the song, [12]; all if none is."""
    has_root = roots.root >= 0
    length = (roots.end - roots.start)[has_root]
    held = np.bincount(roots.root[has_root], weights=length, minlength=12)
    return np.asarray(held >= _IN_USE * held.sum())


def _kinds(p: _Pieces, windows: int, in_use: NDArray[np.bool_]) -> tuple[NDArray[np.int64], Floats]:
    """Kind and certainty of each window, −1 where no bass sounds; ``stepwise`` comes later.

    ``in_use`` [12]: pitch classes that are roots in this song.
    """

    def table(column: NDArray[np.int64], width: int, rows: NDArray[np.bool_]) -> Floats:
        key = p.window[rows] * width + column[rows]
        flat = np.bincount(key, weights=p.weight[rows], minlength=windows * width)
        return np.asarray(flat.reshape(windows, width), dtype=np.float64)

    every = np.ones(len(p.window), dtype=bool)
    has_root = p.root >= 0
    total = np.bincount(p.window, weights=p.weight, minlength=windows)
    safe = np.maximum(total, 1.0)
    by_pitch = table(p.pitch, 12 * _OCTAVES, every).reshape(windows, _OCTAVES, 12)
    by_class = by_pitch.sum(axis=1)
    shares = np.sort(by_class, axis=1)[:, ::-1] / safe[:, None]
    one, two = shares[:, 0], shares[:, 0] + shares[:, 1]
    upper = (by_class - by_pitch.max(axis=1)).sum(axis=1) / safe  # in a second register

    roots = table(p.root, 12, has_root)
    under = roots.sum(axis=1)
    known = under >= _KNOWN * total
    degree = np.where(has_root, (p.pitch - p.root) % 12, 0)
    by_root = table(p.root * 12 + degree, 12 * 12, has_root).reshape(windows, 12, 12)
    degrees = by_root.sum(axis=1) / np.maximum(under, 1.0)[:, None]
    follows = np.where(known, degrees[:, 0], 0.0)
    other = degrees[:, 1:].argmax(axis=1) + 1
    at = np.arange(windows)
    with_other = follows + np.where(known, degrees[at, other], 0.0)
    # the same other note under half of the roots or more, beside each of them
    beside = ((by_root[:, :, 0] > 0) & (by_root[at, :, other] > 0)).sum(axis=1)
    alike = 2 * beside >= (roots > 0).sum(axis=1)
    sure = np.bincount(p.window, weights=p.weight * p.certainty, minlength=windows)
    sure = np.where(known, sure / np.maximum(under, 1.0), 0.0)
    top = by_class.argmax(axis=1)
    pedal = (one >= _CARRIES) & (~known | in_use[top])

    kind = np.full(windows, _MIXED)
    certainty = 1.0 - np.maximum(np.maximum(one, follows), 0.0) * _MIXED_DOUBT
    choices = (  # the last that fits wins
        (_TWO, (two >= _CARRIES) & (shares[:, 1] >= _OTHER) & (~known | (follows >= _ROOTED)), two),
        (_TWO, (with_other >= _CARRIES) & alike & (one < _CARRIES), with_other * sure),
        (_FOLLOW, follows >= _CARRIES, follows * sure),
        (_PEDAL, pedal, one),
        (_OCTAVE, ((follows >= _CARRIES) | pedal) & (upper >= _OTHER), np.maximum(follows, one)),
    )
    for which, fits, how_sure in choices:
        kind = np.where(fits, which, kind)
        certainty = np.where(fits, how_sure, certainty)
    return np.where(total > 0, kind, -1), certainty


def _find_stepwise(
    song: Song,
    bass: Notes,
    begin: NDArray[np.int64],
    end: NDArray[np.int64],
    paired: NDArray[np.bool_],
    kind: NDArray[np.int64],
    certainty: Floats,
) -> None:
    """Mark the windows whose bars stand 2 : 1 : 1 on notes a step apart, one way, in place."""
    grid = song.grid
    bar = bar_of_onset(bass.start, grid)
    length = np.maximum(np.minimum(bass.end, grid.start[bar + 1]) - bass.start, 1)
    held = np.bincount(bar * 12 + bass.pitch % 12, weights=length, minlength=grid.bars * 12)
    held = held.reshape(grid.bars, 12)
    share = held.max(axis=1) / np.maximum(held.sum(axis=1), 1.0)
    main = np.where(share >= _MAIN, held.argmax(axis=1), -1)
    # a bar in which nothing is struck goes on with the note before, where there was one
    struck = held.sum(axis=1) > 0
    last = np.maximum.accumulate(np.where(struck, np.arange(grid.bars), 0))
    main, share = main[last], share[last]
    for windows, bars in (
        (rows_where(end - begin == _WINDOW), _WINDOW),
        (rows_where(paired), 2 * _WINDOW),
    ):
        rows = begin[windows][:, None] + np.arange(bars)
        fits = _steps_down_or_up(main[rows])
        if not np.count_nonzero(fits):
            continue
        found = windows[fits]
        for offset in range(bars // _WINDOW):
            kind[found + offset] = _STEPWISE
            certainty[found + offset] = share[rows[fits]].mean(axis=1)


def _steps_down_or_up(tones: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether the bars of each row stand 2 : 1 : 1 on tones a step apart, one way, [k].

    ``tones`` [k, 4 or 8]: the pitch class of each bar, −1 where none stands for it. One bar of
    eight may be a slip or a roll.
    """
    bars = tones.shape[1]
    half, quarter, odd = bars // 2, bars // 4, bars // _BARS_PER_SLIP
    # whichever bar is the odd one, one of the first two and one of each pair is none
    choice = list(product({0, odd}, {half, half + quarter - 1}, {half + quarter, bars - 1}))
    stand = tones[:, choice]  # [k, choices, 3]
    alike = (tones[:, None] == stand.repeat([half, quarter, quarter], axis=2)).sum(axis=2)
    way = _STEP_WAY[(stand[:, :, 1:] - stand[:, :, :-1]) % 12]
    steps = (way[..., 0] != 0) & (way[..., 0] == way[..., 1]) & (stand >= 0).all(axis=2)
    return np.asarray((steps & (alike >= bars - odd)).any(axis=1))


def _joined(
    begin: NDArray[np.int64],
    end: NDArray[np.int64],
    kind: NDArray[np.int64],
    certainty: Floats,
    pieces: _Pieces,
) -> Pattern:
    """Join neighbouring windows of one kind; leave out windows without bass."""
    new = turns(kind)
    first = rows_where(new)
    first = first[kind[first] >= 0]
    after = ends_of(rows_where(new), len(kind))
    after = after[kind[rows_where(new)] >= 0]
    weight = np.bincount(pieces.window, weights=pieces.weight, minlength=len(begin))
    weighed = np.concatenate(([0.0], (weight * certainty).cumsum()))
    total = np.concatenate(([0.0], weight.cumsum()))
    mean = (weighed[after] - weighed[first]) / np.maximum(total[after] - total[first], 1.0)
    return Pattern(
        begin[first],
        end[after - 1],
        tuple(KINDS[k] for k in kind[first].tolist()),
        mean.clip(0.0, 1.0),
    )
