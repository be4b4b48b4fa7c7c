"""Is a slide of the wheel let go of on its way: a fall?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.slides import landing_stands


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
