"""What does a sampled loop sound: tuning, bars, roots, keys, and where it glides?

The one door to this room: a sound file and what the user states about it go in, the heard loop
comes out, its stretches in ticks of a grid of its own (`TICKS` a quarter) and in seconds.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from basslint.audio.bars import Bars, Stated, find_bars
from basslint.audio.chances import note_chances
from basslint.audio.columns import soft_segments
from basslint.audio.eighths import features, pooled
from basslint.audio.fit import grid_error
from basslint.audio.glides import Glides, hear_glides, movement
from basslint.audio.left_over import LeftOver, left_over
from basslint.audio.load import LONGEST_S, Sound, read_loop
from basslint.audio.notes import saliences, whiten
from basslint.audio.roots import decode_loop, mix_readings
from basslint.audio.spectra import RATE_HZ, log_spectra
from basslint.audio.steady import lasting
from basslint.audio.strokes import band_levels, stroke_strength
from basslint.audio.tonal import Tonality, hear_tonality
from basslint.audio.tuning import Tuning, hear_tuning
from basslint.hear.harmony.segments import Segments
from basslint.song.timing import BarGrid, bar_grid
from basslint.util.records import record

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

TICKS = 480  # a quarter note, in the grid of a loop
_SIDE_S = 0.2  # of sound around the bars that is looked at: half of the longest window
HARMONY_HEARD = 0.5  # of `Tonality.weight`, from which what moves is a chord, no drum or note


@record(eq=False, kw_only=True)
class HeardLoop:
    """What was heard in one loop.

    ``sound``: the file. ``bars``: its bar lines. ``grid``: the same in ticks. ``tuning``.
    ``segments``: soft columns of its eighths. ``by_root`` float32 [n, 12] and ``of_best`` float32
    [n, qualities]: chance of each root, and of each chord on the likeliest one, by eighth.
    ``tonality``: how far each eighth is harmony. ``glides``. ``off_s``: seconds by which its
    strokes miss its grid, None where they fit or are too few to tell. ``left``: music that goes on
    after the last bar, so that these are not its bars; None where none does.
    """

    sound: Sound
    bars: Bars
    grid: BarGrid
    tuning: Tuning
    segments: Segments
    by_root: Singles
    of_best: Singles
    tonality: Tonality
    glides: Glides
    off_s: float | None
    left: LeftOver | None

    @property
    def fits(self) -> bool:
        """Whether its bars are where they were laid, as far as that can be heard."""
        return self.off_s is None and self.left is None


def hear_loop(
    path: str | Path, stated: Stated | None = None, longest_s: float = LONGEST_S
) -> HeardLoop:
    """Hear one sound file.

    Raises `SoundError` for a file that is missing, no sound, silent, too short or too long, or in
    which the stated bars do not fit. Time is linear in the length of the sound, memory below a
    stereo file of it.
    """
    sound = read_loop(path, longest_s)
    levels = band_levels(sound.samples)
    whole = stroke_strength(levels)
    bars = find_bars(sound.samples, whole, stated or Stated(), str(path))
    samples, edges_s = _turned(sound.samples, bars)
    same = len(samples) == len(sound.samples) and bars.begins_s <= 0.0
    strength = stroke_strength(levels if same else band_levels(samples))
    tuning = hear_tuning(samples)
    spectra = log_spectra(samples, tuning.cents)
    loudness = pooled(spectra.sum(axis=1, keepdims=True), edges_s)[:, 0].astype(np.float64)
    glides = hear_glides(movement(whiten(spectra)), strength, edges_s)
    white = whiten(lasting(spectra))
    bar = (len(edges_s) - 1) // bars.bars
    chances = note_chances(features(saliences(white), white, strength, edges_s), bar)
    beats = bars.bars * bars.meter[0]
    end = beats * TICKS * 4 // bars.meter[1]
    grid = bar_grid(end - 1, [(0, *bars.meter)], TICKS)
    segments = soft_segments(chances, grid)
    tonality = hear_tonality(chances, segments, loudness, tuning)
    by_root, of_best = decode_loop(segments, tonality.weight)
    glides = glides.between(by_root, tonality.weight >= HARMONY_HEARD)
    return HeardLoop(
        sound=sound,
        bars=bars,
        grid=grid,
        tuning=tuning,
        segments=segments,
        by_root=mix_readings(by_root, tuning),
        of_best=of_best,
        tonality=tonality,
        glides=glides,
        off_s=grid_error(strength, edges_s),
        left=left_over(sound.samples, whole, bars),
    )


def _turned(samples: Singles, bars: Bars) -> tuple[Singles, Floats]:
    """The sound of the bars and the seconds of their eighths in it.

    A cut loop with a pickup begins on its bar line: as the sampler repeats it, what stands before
    that comes after the last bar. Of others, silence and tail are left out.
    """
    edges_s = bars.eighths_s()
    if bars.cut:
        if bars.begins_s <= 0.0:
            return samples, edges_s
        return np.roll(samples, -round(bars.begins_s * RATE_HZ)), edges_s - bars.begins_s
    first = max(round((bars.begins_s - _SIDE_S) * RATE_HZ), 0)
    last = round((bars.end_s + _SIDE_S) * RATE_HZ)
    return samples[first:last], edges_s - first / RATE_HZ
