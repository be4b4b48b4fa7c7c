"""At which usual bend range do the bends of a part land on notes of the scale?

A file that states no range is read as ±2 semitones; bends that were drawn for another range then
land off the scale or between two notes, all of them alike. Which of the usual ranges makes them fit
is evidence of the one that was meant.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from basslint.hear.slides.slides import hear_slides
from basslint.song.arrangement import Song
from basslint.util.records import record

# Semitones, the ranges that instruments are delivered with or commonly set to: General MIDI's ±2, a
# fifth, one octave, two, and MPE's ±48 (common practice but for the first and the last).
USUAL_RANGES = (2.0, 7.0, 12.0, 24.0, 48.0)
_IN_TUNE = 0.15  # semitones that a landing may lie off a note
_RESTS = ("ramp", "curve", "jump", "turn")  # shapes that come to rest on a pitch

InScale = Callable[[NDArray[np.int64], NDArray[np.int64]], NDArray[np.bool_]]


@record(kw_only=True)
class Landings:
    """How many bends of a part land at a range of ±``semitones``, and how many on the scale.

    ``furthest``: semitones that the longest of them goes; ``lowest``: the lowest pitch they reach.
    """

    semitones: float
    count: int
    fit: int
    furthest: float
    lowest: float

    @property
    def all_fit(self) -> bool:
        """Whether there are any, and every one is a note of the scale."""
        return 0 < self.count == self.fit


def hear_landings(
    song: Song,
    part: int,
    glide_s: float,
    in_scale: InScale,
    ranges: tuple[float, ...],
) -> tuple[Landings, ...]:
    """The landings of a part (an index into song.parts) at each of some ``ranges`` in semitones.

    ``in_scale`` tells of ticks and pitch classes whether they are of the scale there.
    """
    found = []
    for reach in ranges:
        slides = hear_slides(song, (part,), glide_s, reach, None, one_shot=False)
        rests = np.array([s in _RESTS for s in slides.shape], dtype=bool) & slides.lands
        target, tick = slides.target[rests], slides.land[rests]
        note = np.rint(target).astype(np.int64)
        fits = (np.abs(target - note) <= _IN_TUNE) & in_scale(tick, note % 12)
        way = np.abs(target - slides.origin[rests])
        found.append(
            Landings(
                semitones=reach,
                count=len(target),
                fit=int(fits.sum()),
                furthest=float(way.max(initial=0.0)),
                lowest=float(target.min(initial=np.inf)),
            )
        )
    return tuple(found)
