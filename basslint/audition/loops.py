"""How do the loops of sound play along: from which place of their files, how fast, how loud?

As a sampler plays them: from their first bar line at every turn, a pickup before the next one,
higher by being faster, never stretched. Where a turn is longer than the file there is silence,
where it is shorter it is cut.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.sound.opening import opened

Samples = NDArray[np.float64]
Singles = NDArray[np.float32]

LEVEL = 0.35  # of full scale at a loop's loudest sample: bass and drums stand before it
_EDGE_S = 0.003  # fade at either end of a turn, against clicks
_LONGEST_S = 600  # of a file that is read
_CHUNK_S = 10  # read at once
_KEPT = 4  # files that stay in memory


def loop_sounds(chart: Chart, first: int, last: int, rate: int) -> Iterator[tuple[int, Samples]]:
    """What loops sound between two ticks: the place of the first sample, and mono samples at
    ``rate``.
    """
    if chart.loops is None:
        return
    seconds = chart.song.tempo.seconds
    zero, stop = seconds(first), seconds(last)
    for turns in chart.loops.turns:
        sound, own_rate = read_loop(turns.file, turns.turned_s)
        for start, end in zip(turns.start.tolist(), turns.end.tolist(), strict=True):
            if start < last and end > first:
                begin, until = seconds(start), min(seconds(end), stop)
                at = max(int(np.ceil((begin - zero) * rate)), 0)
                time = zero + np.arange(at, int((until - zero) * rate)) / rate - begin
                yield at, _played(sound, own_rate, turns.begins_s, turns.speed, time, until - begin)


def _played(
    sound: Singles, rate: int, begins_s: float, speed: float, time: Samples, length: float
) -> Samples:
    """A turn at moments ``time``, seconds from its beginning; it lasts ``length`` seconds."""
    place = (begins_s + time * speed) * rate
    first, last = (int(place[end]) if len(place) else 0 for end in (0, -1))
    part = sound[max(first, 0) : max(last + 2, 0)]  # of a long file only what sounds
    samples = np.interp(place - max(first, 0), np.arange(len(part)), part, left=0.0, right=0.0)
    edge = np.minimum(time, length - time) / _EDGE_S
    return np.asarray(LEVEL * samples * np.clip(edge, 0.0, 1.0))


def read_loop(file: str, turned_s: float = 0.0) -> tuple[Singles, int]:
    """A file as one channel, its loudest sample at 1, and its rate in Hz; its first ``turned_s``
    seconds put after its end."""
    mono, rate = _read(file, Path(file).stat().st_mtime_ns)
    return (np.roll(mono, -round(turned_s * rate)) if turned_s > 0.0 else mono), rate


@lru_cache(_KEPT)
def _read(file: str, _time: int) -> tuple[Singles, int]:
    """All of a file as one channel, its loudest sample at 1, and its rate in Hz."""
    mono, rate = opened(file, "loop", _mono)
    mono /= np.float32(max(float(mono.max(initial=0.0)), -float(mono.min(initial=0.0)), 1e-9))
    return mono, rate


def _mono(sound: Any) -> tuple[Singles, int]:
    """The mean of the channels, read in chunks, which bounds the memory."""
    rate = int(sound.samplerate)
    frames, chunk = min(int(sound.frames), _LONGEST_S * rate), _CHUNK_S * rate
    counts = (min(chunk, frames - begin) for begin in range(0, frames, chunk))
    many = {"dtype": "float32", "always_2d": True}
    return np.concatenate([sound.read(count, **many).mean(axis=1) for count in counts]), rate
