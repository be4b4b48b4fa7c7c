"""Which tone belongs in place of a note: its chord's, its loop's, its double's, its line's?"""

from __future__ import annotations

import numpy as np

from basslint.fixes.line import lines_of
from basslint.fixes.loop import elsewhere
from basslint.hear.chart import Chart
from basslint.hear.harmony.roots import CERTAIN
from basslint.readings.against_harmony import clashes
from basslint.readings.root_habit import figure_root_habit
from basslint.theory.chords import IS_TONE

_HEARD = 0.5  # share of a note for which a tone must sound to draw the note to it
_REST = 2.0  # quarters: across a longer rest a line begins anew
_STEP = 2  # semitones: a whole tone


def root_under(chart: Chart, row: int) -> tuple[int, float] | None:
    """Root and its certainty under bass note ``row``."""
    stretch = int(chart.bass_chords[row])
    if stretch < 0 or chart.roots.root[stretch] < 0:
        return None
    return int(chart.roots.root[stretch]), float(chart.roots.certainty[stretch])


def meant_under(chart: Chart, row: int, root: int) -> int:
    """The pitch class that belongs in place of a bass note under a chord on ``root``."""
    doubled = as_doubled(chart, row)
    if doubled is not None:
        return doubled
    if chart.doubling.part[row] >= 0:
        return _by_step(chart, row, root)
    again = elsewhere(chart, row)
    there = root_under(chart, again) if again is not None else None
    if again is None or there is None or there[0] != root or clashes(chart)[again]:
        return root
    return int(chart.bass.pitch[again]) % 12


def as_doubled(chart: Chart, row: int) -> int | None:
    """The pitch class that the part which doubles the line plays in place of a bass note."""
    tone = int(chart.doubling.tone[row])
    sounded = chart.doubling.part[row] >= 0 and tone >= 0
    return tone if sounded and tone != int(chart.bass.pitch[row]) % 12 else None


def _by_step(chart: Chart, row: int, root: int) -> int:
    """The tone of the chord a step away from a bass note, the nearest first; else its root."""
    now, quality = int(chart.bass.pitch[row]), int(chart.roots.quality[chart.bass_chords[row]])
    for way in (-1, 1, -_STEP, _STEP):
        if IS_TONE[quality, (now + way - root) % 12]:
            return (now + way) % 12
    return root


def meant_in_harmony(chart: Chart, row: int, habit: float) -> int | None:
    """The pitch class that belongs in place of a bass note; None where nothing tells it.

    ``habit``: share of its other chords that a bass must begin on their root for this one's root to
    be meant where the chord begins.
    """
    own, share = int(chart.bass.pitch[row]) % 12, chart.accompaniment.share[row]
    root = root_under(chart, row)
    again = elsewhere(chart, row)
    if again is not None:
        tone = int(chart.bass.pitch[again]) % 12
        there = root_under(chart, again)
        alike = root is None or (there is not None and there[0] == root[0])
        if alike and not clashes(chart)[again] and (share[tone] > 0 or root is not None):
            return tone
    if root is not None and root[1] >= CERTAIN and _begins_where_roots_do(chart, row, habit):
        return root[0]
    beside = [t for t in ((own - 1) % 12, (own + 1) % 12) if share[t] >= _HEARD]
    if root is not None and root[0] in beside:
        return root[0]
    if beside:
        return max(beside, key=lambda t: (share[t], t != (own + 1) % 12))
    return root[0] if root is not None else None


def _begins_where_roots_do(chart: Chart, row: int, habit: float) -> bool:
    """Does its chord begin on its tone, in a bass that begins the others on their root?"""
    bass, chord = chart.bass, chart.bass_roots
    under = np.flatnonzero((chord == chord[row]) & (bass.part == bass.part[row]))
    begins = (bass.pitch[under[0]] - bass.pitch[row]) % 12 == 0
    return bool(begins and figure_root_habit(chart)[row] > habit)


def stood_on(chart: Chart, row: int) -> int | None:
    """The bass note before ``row``, if the one after has its tone and no long rest is between."""
    bass, line = chart.bass, lines_of(chart)[int(chart.bass.part[row])].rows
    place = int(np.searchsorted(line, row))
    if not 0 < place < len(line) - 1:
        return None
    before, after = int(line[place - 1]), int(line[place + 1])
    rest = max(bass.start[row] - bass.end[before], bass.start[after] - bass.end[row])
    if rest > _REST * chart.song.division:
        return None
    return before if (bass.pitch[before] - bass.pitch[after]) % 12 == 0 else None
