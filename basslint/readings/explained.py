"""Does the line of a bass explain a note of it, so that nobody asks whether it is a slip?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.functions import FUNCTIONS
from basslint.hear.chart import Chart
from basslint.readings.accompaniment import rub_share
from basslint.readings.against_harmony import in_chord
from basslint.readings.base import Column, reading
from basslint.readings.notes import felt_beats, part_by_part
from basslint.readings.recurrence import copies_otherwise, root_of_chord, tones
from basslint.util.columns import turns

_RUBS = 0.5  # share of a note for which it rubs where its place in the line excuses it no more
_TURNS = 2  # other turns that agree say what the line plays there; one may be the slip itself
_ROOTS = 3  # over a floor that is meant to stay
_PEDAL = FUNCTIONS.index("pedal")
_PASSES = 0.85  # felt beats: a beat played short; what stands for longer does not pass
# by function: what it explains for however long the note stands
_ALWAYS = np.array([name in ("pedal", "stepwise-line") for name in FUNCTIONS])


@reading("bass-note", unit="yes or no", source="Open Music Theory; common practice")
def explained(chart: Chart) -> Column:
    """Does its line explain it: a pedal, stepwise line, passing or chord tone that does not stand?

    A pedal and a stepwise line always do, and so does what leans or runs out; but a foreign tone
    that begins a chord which all other turns, two or more, begin on another one is no pedal, unless
    it stays under three roots. What passes, leads on, or belongs to the chord by name is explained
    unless it stands for a felt beat and rubs for half of it.
    """
    kind, bass = chart.functions, chart.bass
    stands = bass.end - bass.start > _PASSES * felt_beats(chart)
    stands &= rub_share(chart) >= _RUBS
    so = _ALWAYS[kind] | ((kind != FUNCTIONS.index("other")) & ~stands)
    held = (kind == _PEDAL) & ~np.asarray(in_chord(chart), dtype=bool)
    if held.any():  # else no pedal is held against other turns
        from basslint.readings.root_habit import first_under_chord

        held &= np.asarray(first_under_chord(chart), dtype=bool) & ~_under_three(chart)
        so &= ~(held & (copies_otherwise(chart) >= _TURNS))
    if not so.all():  # else nobody needs to hear where the line leads
        from basslint.readings.approach import leans_or_runs_out

        so |= np.asarray(leans_or_runs_out(chart), dtype=bool)
    return np.asarray(so)


def _under_three(chart: Chart) -> NDArray[np.bool_]:
    """Does its part stay on its tone while three roots pass, with no other tone between, [m]?"""
    order, root = part_by_part(chart), root_of_chord(chart)
    part, tone = chart.bass.part[order], tones(chart)[order]
    stand = (turns(part) | turns(tone)).cumsum() - 1
    there = np.zeros((int(stand[-1]) + 1, 12), dtype=bool)
    known = root[order] >= 0
    there[stand[known], root[order][known]] = True
    column = np.zeros(len(order), dtype=bool)
    column[order] = there.sum(axis=1)[stand] >= _ROOTS
    return column
