"""Which note-off ends which note-on?

First opened, first closed, on one key of one part: the reading that loses no note where the same
key is struck again before it is released. MIDI 1.0 leaves the choice open.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.columns import order_of
from basslint.events import NEVER, Notes


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

    Vectorised: on each key the k-th note-on takes the k-th note-off that found a note open. An
    off is stray where the running balance of ons and offs sinks below all it has been before.
    """
    key = voice.astype(np.int64) * 128 + pitch
    order = order_of(key)  # file order is kept inside a key
    key, on = key.take(order), is_on.take(order)
    first = np.append(True, key[1:] != key[:-1])[: len(key)]
    group = np.cumsum(first) - 1
    balance = np.cumsum(np.where(on, 1, -1))
    base = np.where(on, 1, -1)[first]  # balance restarts at each key
    balance = balance - (balance[first] - base)[group] if len(key) else balance
    # the lowest balance so far inside each key: a falling offset keeps the keys apart
    drop = group * (2 * len(key) + 2)
    lowest = np.minimum.accumulate(np.minimum(balance, 0) - drop) + drop
    before = np.append(0, lowest[:-1])[: len(key)]
    before[first] = 0
    stray = ~on & (balance < before)
    ons = np.flatnonzero(on)
    offs = np.flatnonzero(~on & ~stray)
    # the offs of each key stand in a row: the k-th on of the key looks at the k-th of them
    begin, nth_on = _runs(group[ons])
    place = np.searchsorted(group[offs], group[ons[begin]])
    room = np.searchsorted(group[offs], group[ons[begin]], side="right") - place
    run = np.cumsum(nth_on == 0) - 1
    has_off = nth_on < room[run]
    at = np.where(has_off, place[run] + nth_on, 0)
    on_at = order[ons]
    off_at = order[offs[at]] if len(offs) else np.zeros(len(ons), dtype=np.int64)
    if stray.any():
        warnings.append(f"{int(stray.sum())} note-offs close no open note and were ignored.")
    return Notes(
        tick[on_at],
        np.where(has_off, tick[off_at] if len(tick) else 0, end_tick).astype(np.int64),
        pitch[on_at],
        velocity[on_at],
        voice[on_at],
        row[on_at],
        np.where(has_off, row[off_at] if len(row) else 0, NEVER).astype(np.int64),
    )


def _runs(group: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Where the runs of equal values begin, and the place of each entry inside its run."""
    first = np.append(True, group[1:] != group[:-1])[: len(group)]
    begin = np.flatnonzero(first)
    return begin, np.arange(len(group)) - np.repeat(begin, np.diff(np.append(begin, len(group))))
