"""What does each bar hold, and which bars hold the same?

Bars are compared by what they play (lead line, harmony, drums, bass), each in its own layer, as in
self-similarity analysis of form (Foote 2000, "Automatic audio segmentation using a measure of
audio novelty"). Positions are shares of the bar, so any meter works, and pitches are pitch classes
compared with each other only, so a transposed song reads the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

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
_LINES = 12  # of a layer: pitch classes, or drums
_DRUM_LINES = 8  # the drums hit most often get a line each, the last line takes all others
_HALF_SLOT = 0.5 / SLOTS  # bars: an onset so early is on time
_RINGS_ON = 0.5  # bars: a note that rings on for so long adds no bar
_BLUR = 0.5  # an onset a slot early or late is half the same: singers and players vary
_ALONE = 0.9  # a line whose notes start alone this often is a melody: the rest are grace notes
_AUDIBLE = 0.1  # share of a quarter of a bar; less is the end of a note from before
_REST = 2  # bars
_EARLY = 0.125  # quarters
_LONGEST_GAP = 2.0  # bars; a longer silence says no more
# How much each layer says about "the same again". The lead tells verses from choruses, chords
# often repeat under both; drums and bass loop all through a song. Only the relation of lead and
# harmony could be measured (flat between 1:1 and 2:1), the others are common practice, no source.
_WEIGHTS = {"lead": 0.65, "bass": 0.2, "harmony": 0.35, "drums": 0.2}
_ROLES = ("melody", "harmony", "other", "bass", "drums")
_GROUPS = 4  # of notes that come and go together: lead, what is under it, bass, drums
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
    both = begin, end = _place(np.array((notes.start, notes.end)), grid)
    first = min(int(np.minimum.reduce(begin) + _HALF_SLOT), grid.bars - 1)  # early is on time
    both -= first
    np.maximum(end, begin, out=end)
    # a note that rings on for half a bar or less adds no bar
    struck = int(np.maximum.reduce(begin))
    last = int(np.ceil(np.maximum.reduce(end) - _RINGS_ON))
    count = min(max(struck + 1, last), grid.bars - first)
    slot = np.rint(begin * SLOTS).astype(np.int64)
    pitch = notes.pitch.astype(np.int64)
    kind = np.array([_ROLES.index(r) for r in role], dtype=np.int8)[notes.part]
    melodic = rows_where(kind < _BASS)
    carries = _find_lead(slot[melodic], pitch[melodic], notes.part[melodic], kind[melodic])
    lead, under = melodic[carries], melodic[~carries]
    bass, drums = rows_where(kind == _BASS), rows_where(kind == _DRUMS)
    line = pitch % _LINES
    if len(drums):
        line[drums] = _drum_lines(pitch[drums] + KEYS * notes.part[drums])
    group = np.zeros(len(notes), dtype=np.int64)
    group[under], group[bass], group[drums] = 1, 2, 3  # no note is of two; the lead's are 0
    rows = {"lead": lead, "bass": bass, "drums": drums}
    rows = {name: mine for name, mine in rows.items() if len(mine)}
    layers = _layers(rows, _onsets([*rows.values()], slot, line, count))
    chords = under if len(under) else melodic
    chroma, plays = _heard(begin, end, chords, line[chords], group, count)
    if len(chords):
        layers |= _layers(("harmony",), chroma[None])
    gap, busy = _lead_gaps(slot[lead], count)
    return Bars(
        first=first,
        struck=min(struck, count - 1),
        layers=tuple([layers[name] for name in _WEIGHTS if name in layers]),
        lead=plays[:, 0] if len(lead) else None,
        backing=plays[
            :, [k for k, rows in enumerate((lead, under, bass, drums)) if k and len(rows)]
        ],
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
    length = np.maximum(differences(grid.start), 1)
    return np.asarray(bar + (tick - grid.start[bar]) / length[bar])


def _find_lead(
    slot: NDArray[np.int64],
    pitch: NDArray[np.int64],
    part: NDArray[np.int32],
    kind: NDArray[np.int8],
) -> NDArray[np.bool_]:
    """Mask of the notes that carry the melody, of those of parts other than bass and drums.

    The melody parts; where there is none, the highest part that plays one note at a time; where
    there is none of those, the top note of each onset of all. ``slot``: of a bar, from the first
    on; ``kind``: row of `_ROLES`.
    """
    lead: NDArray[np.bool_] = kind == _MELODY
    if np.count_nonzero(lead) or not len(part):
        return lead
    span = int(np.maximum.reduce(slot)) + 1
    struck = distinct(part * np.int64(span) + slot)  # chords once
    onsets = np.bincount(struck // span)
    hits = np.maximum(np.bincount(part), 1)
    alone = onsets / hits >= _ALONE
    if np.count_nonzero(alone):
        mean = np.bincount(part, pitch) / hits
        return np.asarray(part == np.where(alone, mean, -1.0).argmax())
    rows = np.lexsort((-pitch, slot))
    top = np.zeros(len(part), dtype=bool)
    top[rows[turns(slot[rows])]] = True
    return top


def _onsets(
    rows: Sequence[NDArray[np.intp]], slot: NDArray[np.int64], line: NDArray[np.int64], count: int
) -> Singles:
    """Onset grids of some layers, [layers, count, SLOTS * _LINES], blurred over neighbouring slots.

    ``rows``: of the notes of each layer; ``slot``, ``line``: of every note. All layers are laid at
    once, as wide as the widest: columns that stay silent are left out where bars are compared.
    """
    which = np.arange(len(rows)).repeat([len(mine) for mine in rows])
    notes = np.concatenate(rows)
    at = within(slot[notes], 0, count * SLOTS - 1)
    grid = np.zeros((len(rows), count * SLOTS, _LINES), dtype=np.float32)
    grid[which, at, line[notes]] = 1.0
    near = _BLUR * grid
    grid[:, 1:] += near[:, :-1]
    grid[:, :-1] += near[:, 1:]
    blurred = grid.reshape(len(rows), count, SLOTS * _LINES)
    silent = np.ones((len(rows), count), dtype=bool)
    silent[which, at // SLOTS] = False
    blurred[silent] = 0.0  # a bar without onsets stays silent, whatever its neighbours' blur
    return blurred


def _heard(
    begin: Floats,
    end: Floats,
    chords: NDArray[np.intp],
    tone: NDArray[np.int64],
    group: NDArray[np.int64],
    count: int,
) -> tuple[Singles, NDArray[np.bool_]]:
    """How long each pitch class of the ``chords``, [c] rows of notes with their ``tone``, sounds in
    each quarter of a bar, [count, _CELLS * _LINES], and `_plays` of each ``group`` of notes.

    Both in one table, in fewer calls than two.
    """
    late = begin + _HALF_SLOT  # an onset just before the bar line belongs after it
    at = np.empty((2, len(chords) + len(begin)))
    at[0, : len(chords)], at[0, len(chords) :] = begin[chords], late
    at[1, : len(chords)] = end[chords]
    np.maximum(end, late + 1 / SLOTS, out=at[1, len(chords) :])
    cells = count * _CELLS
    at = np.minimum(np.maximum(at * _CELLS, 0.0), cells)
    cell = np.minimum(at.astype(np.int64), cells - 1)
    line = np.concatenate((tone, group + _LINES))
    sounds = sounding_per_cell((cell, at - cell), line, _LINES + _GROUPS, cells)
    sounds = np.maximum(sounds, 0.0).reshape(count, _CELLS, -1)
    chroma = sounds[:, :, :_LINES].astype(np.float32).reshape(count, -1)
    return chroma, _plays(sounds[:, :, _LINES:])


def _drum_lines(key: NDArray[np.int64]) -> NDArray[np.int64]:
    """Number the drums by how often they are hit; the rare ones share the last line."""
    hits = np.bincount(key)
    used = rows_where(hits)
    rank = np.zeros(len(hits), dtype=np.int64)
    rank[used[(-hits[used]).argsort(kind="stable")]] = np.arange(len(used))
    return np.minimum(rank[key], _DRUM_LINES - 1)


def _layers(roles: Iterable[str], vectors: Singles) -> dict[str, Layer]:
    """Layers by role, their rows scaled to unit length; rows without content stay zero.

    ``vectors`` [layers, b, d], written over.
    """
    norm = np.sqrt(np.einsum("kij,kij->ki", vectors, vectors))
    sounds = norm > TINY
    vectors *= (sounds / np.maximum(norm, TINY))[:, :, None]
    return {role: Layer(role, *mine) for role, *mine in zip(roles, vectors, sounds, strict=True)}


def _plays(sounds: Floats) -> NDArray[np.bool_]:
    """Bars in which each group of notes plays, [count, groups]; ``sounds`` [count, _CELLS, groups].

    It must sound in the bar's first half: what begins later leads into the next bar (a pickup, a
    fill). Rests of up to two bars between bars that play are rests of the line, no change of it.
    """
    count = len(sounds)
    plays = np.logical_or.reduce(sounds[:, : _CELLS // 2] > _AUDIBLE, axis=1)
    bar = np.arange(count)[:, None]
    before = np.maximum.accumulate(np.where(plays, bar, -_REST - 2))
    after = np.minimum.accumulate(np.where(plays, bar, count + _REST + 1)[::-1])[::-1]
    return np.asarray(after - before <= _REST + 1)


def _lead_gaps(slot: NDArray[np.int64], count: int) -> tuple[Floats, Floats]:
    """`Bars.gap` and `Bars.busy`; ``slot``: of each note of the lead."""
    gap, busy = np.zeros(count), np.zeros(count)
    if len(slot):
        onset = distinct(slot)
        wait = np.empty(len(onset))
        wait[0] = _LONGEST_GAP
        np.minimum(differences(onset) / SLOTS, _LONGEST_GAP, out=wait[1:])
        bar = (onset + SLOTS // 2) // SLOTS  # half a bar early to half a bar late
        inside = bar < count
        np.maximum.at(gap, bar[inside], wait[inside])
        at = np.minimum(onset, count * SLOTS - 1)
        hits = np.bincount(at, minlength=count * SLOTS).reshape(count, SLOTS)
        late = np.add.reduce(hits[:, SLOTS // 2 :], axis=1) / (SLOTS - SLOTS // 2)
        busy[1:] = late[:-1]
    return gap, busy
