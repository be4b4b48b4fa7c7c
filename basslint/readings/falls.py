"""Is a pitch bend let go of at its end: a fall, whose landing nobody hears?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import beats

_STANDS = 0.2  # beats: a sixteenth, a little short
_FALL_STANDS = 0.5  # of its way down: a fall is heard as its way, not its end (common practice)


@reading("slide", unit="yes or no")
def landing_stands(chart: Chart) -> Column:
    """Does its note stand on the landing for a sixteenth? Yes for slides between notes.

    A bend that leaves a note at its very end leads on, or falls off, and is heard to land nowhere;
    so is one down that stands for less than half of the time that it took to fall.
    """
    slides = chart.slides
    stop = np.minimum(slides.until, chart.song.end_tick)
    bends = np.array([how == "bend" for how in slides.how], dtype=bool)
    stands = beats(chart, slides.land, stop)
    falls = (slides.target < slides.origin) & (
        stands < _FALL_STANDS * beats(chart, slides.start, slides.land)
    )
    return np.asarray(~bends | (stands >= _STANDS) & ~falls)


@reading("slide", unit="yes or no", source="common practice")
def falls_off(chart: Chart) -> Column:
    """Is it a bend that falls off: down, or back to its note, which is let go of meanwhile?

    Its note stands for less than a sixteenth where the wheel comes to, if it gets there at all.
    Players let go so of a note at its end, and where the wheel stops then is no pitch to be heard.
    """
    slides = chart.slides
    bends = np.array([how == "bend" for how in slides.how], dtype=bool)
    back = np.array([shape == "return" for shape in slides.shape], dtype=bool)
    down = slides.target < slides.origin
    return np.asarray(bends & (down | back) & ~(slides.lands & np.asarray(landing_stands(chart))))
