"""What does the harmony sound in each eighth note?

Chords change on beats and, in syncopated music, on the eighths between them: an eighth note is the
shortest stretch that gets a root of its own. Everything here is a fact of the notes, no opinion.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.sounding import Position, sounding_per_cell
from basslint.song.arrangement import Notes
from basslint.song.timing import BarGrid
from basslint.theory.general_midi import KEYS
from basslint.util.columns import (
    TINY,
    cell_of,
    differences,
    distinct,
    ends_of,
    parted,
    rows_where,
    turns,
)
from basslint.util.records import record

Floats = NDArray[np.float64]

BAR, HALF_BAR, BEAT, OFF_BEAT = 0, 1, 2, 3  # how strong the place is where a segment begins

_SNAP = 0.3  # of a segment: ragged playing (60 ms at 150 bpm) snaps, a triplet eighth (1/3) stays
_HEARD = 0.15  # of a segment a pitch must sound to count as its lowest: shorter is spill-over
LOW_REACH = 5.0  # semitones above the lowest pitch at which a note still counts 1/e as bass
DEEP, DEEP_RANGE = 62.0, 14.0  # below middle C a lowest note begins to act as a bass: all at C3
_EIGHTH, _QUARTER = 8, 4  # denominators of a meter
_HALVED = 4  # beats from which on a bar of an even number has a half bar
FULL_CHORD = 4  # pitches struck at once that make as strong an onset as any more
NEAR_LOWEST = 4  # semitones, a third: what is struck so near the lowest pitch stands for it
_TWO_BEATS = 4  # segments compared on either side of an edge
_BLOCK = 4096  # segments handled at a time: bounds memory whatever the file claims


@record(eq=False, kw_only=True)
class Segments:
    """One row per eighth note (a beat where the meter counts in eighths or less).

    ``edges`` int64 [n + 1] ticks. ``accent`` int8 [n], the metrical accent: `BAR`, `HALF_BAR`,
    `BEAT` or `OFF_BEAT`. ``bar`` int64 [n]: bar of each segment. ``sounding`` float [n, 12]: share
    of the segment in which a pitch class sounds; ``sounds`` bool [n]: where any does. ``struck``
    float [n, 12]: 1 where it is struck at the beginning. ``bass`` float [n, 12]: 1 at the lowest
    pitch of the beat, less for pitches above it. ``depth`` float [n]: 0 where the lowest pitch lies
    too high to act as a bass, 1 where it is low. ``attack`` float [n]: 1 where the beat's lowest
    pitch is struck. ``onsets`` float [n]: pitches struck at the beginning, 4 or more = 1.
    ``harmonic_change`` float [n]: how much the pitch classes of the two beats after the edge differ
    from the two before, 0..1.
    """

    edges: NDArray[np.int64]
    accent: NDArray[np.int8]
    bar: NDArray[np.int64]
    sounding: Floats
    sounds: NDArray[np.bool_]
    struck: Floats
    bass: Floats
    depth: Floats
    attack: Floats
    onsets: Floats
    harmonic_change: Floats

    def __len__(self) -> int:
        return len(self.accent)


def cut(notes: Notes, grid: BarGrid) -> Segments:
    """Describe the eighth notes of the whole song; ``notes`` are those of the harmony."""
    edges, accent, bar = eighths(grid)
    begin, end = _snap(notes.start, notes.end, edges)
    pitch = notes.pitch.astype(np.int64)
    heads = rows_where(accent != OFF_BEAT)
    blocks_at = heads.searchsorted(np.arange(0, len(accent), _BLOCK))
    cuts = heads[distinct(np.minimum(blocks_at, len(heads) - 1))]
    blocks = [
        _describe(
            begin,
            end,
            pitch,
            edges[first : last + 1],
            heads[(heads >= first) & (heads < last)] - first,
        )
        for first, last in zip(cuts, ends_of(cuts, len(accent)), strict=True)
    ]
    sounding, struck, bass, depth, attack, onsets = (
        np.concatenate(column) if len(blocks) > 1 else column[0]
        for column in zip(*blocks, strict=True)
    )
    return Segments(
        edges=edges,
        accent=accent,
        bar=bar,
        sounding=sounding,
        sounds=np.logical_or.reduce(sounding, axis=1),
        struck=struck,
        bass=bass,
        depth=depth,
        attack=attack,
        onsets=onsets,
        harmonic_change=harmonic_change(sounding),
    )


def eighths(grid: BarGrid) -> tuple[NDArray[np.int64], NDArray[np.int8], NDArray[np.int64]]:
    """Edges, metrical accent and bar of the segments of a grid."""
    bar_of_beat = grid.beat_bar
    numerator, unit = grid.numerator[bar_of_beat], grid.denominator[bar_of_beat]
    parts = np.maximum(_EIGHTH // unit, 1)
    first = grid.beats[:-1].repeat(parts)
    step = np.arange(len(first)) - (parts.cumsum() - parts).repeat(parts)
    length = differences(grid.beats).repeat(parts)
    many = parts.repeat(parts)
    edges = np.concatenate((first + step * length // many, [grid.beats[-1]]))
    # the beat one taps to: dotted in compound meters, else a quarter where the bar has whole ones
    tap = np.where((unit >= _EIGHTH) & (numerator % 3 == 0), 3, np.maximum(unit // _QUARTER, 1))
    tap = np.where(numerator % tap == 0, tap, 1)
    taps = numerator // tap
    place = grid.beat_in_bar
    half = (taps >= _HALVED) & (taps % 2 == 0) & (place * 2 == numerator)
    accent = np.where(
        place == 0, BAR, np.where(half, HALF_BAR, np.where(place % tap, OFF_BEAT, BEAT))
    )
    accent = np.where(step == 0, accent.repeat(parts), OFF_BEAT)
    # a resolution too coarse for eighths makes equal edges: the first, on the beat, stays
    keep = turns(edges[:-1])
    return (
        np.concatenate((edges[:-1][keep], [edges[-1]])).astype(np.int64),
        accent[keep].astype(np.int8),
        bar_of_beat.repeat(parts)[keep],
    )


def _snap(
    start: NDArray[np.int64], end: NDArray[np.int64], edges: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Move starts and ends that lie close to an edge onto it; a note keeps its length at least."""

    tick = np.array((start, end))
    row = cell_of(edges, tick)
    low, high = edges[row], edges[row + 1]
    reach = _SNAP * (high - low)
    down, up = tick - low <= reach, (high - tick <= reach) & (tick <= high)
    begin, stop = np.where(down, low, np.where(up, high, tick))
    return begin, np.where(stop > begin, stop, begin + np.maximum(end - start, 1))


def _describe(
    begin: NDArray[np.int64],
    end: NDArray[np.int64],
    pitch: NDArray[np.int64],
    lines: NDArray[np.int64],
    heads: NDArray[np.intp],
) -> tuple[Floats, ...]:
    """The columns of the segments between ``lines``; ``heads`` begin a beat."""
    n = len(lines) - 1
    inside = rows_where((begin < lines[-1]) & (end > lines[0]))
    begin, end, pitch = begin[inside], end[inside], pitch.take(inside)
    if not len(pitch):
        none, silent = np.zeros((n, 12)), np.zeros(n)
        return none, none, none, silent, silent, silent
    # whole octaves around what is played: fewer columns than all pitches
    base = int(pitch.min()) // 12 * 12
    octaves = int(pitch.max()) // 12 + 1 - base // 12
    width = 12 * octaves
    pitch -= base
    row, passed = _position(np.array((begin, end)), lines)
    held = sounding_per_cell((row, passed), pitch, width, n)
    np.minimum(np.maximum(held, 0.0, out=held), 1.0, out=held)
    sounding = held[:, :12].copy()
    for octave in range(12, width, 12):  # sums over a middle axis are many times as slow
        sounding += held[:, octave : octave + 12]
    np.minimum(sounding, 1.0, out=sounding)
    row = row[0]
    exact = lines[row] == begin
    hits = np.zeros((n, width), dtype=bool)
    hits[row[exact], pitch[exact]] = True
    hit_row, hit = parted(rows_where(hits), width)
    struck = np.zeros((n, 12))
    struck[hit_row, parted(hit, 12)[1]] = 1.0
    onsets = np.minimum(np.bincount(hit_row, minlength=n), FULL_CHORD) / FULL_CHORD
    # the bass of a broken chord is struck once a beat: look at the whole beat
    loud, many = held >= _HEARD, differences(np.concatenate((heads, [n])))
    heard = loud[heads]
    for step in range(1, int(many.max())):
        longer = many > step
        heard[longer] |= loud[heads[longer] + step]
    low = np.where(heard.any(axis=1), heard.argmax(axis=1) + base, KEYS)
    beat, place = parted(rows_where(heard), width)
    close = np.exp((low[beat] - place - base) / LOW_REACH)
    bass = np.zeros((len(heads), 12))
    # from the top down: of one pitch class, the lowest octave is written last and stays
    bass[beat[::-1], place[::-1] % 12] = close[::-1]
    low, bass = low.repeat(many), bass.repeat(many, axis=0)
    depth = np.minimum(np.maximum((DEEP - low) / DEEP_RANGE, 0.0), 1.0)
    attack = np.zeros(n)
    attack[hit_row[np.abs(hit + base - low[hit_row]) <= NEAR_LOWEST]] = 1.0
    return sounding, struck, bass, depth, attack, onsets


def _position(tick: NDArray[np.int64], lines: NDArray[np.int64]) -> Position:
    """The segment that each tick lies in, and the share of it that has passed."""
    row = cell_of(lines, tick)
    begin = lines[row]
    passed = (tick - begin) / (lines[row + 1] - begin)
    return row, np.minimum(np.maximum(passed, 0.0), 1.0)


def harmonic_change(sounding: Floats) -> Floats:
    """Cosine distance of the pitch classes four segments after each edge to four before."""
    n = len(sounding)
    reach = _TWO_BEATS
    total = np.zeros((n + 2 * reach + 1, 12))  # of the segments before each, more at either end
    sounding.cumsum(axis=0, out=total[reach + 1 : n + reach + 1])
    total[n + reach + 1 :] = total[n + reach]
    change = total[reach:] - total[:-reach]
    before, after = change[:n], change[reach : n + reach]
    long = np.einsum("ij,ij->i", change, change)
    long_before, long_after = long[:n], long[reach : n + reach]
    size = np.sqrt(long_before * long_after)
    alike = np.einsum("ij,ij->i", before, after) / np.maximum(size, TINY)
    enters = (long_before > 0.0) != (long_after > 0.0)
    return np.asarray(np.where(size > TINY, 1.0 - alike, enters.astype(np.float64)))
