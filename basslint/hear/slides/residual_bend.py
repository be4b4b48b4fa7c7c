"""Which notes are put out of tune by residual bend, the bend that an earlier note left behind?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.slides.voice import FOREVER, before_each
from basslint.song.arrangement import Notes, Song
from basslint.song.bends import BendCurve, bend_steps, hear_bends
from basslint.util.columns import found_in, rows_where

_HOME = 0.1  # semitones: what lies closer to the centre is heard as in tune (common practice)
_JUMP = 1.0  # semitones at one step: drawn and played glides move in smaller ones
_SETS_OUT = 0.75  # semitones: the first step of a slide of the note's own
_HEARD_S = 0.05  # a shorter start off the pitch, or note, passes for an attack (common practice)


def hear_residual_bend(
    song: Song, bass: Notes, bend_range: float | None, one_shot: bool, first: bool = True
) -> NDArray[np.float64]:
    """Semitones of residual bend on each of some notes, [n]; 0 where there is none.

    Bend is left behind by a motion that bent an earlier note while it sounded, and that has ended
    when a plain note starts: one during which the bend does not move, or comes home at one jump
    after the ear has heard it off centre, whatever it does then. One that glides on from there is
    meant so, and one that is over before its pitch is heard, a finger's noise, is in no tune. A
    bend that was set for a note, in silence or at its very start, was meant for it. Of the notes
    that follow, only the ``first`` is named, unless all are asked for.
    """
    column = np.zeros(len(bass))
    parts = tuple(bass.parts)
    for part, curve in hear_bends(song, parts, bend_range).items():
        rows = rows_where(bass.part == part)
        column[rows] = _of_part(song, curve, bass.start[rows], bass.end[rows], one_shot, first)
    return column


def _of_part(
    song: Song,
    curve: BendCurve,
    start: NDArray[np.int64],
    end: NDArray[np.int64],
    one_shot: bool,
    only_first: bool,
) -> NDArray[np.float64]:
    steps = bend_steps(curve, song.tempo)
    if not len(steps.tick):
        return np.zeros(len(start))
    last = steps.tick.searchsorted(start, side="right") - 1
    follows = steps.tick.searchsorted(end, side="left") - 1 - last  # steps inside the note
    first = np.minimum(last + 1, len(steps.tick) - 1)
    after, jump = np.abs(steps.after[first]), np.abs(steps.after[first] - steps.before[first])
    home = after < _HOME
    # a slide of the note's own may set out a little off the centre
    home |= (jump >= _JUMP) & (after <= _SETS_OUT)
    home &= song.tempo.seconds(steps.tick[first]) - song.tempo.seconds(start) >= _HEARD_S
    still = (follows == 0) | ((follows > 0) & home)
    still &= song.tempo.seconds(end) - song.tempo.seconds(start) >= _HEARD_S
    rings = np.full(len(end), FOREVER) if one_shot else np.maximum.accumulate(end)
    struck = start.searchsorted(steps.tick, side="left")
    sounding = np.concatenate(([0], rings))[struck] > steps.tick
    bent = found_in(steps.motion, steps.motion[sounding])
    begun = steps.tick[steps.motion.searchsorted(steps.motion)]
    known = np.maximum(last, 0)
    left = (last >= 0) & bent[known] & (begun[known] < start)
    if only_first:
        left &= steps.tick[known] > before_each(start)
    return np.where(left & still, curve.at(start), 0.0)
