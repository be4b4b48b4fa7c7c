"""What texture has each line: register, voices, pace, density?

Facts of the notes alone: no names, no programs, no opinions about roles. All of it is common
practice, no source, but for the percussion map (General MIDI 1).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.song.arrangement import Notes
from basslint.theory.general_midi import DRUM_SET, KEYS
from basslint.util.columns import differences, ends_of, found_in, order_of, rows_where, turns
from basslint.util.records import record

Floats = NDArray[np.float64]

_SLOTS_PER_QUARTER = 4
_MOST_CELLS = 1 << 18  # lines × slots: bounds time and memory whatever the file claims
_TOGETHER = 16  # onsets within a quarter / 16 of each other are struck together, strummed or not
_SHORTEST = 1 / 64  # quarters: what is shorter counts as that long
_EQUAL = 0.01  # semitones by which two mean pitches are equal
_SKIP = 3  # semitones: more than a step
_STRETCH = 4  # quarters: a bar of four, whatever the meter, in which a line plays or rests
_LONGEST = 16.0  # quarters a note counts with at most: one held note is not the whole song

_KIT = found_in(np.arange(128), DRUM_SET)
_HARSH = np.zeros(12, dtype=bool)  # seconds, tritone and sevenths: rarely struck inside one part
_HARSH[[1, 2, 6, 10, 11]] = True


@record(eq=False, kw_only=True)
class Texture:
    """One row per line, every column float64 [p] but for ``level``.

    ``notes``: how many; ``mean``, ``low``, ``high``: pitch, MIDI numbers; ``pitches``: distinct
    ones. ``sounding``: quarters in which it sounds. ``active``: share of the song's time (in slots
    of a 16th in which anything sounds) in which it sounds; ``level`` [p, slots]: the mean pitch it
    sounds in each slot, infinite where it rests. ``voices``: share of its sounding time with two or
    more pitch classes at once, so that a line doubled in octaves counts as one voice. ``struck``:
    share of notes struck together with another pitch class; ``harsh``: share struck with a second,
    tritone or seventh. ``pace``: onsets a quarter of sounding time. ``length``: geometric mean note
    length in quarters. ``leap``: mean absolute interval between successive notes, an octave at most
    and a pure octave none, since basses jump it and drums hardly ever do; ``skips``: share of
    successive notes a third or more apart; ``even``: share of steps in time that repeat the last
    one. ``stacked``: share of successive notes that are struck together, in
    octaves and unisons too. ``plays``: share of the stretches of four quarters in which anything is
    struck in which it is. ``kit``: share of notes on drum-set sounds of the GM percussion map.
    """

    notes: Floats
    mean: Floats
    low: Floats
    high: Floats
    pitches: Floats
    sounding: Floats
    active: Floats
    level: Floats
    voices: Floats
    struck: Floats
    harsh: Floats
    pace: Floats
    length: Floats
    leap: Floats
    skips: Floats
    even: Floats
    stacked: Floats
    plays: Floats
    kit: Floats


def hear_texture(notes: Notes, line: NDArray[np.int64], lines: int, division: int) -> Texture:
    """Describe the ``lines`` lines of a song.

    ``line`` int64 [n] tells which line each note belongs to; ``division`` is ticks per quarter.
    Every line must have at least one note. Time and memory are linear in notes and lines.
    """
    pitch = notes.pitch.astype(np.int64)
    count = np.bincount(line, minlength=lines).astype(np.float64)

    used = np.bincount(line * KEYS + pitch, minlength=lines * KEYS).reshape(lines, KEYS) > 0
    length = ((notes.end - notes.start) / division).clip(_SHORTEST, _LONGEST)
    sounding, voices = _voices(notes, line)
    active, level = _presence(notes, pitch, line, lines, division)
    motion = _motion(notes, line, division)
    return Texture(
        notes=count,
        mean=np.bincount(line, weights=pitch, minlength=lines) / count,
        low=used.argmax(axis=1).astype(np.float64),
        high=KEYS - 1.0 - used[:, ::-1].argmax(axis=1),
        pitches=used.sum(axis=1).astype(np.float64),
        sounding=sounding / division,
        active=active,
        level=level,
        voices=voices,
        struck=motion.struck,
        harsh=motion.harsh,
        pace=count * division / np.maximum(sounding, 1.0),
        length=np.exp(np.bincount(line, weights=np.log(length), minlength=lines) / count),
        leap=motion.leap,
        skips=motion.skips,
        even=motion.even,
        stacked=motion.stacked,
        plays=_plays(notes, line, lines, division),
        kit=np.bincount(line[_KIT[pitch]], minlength=lines) / count,
    )


def _sweep(
    key: NDArray[np.int64], start: NDArray[np.int64], end: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Edges (key, tick, how many intervals of the key are open after it), by key, then tick."""
    bits = int(end.max()).bit_length()
    edge = np.concatenate((key << bits | start, key << bits | end)) << 1
    edge[len(key) :] |= 1  # ends after starts of the same tick: touching intervals join
    edge.sort(kind="stable")  # merges the stretches that rise already
    opened = (1 - 2 * (edge & 1)).cumsum()
    edge >>= 1
    return edge >> bits, edge & ((1 << bits) - 1), opened


def _voices(notes: Notes, line: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Ticks in which each line sounds, and the share of them with two pitch classes or more."""
    key = line * 12 + notes.pitch % 12
    order = order_of(key)  # notes are in order of time, and stay so inside a key
    key, start = key[order], notes.start[order]
    # the stretches in which a key sounds; a time line for each key keeps them apart
    length = int(notes.end.max()) + 1
    reach = np.maximum.accumulate(key * length + notes.end[order])
    first = np.concatenate(([True], key[1:] * length + start[1:] > reach[:-1]))
    last = np.concatenate((first[1:], [True]))
    owner, tick, opened = _sweep(key[first] // 12, start[first], reach[last] - key[last] * length)
    begin = rows_where(turns(owner))
    span = ends_of(tick, 0) - tick  # behind the last edge of a line nothing is open
    one = np.add.reduceat(span * (opened >= 1), begin).astype(np.float64)
    two = np.add.reduceat(span * (opened >= 2), begin)
    return one, two / np.maximum(one, 1.0)


def _presence(
    notes: Notes, pitch: NDArray[np.int64], line: NDArray[np.int64], lines: int, division: int
) -> tuple[Floats, Floats]:
    """Share of the song's time each line sounds, and the mean pitch it sounds in each slot."""
    end = int(notes.end.max())
    step = max(division // _SLOTS_PER_QUARTER, -(-end * lines // _MOST_CELLS), 1)
    width = -(-end // step) + 2
    begin = notes.start // step
    first = line * width + begin
    after = line * width + np.maximum((notes.end + (step - 1)) // step, begin + 1)
    cells = lines * width
    held = (np.bincount(first, None, cells) - np.bincount(after, None, cells)).cumsum()
    sums = (np.bincount(first, pitch, cells) - np.bincount(after, pitch, cells)).cumsum()
    sounds = held > 0
    level = np.full(cells, np.inf)
    np.divide(sums, held, out=level, where=sounds)
    sounds = sounds.reshape(lines, width)
    active = sounds.sum(axis=1) / max(int(sounds.any(axis=0).sum()), 1)
    return active, level.reshape(lines, width)


def _plays(notes: Notes, line: NDArray[np.int64], lines: int, division: int) -> Floats:
    """Share of the stretches in which anything is struck in which each line is."""
    long = max(_STRETCH * division, -(-int(notes.end.max()) * lines // _MOST_CELLS))
    width = int(notes.start.max()) // long + 1
    cell = line * width + notes.start // long
    struck = (np.bincount(cell, minlength=lines * width) > 0).reshape(lines, width)
    return np.asarray(struck.sum(axis=1) / struck.any(axis=0).sum())


def lowest_shares(t: Texture, pitched: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """How much no ``pitched`` line is lower, [p] each: of a line's own time, and of the song's."""
    floor = t.level[pitched].min(axis=0, initial=np.inf)
    sounds = np.isfinite(t.level)
    low = (sounds & (t.level <= floor + _EQUAL)).sum(axis=1)
    whole = max(int(np.isfinite(floor).sum()), 1)
    return np.asarray(low / np.maximum(sounds.sum(axis=1), 1)), np.asarray(low / whole)


@record(eq=False, kw_only=True)
class _Motion:
    struck: Floats  # [p]
    harsh: Floats
    leap: Floats
    skips: Floats
    even: Floats
    stacked: Floats


def _motion(notes: Notes, line: NDArray[np.int64], division: int) -> _Motion:
    """What follows what inside each line, and what is struck together."""
    order = order_of(line)
    owner, start = line[order], notes.start[order]
    interval = np.abs(differences(notes.pitch[order]))
    step = differences(start)
    inside = owner[1:] == owner[:-1]
    at_once = inside & (step * _TOGETHER <= division)
    apart = interval % 12
    together = at_once & (apart != 0)
    harsh = together & _HARSH[apart]
    steady = np.abs(differences(step)) * _TOGETHER <= division
    # of the step to each note from the one before; a line's first note has none
    moves = np.zeros((6, len(line)), dtype=np.int64)
    moves[0, 1:] = np.minimum(interval, 12) * (interval != 12)
    moves[1, 1:] = interval >= _SKIP
    moves[2, 2:] = steady
    moves[3, 1:] = at_once
    moves[:4, 1:] *= inside
    for row, flag in ((4, together), (5, harsh)):  # of each note: with the one before or behind
        moves[row, 1:] = flag
        moves[row, :-1] |= flag
    begin = rows_where(turns(owner))
    count = ends_of(begin, len(line)) - begin
    sums = np.add.reduceat(moves, begin, axis=1)
    leap, skips, even, stacked = sums[:4] / np.maximum(count - 1, 1)
    struck, harshly = sums[4:] / count
    return _Motion(
        struck=struck,
        harsh=harshly,
        leap=leap,
        skips=skips,
        even=even,
        stacked=stacked,
    )
