"""How do pitch bends and slides bear on a bass note?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.slides.glides import RAGGED_OVERLAP
from basslint.hear.slides.residual_bend import hear_residual_bend
from basslint.readings.base import Column, reading
from basslint.readings.notes import words
from basslint.readings.slides import overlap_share
from basslint.util.columns import among

_MIDI = "MIDI 1.0 detailed specification"


@reading("bass-note", unit="yes or no")
def first_bent_blind(chart: Chart) -> Column:
    """Is it the first note of its part that is bent while the wheel's range has to be assumed?"""
    return chart.unstated_range.first


@reading("bass-note", unit="semitones", source="General MIDI 1 (±2), RP-053 (MPE)")
def assumed_range(chart: Chart) -> Column:
    """The bend range assumed there, told of such a first note alone."""
    return chart.unstated_range.range


@reading("bass-note", unit="semitones", source=_MIDI)
def lost_range(chart: Chart) -> Column:
    """A bend range that the file writes before selecting it, told of such a first note alone."""
    return chart.unstated_range.misplaced


@reading("bass-note", unit="text", source="General MIDI 1 (±2), RP-053 (±48), common practice")
def range_hint(chart: Chart) -> Column:
    """How many bends of its part land off the scale, and at which usual bend range none does.

    Empty where there is no such range.
    """
    names = [""] * len(chart.bass)
    first = chart.unstated_range.first.nonzero()[0].tolist()
    if not first:
        return words(names)
    from basslint.readings.bend_ranges import fitting_ranges  # most bends have a range

    hints = fitting_ranges(chart)
    for row in first:
        names[row] = hints.get(int(chart.bass.part[row]), "")
    return words(names)


@reading("bass-note", unit="yes or no")
def other_range_fits(chart: Chart) -> Column:
    """Do the bends of its part land on the scale at another usual range alone?"""
    return np.array([bool(hint) for hint in range_hint(chart).tolist()], dtype=bool)


@reading("bass-note", unit="yes or no")
def slid_within_chord(chart: Chart) -> Column:
    """Is it the landing of a meant slide whose voice was struck under the same chord?

    Such a note is part of the slide: whether it may be there, the rules of slides say.
    """
    slides = chart.slides
    if not len(slides):
        return np.zeros(len(chart.bass), dtype=bool)
    struck = chart.root_at(slides.onset)
    meant = ~(overlap_share(chart) <= RAGGED_OVERLAP) & slides.lands & (struck >= 0)
    meant &= struck == chart.root_at(slides.start)
    meant &= np.array([h != "bend" for h in slides.how], dtype=bool)
    return among(chart.bass_rows, slides.note[meant], len(chart.song.notes))


@reading("bass-note", unit="cents", source=_MIDI)
def open_wheel_cents(chart: Chart) -> Column:
    """How far off centre, either way, a bend of an earlier note has left the wheel for this one.

    0 where the wheel moves while the note sounds, where it was set for this note, and for all
    notes after the first that an open wheel puts out of tune.
    """
    return np.abs(residual_bend(chart)) * 100.0


@reading("bass-note", unit="text", source=_MIDI)
def open_wheel_words(chart: Chart) -> Column:
    """The same in words, such as 3 semitones sharp or 40 cents flat."""
    found: list[str | None] = []
    for off in residual_bend(chart).tolist():
        cents = abs(round(100 * off))
        size = f"{cents} cents" if cents % 100 else f"{cents // 100} semitones"
        side = "sharp" if off > 0 else "flat"
        found.append(f"{'1 semitone' if cents == 100 else size} {side}" if cents else None)
    return words(found)


def residual_bend(chart: Chart) -> NDArray[np.float64]:
    """Semitones by which a residual bend puts each bass note out of tune, [m]; see the reading."""
    facts = chart.facts
    return hear_residual_bend(chart.song, chart.bass, facts.bend_range, facts.one_shot)


@reading("bass-note", unit="yes or no", source="MIDI 1.0, RPN 0")
def bend_assumed(chart: Chart) -> Column:
    """Does its pitch hang on a bend range that neither the file nor the user states?"""
    return chart.sounding.assumed
