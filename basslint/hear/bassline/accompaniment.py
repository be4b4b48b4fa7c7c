"""What do the other pitched parts sound during each bass note?

Parts that are heard as basses do not count, so that a second bass never vouches for the first;
nor do drums. Octaves are folded: a bass note and a tune that share a pitch class agree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.cover import sounding_clock
from basslint.song.arrangement import Notes
from basslint.song.timing import BarGrid
from basslint.util.columns import order_of

Floats = NDArray[np.float64]

FARTHEST = 32.0  # quarters: eight bars of 4/4 away, a tone is as good as never heard here
_HEARD = 0.02  # share of a bar: a tone that sounds for less is a grace note there


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Accompaniment:
    """What sounds against each of m bass notes.

    ``share`` float64 [m, 12]: share of the note during which other parts sound each pitch class.
    ``gap`` float64 [m]: quarters to the nearest time at which another part sounds the note's own
    pitch class, 0 where one does during the note, at most `FARTHEST`. ``tones`` int64 [m]: how many
    pitch classes other parts sound in the note's bar. ``time`` float64 [12]: share of the other
    parts' sounding time that each pitch class has in the whole song, adding up to 1.
    """

    share: Floats
    gap: Floats
    tones: NDArray[np.int64]
    time: Floats

    def at(self, semitones: NDArray[np.integer] | int, pitch: NDArray[np.integer]) -> Floats:
        """Share of each note during which the pitch class ``semitones`` above it sounds, [m]."""
        return np.asarray(self.share[np.arange(len(pitch)), (pitch + semitones) % 12])


def hear_accompaniment(bass: Notes, others: Notes, grid: BarGrid) -> Accompaniment:
    """What ``others`` sound during the notes of ``bass``; both in order of time."""
    count = len(bass)
    if not len(others) or not count:
        return Accompaniment(
            share=np.zeros((count, 12)),
            gap=np.full(count, FARTHEST),
            tones=np.zeros(count, dtype=np.int64),
            time=np.full(12, 1 / 12),
        )
    # a time line for each pitch class, one after the other: one search serves all of them
    line = int(max(others.end.max(), bass.end.max(), grid.start[-1])) + 1
    others = others.take(order_of(others.pitch % 12))
    offset = (others.pitch % 12).astype(np.int64) * line
    start, end = offset + others.start, offset + np.maximum(others.end, others.start + 1)
    clock = sounding_clock(start, end)
    lines = np.arange(12)[:, None] * line
    until = np.maximum(bass.end, bass.start + 1)
    share = (clock(lines + until) - clock(lines + bass.start)) / (until - bass.start)
    bars = (clock(lines + grid.start[1:]) - clock(lines + grid.start[:-1])) / np.diff(grid.start)
    time = np.bincount(offset // line, weights=end - start, minlength=12)
    return Accompaniment(
        share=share.T,
        gap=np.minimum(_gap(bass, start, end, line) / grid.division, FARTHEST),
        tones=(bars > _HEARD).sum(axis=0)[grid.bar_of(bass.start)],
        time=time / time.sum(),
    )


def _gap(bass: Notes, start: NDArray[np.int64], end: NDArray[np.int64], line: int) -> Floats:
    """Ticks from each bass note to the nearest sounding of its pitch class, [m], inf for none."""
    tone = bass.pitch.astype(np.int64) % 12
    reach = np.maximum.accumulate(end)
    after = np.searchsorted(start, tone * line + np.maximum(bass.end, bass.start + 1))
    last = np.maximum(after - 1, 0)
    following = np.minimum(after, len(start) - 1)
    behind = np.where(
        (after > 0) & (start[last] // line == tone), tone * line + bass.start - reach[last], np.inf
    )
    ahead = np.where(
        (after < len(start)) & (start[following] // line == tone),
        start[following] - tone * line - bass.end,
        np.inf,
    )
    return np.asarray(np.maximum(np.minimum(behind, ahead), 0.0))
