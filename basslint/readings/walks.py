"""Does a bass note belong to a line that is meant: a walk, a root held over, a suspension?

Of the tones of the line, as `approach` hears them.
"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.approach import leads_home, line_tones, steps
from basslint.readings.base import Column, reading
from basslint.readings.recurrence import root_of_chord

_STEP = 2  # semitones: a whole tone
_OCTAVE = 12  # semitones


@reading("bass-note", unit="yes or no", source="Open Music Theory: the leading tone")
def leads_up(chart: Chart) -> Column:
    """Does it lead home, as `leads_home` says, up by a semitone into a root, as a leading tone?"""
    line = line_tones(chart)
    after = np.maximum(line.after, 0)
    up = (line.to == 1) & (root_of_chord(chart)[line.first[after]] == line.pitch[after])
    return np.asarray(leads_home(chart) & up[line.of])


@reading("bass-note", unit="yes or no", source="common practice: a bass that walks down")
def walks_between_roots(chart: Chart) -> Column:
    """Does it lead by steps one way, however long, from the root of a chord to that of the next?

    As G under the end of Ab on the way to F: the line goes, and the chord waits. Its chord goes on
    from the root before, or has begun with it.
    """
    line, root = line_tones(chart), root_of_chord(chart)
    tone = np.arange(len(line.first))
    after = np.maximum(line.after, 0)
    before = np.maximum(tone - 1, 0)
    one_way = steps(line.from_) * steps(line.to) > 0
    left = root[line.last[before]] == line.pitch[before]
    lands = (root[line.first[after]] == line.pitch[after]) & (line.after >= 0)
    lands &= root[line.first[after]] != root[line.last]
    stays = root[line.first] == root[line.last[before]]
    return np.asarray((one_way & left & lands & stays)[line.of])


@reading("bass-note", unit="yes or no", source="Open Music Theory: suspension")
def resolves_down(chart: Chart) -> Column:
    """Does it go on down by step to a tone of the same chord, as a suspension does?"""
    line, roots = line_tones(chart), chart.roots
    if not len(roots):
        return np.zeros(len(line.of), dtype=bool)
    after = np.maximum(line.after, 0)
    chord = chart.bass_chords[line.first[after]]
    inside = roots.tones[chord, (line.pitch[after] - roots.root[chord]) % _OCTAVE] & (chord >= 0)
    same = root_of_chord(chart)[line.first[after]] == root_of_chord(chart)[line.last]
    return np.asarray(((line.to < 0) & (line.to >= -_STEP) & inside & same)[line.of])


@reading("bass-note", unit="yes or no", source="harmony, common practice: pedal and suspension")
def goes_on_from_root(chart: Chart) -> Column:
    """Was its tone struck before, as the root of the chord before, and just goes on?"""
    line, root = line_tones(chart), root_of_chord(chart)
    first = line.first[line.of]
    was_root = root[first] == line.pitch[line.of]
    return np.asarray(was_root & (root != root[first]) & (root >= 0))
