"""What does each bar hold, and which bars hold the same?

Bars are compared by what they play (lead line, harmony, drums, bass), each in its own layer, as in
self-similarity analysis of form (Foote 2000, "Automatic audio segmentation using a measure of
audio novelty"). Positions are shares of the bar, so any meter works, and pitches are pitch classes
compared with each other only, so a transposed song reads the same.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.hear.sounding import sounding_per_cell
from basslint.song.arrangement import Notes
from basslint.song.timing import BarGrid
from basslint.theory.general_midi import KEYS
from basslint.util.columns import TINY, differences, distinct, rows_where, turns, within
from basslint.util.records import record

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]  # ample for what a bar holds, and twice as fast

SLOTS = 16  # onset places in a bar: sixteenths of a common 4/4 bar
_CELLS = 4  # harmony is summed over quarters of a bar: chords rarely change faster
_DRUM_LINES = 8  # the drums hit most often get a line each, the last line takes all others
_HALF_SLOT = 0.5 / SLOTS  # bars: an onset so early is on time
_RINGS_ON = 0.5  # bars: a note that rings on for so long adds no bar
_HALF_BAR = 0.5  # bars: an onset so late or early is near the bar's first beat
_BLUR = 0.5  # an onset a slot early or late is half the same: singers and players vary
_ALONE = 0.9  # a line whose notes start alone this often is a melody: the rest are grace notes
_AUDIBLE = 0.1  # share of a quarter of a bar; less is the end of a note from before
_REST = 2  # bars
_EARLY = 0.125  # quarters
_LONGEST_GAP = 2.0  # bars; a longer silence says no more
# How much each layer says about "the same again". The lead tells verses from choruses, chords
# often repeat under both; drums and bass loop all through a song. Only the relation of lead and
# harmony could be measured (flat between 1:1 and 2:1), the others are common practice, no source.
_WEIGHTS = {"lead": 0.65, "harmony": 0.35, "drums": 0.2, "bass": 0.2}
_ROLES = ("melody", "harmony", "other", "bass", "drums")
_MELODY, _BASS, _DRUMS = map(_ROLES.index, ("melody", "bass", "drums"))


@record(eq=False)
class Layer:
    """What one role plays: ``vectors`` [b, d], a row of unit length a bar, zero where silent.

    ``sounds`` bool [b]: where it is not.
    """

    role: str
    vectors: Singles
    sounds: NDArray[np.bool_]

    @property
    def weight(self) -> float:
        """How much the layer says about "the same again"."""
        return _WEIGHTS[self.role]


@record(eq=False, kw_only=True)
class Bars:
    """The sounding bars of a song, from the first to the last bar with a note.

    ``first``: the song's bar of row 0. ``struck``: last row in which a note begins. ``layers``: one
    for each role that occurs. ``lead`` bool [b]: whether the lead plays, None where the song has no
    lead. ``backing`` bool [b, r]: whether harmony, bass and drums play, a column for each of them
    that occurs. ``gap`` float [b]: the longest wait between two onsets of the lead, in bars, that
    ends around the bar's first beat (half a bar early to half a bar late). ``busy`` float [b]: lead
    onsets per slot in the second half of the bar before. ``seconds`` float [b]: length of the bar.
    """

    first: int
    struck: int
    layers: tuple[Layer, ...]
    lead: NDArray[np.bool_] | None
    backing: NDArray[np.bool_]
    gap: Floats
    busy: Floats
    seconds: Floats

    def __len__(self) -> int:
        return len(self.gap)


def describe_bars(
    notes: Notes, role: Sequence[str], grid: BarGrid, bar_seconds: Floats
) -> Bars | None:
    """Describe the sounding bars; None where no note sounds.

    ``role``: role of each part. ``bar_seconds`` [bars]: length of each of the grid's bars.
    """
    if not len(notes):
        return None
    begin, end = _place(np.array((notes.start, notes.end)), grid)
    first = min(int(begin.min() + _HALF_SLOT), grid.bars - 1)  # a little early is on time
    begin = begin - first
    end = np.maximum(end - first, begin)
    # a note that rings on for half a bar or less adds no bar
    struck = int(begin.max())
    count = min(max(struck + 1, int(np.ceil(end.max() - _RINGS_ON))), grid.bars - first)
    pitch = notes.pitch.astype(np.int64)
    kind = np.array([_ROLES.index(r) for r in role], dtype=np.int8)[notes.part]
    melodic = rows_where(kind < _BASS)
    carries = _find_lead(begin[melodic], pitch[melodic], notes.part[melodic], kind[melodic])
    lead, under = melodic[carries], melodic[~carries]
    bass, drums = rows_where(kind == _BASS), rows_where(kind == _DRUMS)
    chords = under if len(under) else melodic
    held: list[tuple[str, Singles]] = []
    for name, rows in (("lead", lead), ("bass", bass)):
        if len(rows):
            held.append((name, _onsets(begin[rows], pitch[rows] % 12, 12, count)))
    if len(chords):
        chroma = _sounding(begin[chords], end[chords], pitch[chords] % 12, 12, count)
        held.append(("harmony", chroma.reshape(count, -1).astype(np.float32)))
    if len(drums):
        line = _drum_lines(pitch[drums] + KEYS * notes.part[drums])
        held.append(("drums", _onsets(begin[drums], line, _DRUM_LINES, count)))
    group = np.zeros(len(notes), dtype=np.int64)
    group[under], group[bass], group[drums] = 1, 2, 3  # no note is of two; the lead's are 0
    plays = _plays(begin, end, group, 4, count)
    backing = [k for k, rows in enumerate((under, bass, drums), start=1) if len(rows)]
    gap, busy = _lead_gaps(begin[lead], count)
    return Bars(
        first=first,
        struck=min(struck, count - 1),
        layers=tuple(_layer(name, vectors) for name, vectors in held),
        lead=plays[:, 0] if len(lead) else None,
        backing=plays[:, backing],
        gap=gap,
        busy=busy,
        seconds=bar_seconds[first : first + count],
    )


def bar_of_onset(onset: NDArray[np.int64], grid: BarGrid) -> NDArray[np.int64]:
    """Bar of each onset (ticks): a thirty-second and less before a bar line is early, no pickup."""
    return grid.bar_of(onset + int(_EARLY * grid.division))


def _place(tick: NDArray[np.int64], grid: BarGrid) -> Floats:
    """Ticks as bars and shares of a bar from the song's start."""
    bar = grid.bar_of(tick)
    begin = grid.start[bar]
    return np.asarray(bar + (tick - begin) / np.maximum(grid.start[bar + 1] - begin, 1))


def _find_lead(
    begin: Floats, pitch: NDArray[np.int64], part: NDArray[np.int32], kind: NDArray[np.int8]
) -> NDArray[np.bool_]:
    """Mask of the notes that carry the melody, of those of parts other than bass and drums.

    The melody parts; where there is none, the highest part that plays one note at a time; where
    there is none of those, the top note of each onset of all. ``kind``: row of `_ROLES`.
    """
    lead: NDArray[np.bool_] = kind == _MELODY
    if lead.any() or not len(part):
        return lead
    slot = np.rint(begin * SLOTS).astype(np.int64)
    span = int(slot.max()) + 1
    struck = distinct(part * np.int64(span) + slot)  # chords once
    onsets = np.bincount(struck // span)
    hits = np.bincount(part)
    alone = onsets / np.maximum(hits, 1) >= _ALONE
    if alone.any():
        mean = np.bincount(part, pitch) / np.maximum(hits, 1)
        return np.asarray(part == np.where(alone, mean, -1.0).argmax())
    rows = np.lexsort((-pitch, slot))
    top = np.zeros(len(part), dtype=bool)
    top[rows[turns(slot[rows])]] = True
    return top


def _onsets(begin: Floats, line: NDArray[np.int64], lines: int, count: int) -> Singles:
    """Onset grid [count, SLOTS * lines], blurred over neighbouring slots."""
    slot = within(np.rint(begin * SLOTS).astype(np.int64), 0, count * SLOTS - 1)
    grid = np.zeros((count * SLOTS, lines), dtype=np.float32)
    grid[slot, line] = 1.0
    near = _BLUR * grid
    grid[1:] += near[:-1]
    grid[:-1] += near[1:]
    blurred = grid.reshape(count, SLOTS * lines)
    silent = np.ones(count, dtype=bool)
    silent[slot // SLOTS] = False
    blurred[silent] = 0.0  # a bar without onsets stays silent, whatever its neighbours' blur
    return blurred


def _sounding(
    begin: Floats, end: Floats, line: NDArray[np.int64] | int, lines: int, count: int
) -> Floats:
    """How long each line sounds in each quarter of a bar, [count * _CELLS, lines]."""
    cells = count * _CELLS
    at = np.minimum(np.maximum(np.array((begin, end)) * _CELLS, 0.0), cells)
    cell = np.minimum(at.astype(np.int64), cells - 1)
    return np.maximum(sounding_per_cell((cell, at - cell), line, lines, cells), 0.0)


def _drum_lines(key: NDArray[np.int64]) -> NDArray[np.int64]:
    """Number the drums by how often they are hit; the rare ones share the last line."""
    hits = np.bincount(key)
    used = rows_where(hits)
    rank = np.zeros(len(hits), dtype=np.int64)
    rank[used[(-hits[used]).argsort(kind="stable")]] = np.arange(len(used))
    return np.minimum(rank[key], _DRUM_LINES - 1)


def _layer(role: str, vectors: Singles) -> Layer:
    """A layer of rows scaled to unit length; rows without content stay zero."""
    norm = np.sqrt(np.einsum("ij,ij->i", vectors, vectors))
    sounds = norm > TINY
    scale = np.where(sounds, 1.0 / np.maximum(norm, TINY), 0.0)
    return Layer(role, np.asarray(vectors * scale[:, None], dtype=np.float32), sounds)


def _plays(
    begin: Floats, end: Floats, group: NDArray[np.int64], groups: int, count: int
) -> NDArray[np.bool_]:
    """Bars in which each group of notes plays, [count, groups]; ``group``: of each note.

    It must sound in the bar's first half: what begins later leads into the next bar (a pickup, a
    fill). Rests of up to two bars between bars that play are rests of the line, no change of it.
    """
    begin = begin + _HALF_SLOT  # an onset just before the bar line belongs after it
    end = np.maximum(end, begin + 1 / SLOTS)
    sound = _sounding(begin, end, group, groups, count).reshape(count, _CELLS, groups)
    plays = np.logical_or.reduce(sound[:, : _CELLS // 2] > _AUDIBLE, axis=1)
    bar = np.arange(count)[:, None]
    before = np.maximum.accumulate(np.where(plays, bar, -_REST - 2))
    after = np.minimum.accumulate(np.where(plays, bar, count + _REST + 1)[::-1])[::-1]
    return np.asarray(after - before <= _REST + 1)


def _lead_gaps(begin: Floats, count: int) -> tuple[Floats, Floats]:
    """`Bars.gap` and `Bars.busy`."""
    gap = np.zeros(count)
    onset = distinct(np.rint(begin * SLOTS)) / SLOTS
    if len(onset):
        wait = np.concatenate(([_LONGEST_GAP], np.minimum(differences(onset), _LONGEST_GAP)))
        bar = np.floor(onset + _HALF_BAR).astype(np.int64)
        inside = bar < count
        np.maximum.at(gap, bar[inside], wait[inside])
        slot = np.minimum(onset * SLOTS, count * SLOTS - 1).astype(np.int64)
        hits = np.bincount(slot, minlength=count * SLOTS).reshape(count, SLOTS)
        late = np.add.reduce(hits[:, SLOTS // 2 :], axis=1) / (SLOTS - SLOTS // 2)
        return gap, np.concatenate(([0.0], late[:-1]))
    return gap, np.zeros(count)
