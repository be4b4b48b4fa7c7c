"""Which note-off ends which note-on?

First opened, first closed, on one key of one part: the reading that loses no note where the same
key is struck again before it is released. MIDI 1.0 leaves the choice open. Where a key is struck
more often than released, that reading would hand every release on to the note before it and leave
the last note of the key open, however far from the fault that lies. There the notes left open are
those that stay open when each release closes the latest open note; the others are paired first
opened, first closed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.song.events import NEVER, Notes
from basslint.util.columns import ends_of, order_of, turns


def pair_notes(
    tick: NDArray[np.int64],
    is_on: NDArray[np.bool_],
    pitch: NDArray[np.int16],
    velocity: NDArray[np.int16],
    voice: NDArray[np.int32],
    row: NDArray[np.int64],
    end_tick: int,
    warnings: list[str],
) -> Notes:
    """Pair each note-on with its note-off: first opened, first closed, on one key of one voice.

    The notes come by start, then pitch, then voice. A note that is never ended sounds until its key
    is struck again, or to ``end_tick``.
    """
    key = pitch.astype(np.int64) * (int(voice.max(initial=0)) + 1) + voice
    order = order_of(key)  # file order is kept inside a key
    key, on = key[order], is_on.take(order)
    ons, offs = on.nonzero()[0], (~on).nonzero()[0]
    on_at, off_at = order[ons], order[offs]
    if len(ons) == len(offs) and (ons < offs).all() and (key[ons] == key[offs]).all():
        end, off_row = tick[off_at], row[off_at]  # every note is ended, and nothing else
    else:
        end, off_row = _ends(key, on, tick[order], row[order], end_tick, warnings)
    start = tick[on_at]
    by_start = order_of(start)
    on_at = on_at[by_start]
    return Notes(
        start=start[by_start],
        end=end[by_start],
        pitch=pitch.take(on_at),
        velocity=velocity.take(on_at),
        part=voice[on_at],
        on_row=row[on_at],
        off_row=off_row[by_start],
    )


def _ends(
    key: NDArray[np.int64],
    on: NDArray[np.bool_],
    tick: NDArray[np.int64],
    row: NDArray[np.int64],
    end_tick: int,
    warnings: list[str],
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Where each note ends, and the row of the note-off that ends it, of events key by key.

    Vectorised: on each key the k-th note-on that is ended takes the k-th note-off that found a
    note open. An off is stray where the running balance of ons and offs sinks below all it has
    been before.
    """
    first = turns(key)
    group = first.cumsum() - 1
    balance = np.where(on, 1, -1).cumsum()
    base = np.where(on, 1, -1)[first]  # balance restarts at each key
    balance = balance - (balance[first] - base)[group] if len(key) else balance
    # the lowest balance so far inside each key: a falling offset keeps the keys apart
    drop = group * (2 * len(key) + 2)
    lowest = np.minimum.accumulate(np.minimum(balance, 0) - drop) + drop
    before = np.zeros_like(lowest)
    before[1:] = lowest[:-1]
    before[first] = 0
    stray = ~on & (balance < before)
    ons = on.nonzero()[0]
    offs = (~on & ~stray).nonzero()[0]
    end = np.full(len(ons), end_tick, dtype=np.int64)
    off_row = np.full(len(ons), NEVER, dtype=np.int64)
    ended: NDArray[np.bool_] | slice = slice(None)
    if len(ons) > len(offs):
        left = _left_open(on, group, tick, balance - lowest)[ons]
        end[left] = _next_strike(group[ons], tick[ons], left, end_tick)
        ended = ~left
    # every key has as many such offs as ended notes, and both stand key by key
    end[ended] = tick[offs]
    off_row[ended] = row[offs]
    if np.count_nonzero(stray):
        count = int(stray.sum())
        close = "1 note-off closes" if count == 1 else f"{count} note-offs close"
        warnings.append(f"{close} no open note and {'was' if count == 1 else 'were'} ignored.")
    return end, off_row


def _left_open(
    on: NDArray[np.bool_],
    group: NDArray[np.int64],
    tick: NDArray[np.int64],
    held: NDArray[np.int64],
) -> NDArray[np.bool_]:
    """Which events are notes left open when each note-off closes the latest open one? [n]

    The events stand key by key in file order; ``held`` is how many notes of the key are open after
    each. A note stays open where never again fewer are held than with it. Where a key is struck at
    the tick at which a note of it ends, the end counts first, whichever is written first.
    """
    meets = on[:-1] & ~on[1:] & (group[1:] == group[:-1]) & (tick[1:] == tick[:-1])
    late = (meets & (held[:-1] > 1)).nonzero()[0]  # struck before the end of the note before
    with_it, since = held.copy(), held.copy()
    with_it[late] -= 1
    since[late] -= 2
    # the least held after each event on its key; an offset that falls backwards keeps keys apart
    far = len(on) + 1
    rise = (group[-1] - group) * far
    least = np.minimum.accumulate((since - rise)[::-1])[::-1]
    return np.asarray(on & (with_it <= ends_of(least, far) + rise))


def _next_strike(
    group: NDArray[np.int64], tick: NDArray[np.int64], wanted: NDArray[np.bool_], end_tick: int
) -> NDArray[np.int64]:
    """The tick at which the key of each wanted note-on is next struck, ``end_tick`` for never."""
    span = end_tick + 1
    at = group * span + tick  # rising: key by key, and in order of time inside each
    place = at.searchsorted(at[wanted], side="right")
    after = np.append(at, -1)[place]
    return np.where(after // span == group[wanted], after % span, end_tick)
