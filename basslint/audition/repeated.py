"""What do tones sound like that differ in nothing but when they are struck, how long and how loud?

Many notes of a song have the same pitch. The sound of a pitch is made once, as long as the longest
of its notes needs it, and each note is a copy that is let go at its own end. Each begins on a
sample, as drum hits do: at most 11 µs away from its moment, which nobody hears.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from basslint.audition.voices import Curve, Samples, Tone
from basslint.util.columns import distinct
from basslint.util.records import record

_PIECE = 1 << 16  # samples of a tone that are made at once: they stay in the processor's cache


@record(eq=False, kw_only=True)
class Struck:
    """Tones that stay at their pitches, columns of shape [n]: ``start``, ``end`` in seconds of the
    song, ``level`` 0..1, ``pitch`` (fractional MIDI numbers)."""

    start: Samples
    end: Samples
    level: Samples
    pitch: Samples

    @property
    def table(self) -> Samples:
        """The columns side by side, [n, 4]."""
        return np.stack((self.start, self.end, self.level, self.pitch), axis=1)

    @classmethod
    def of(cls, table: Samples) -> Struck:
        """The tones of such a table."""
        start, end, level, pitch = table.T
        return cls(start=start, end=end, level=level, pitch=pitch)

    def take(self, rows: NDArray[np.bool_] | NDArray[np.intp], share: float = 1.0) -> Struck:
        """Some of the tones, at a share of their level."""
        start, end, pitch = self.start[rows], self.end[rows], self.pitch[rows]
        return Struck(start=start, end=end, level=share * self.level[rows], pitch=pitch)


@record(kw_only=True)
class Voice:
    """How a pitch sounds: ``sound`` makes a `Tone` at moments (seconds); it is let go over
    ``release_s`` by ``curve`` and has died away ``gone_s`` after its start."""

    sound: Callable[[Tone, Samples], Samples]
    release_s: float
    curve: Curve
    gone_s: float


def repeated(voice: Voice, tones: Struck, zero: float, rate: int) -> Iterator[tuple[int, Samples]]:
    """Each tone's place in a stretch that begins at ``zero`` (seconds), and its samples there."""
    begins = np.rint((tones.start - zero) * rate).astype(np.int64)
    last_s = np.minimum(tones.end - tones.start + voice.release_s, voice.gone_s)
    beyond = np.floor(last_s * rate).astype(np.int64) + 1
    skipped = np.maximum(-begins, 0)  # of a tone that is held from before
    since = np.arange(round(voice.release_s * rate) + 2) / rate  # of samples that a tone fades in
    for pitch in distinct(tones.pitch).tolist():
        rows = np.flatnonzero((tones.pitch == pitch) & (beyond > skipped))
        if not len(rows):
            continue
        first = int(skipped[rows].min())
        whole = _sound(voice, pitch, first, int(beyond[rows].max()), rate)
        columns = (c[rows].tolist() for c in (begins, skipped, beyond, tones.level, last_s))
        for begin, skip, count, level, end in zip(*columns, strict=True):
            wave = level * whole[skip - first : count - first]
            _let_go(wave, voice, end - skip / rate, since, rate)
            yield begin + skip, wave


def _let_go(wave: Samples, voice: Voice, end: float, since: Samples, rate: int) -> None:
    """Fade a wave out before ``end``, in place; ``since``: seconds of samples from one on. Both in
    seconds from its first sample."""
    falls = max(int(np.ceil((end - voice.release_s) * rate)), 0)
    left = (end - falls / rate) - since[: max(len(wave) - falls, 0)]
    left /= voice.release_s
    wave[falls:] *= voice.curve(left)


def _sound(voice: Voice, pitch: float, first: int, beyond: int, rate: int) -> Samples:
    """The samples of a pitch from one to another after its start, at full level, never let go."""
    start, pitches = np.zeros(1), np.full(1, pitch)
    tone = Tone(start=0.0, end=np.inf, level=1.0, times=start, pitches=pitches)
    whole = np.empty(beyond - first)
    for at in range(first, beyond, _PIECE):
        piece = np.arange(at, min(at + _PIECE, beyond)) / rate
        whole[at - first :][: len(piece)] = voice.sound(tone, piece)
    return whole
