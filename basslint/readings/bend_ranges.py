"""How far does a full pitch bend reach, and who says so?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.memo import once_per_chart
from basslint.hear.slides.fitting_range import USUAL_RANGES, hear_landings
from basslint.readings.base import Column, reading
from basslint.util.columns import distinct, found_in

_TELLING = 2  # bends: one alone fits some range by chance
_HEARD = 15.5  # the pitch of 20 Hz, where hearing begins (ISO 226): nobody bends below it
_ASTRAY = (
    0.25  # of the landings: two of seven tones of a scale have no tone of it a whole tone above
)
_FAR = 12.5  # semitones: longer bends are rare, so a range that needs none is likelier


def sounding_origin(chart: Chart) -> NDArray[np.float64]:
    """The pitch that each slide comes from as the sampler sounds it, whole semitones up, [n]."""
    return chart.slides.origin + round(chart.tuning.shift)


def sounding_target(chart: Chart) -> NDArray[np.float64]:
    """The pitch that each slide is bound for as the sampler sounds it, whole semitones up, [n]."""
    return chart.slides.target + round(chart.tuning.shift)


@reading("slide", unit="semitones", source="MIDI 1.0 (RPN 0), RP-053 (MPE), General MIDI 1 (±2)")
def bend_range(chart: Chart) -> Column:
    """How far a full bend reaches; cannot be told for slides that are no bends."""
    return chart.slides.bend_range


@reading("slide", unit="yes or no", source="General MIDI 1: ±2 semitones where nothing is said")
def range_assumed(chart: Chart) -> Column:
    """Is it a bend whose range neither the file nor the user states?"""
    return ~chart.slides.range_stated


@once_per_chart
def fitting_ranges(chart: Chart) -> dict[int, str]:
    """By part of whose bends a quarter and more land off the scale at the range assumed: the usual
    ranges at which all fit, in words, such as “2 of 5 landings are off the scale; at ±12 semitones
    all 5 are notes of it”."""
    slides = chart.slides
    hints: dict[int, str] = {}

    def in_scale(tick: NDArray[np.int64], tone: NDArray[np.int64]) -> NDArray[np.bool_]:
        key = chart.key_at(tick)
        return np.asarray((key >= 0) & chart.keys.scale[key, tone])

    for part in distinct(slides.part[~slides.range_stated]).tolist():
        assumed = float(slides.bend_range[(slides.part == part) & ~slides.range_stated][0])
        if assumed not in USUAL_RANGES:
            continue
        (now,) = hear_landings(chart.song, part, chart.facts.glide_s, in_scale, (assumed,))
        astray = now.count - now.fit
        if not astray or astray < _ASTRAY * now.count:
            continue
        others = tuple(
            reach for reach in USUAL_RANGES if reach != assumed
        )  # at this some are astray
        landings = hear_landings(chart.song, part, chart.facts.glide_s, in_scale, others)
        fitting = [x for x in landings if x.all_fit and x.count >= _TELLING]
        fitting = [x for x in fitting if x.lowest >= _HEARD]
        fitting = [x for x in fitting if x.furthest <= _FAR] or fitting
        if not fitting:
            continue
        ranges = " or ".join(f"±{x.semitones:.0f}" for x in fitting)
        off = f"{astray} of {now.count} landings {'is' if astray == 1 else 'are'} off the scale"
        hints[part] = f"{off}; at {ranges} semitones all {fitting[0].count} are notes of it"
    return hints


@reading("slide", unit="yes or no")
def other_range_fits(chart: Chart) -> Column:
    """Is it a bend of assumed range, and does another usual one put all of its part right?"""
    slides = chart.slides
    if slides.range_stated.all():
        return np.zeros(len(slides), dtype=bool)
    fits = found_in(slides.part, list(fitting_ranges(chart)))
    return np.asarray(fits & ~slides.range_stated)
