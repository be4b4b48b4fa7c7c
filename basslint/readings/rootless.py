"""May the chord over a bass note be a larger one, whose root is left to the bass?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from basslint.hear.chart import Chart
from basslint.hear.harmony.bare import usual_qualities
from basslint.readings.against_harmony import semitones_above_root
from basslint.readings.base import Column, reading
from basslint.theory.chords import TONES

_LIKELIER = 0.5  # chance: a chord whose root alone is known is of such a quality rather than not
_SOURCE = "harmony, common practice: seventh and eleventh chords without their root"


def _by_quality(above: Mapping[str, tuple[int, ...]]) -> NDArray[np.bool_]:
    """Semitones above the root by quality, [qualities + 1, 12]; the last: a quality not named."""
    table = np.zeros((len(TONES) + 1, 12), dtype=bool)
    for row, name in enumerate(TONES):
        table[row, list(above.get(name, ()))] = True
    return table


_MAJOR, _MINOR = ("major", "major-7"), ("minor", "minor-7")
# a third under the chord makes of the triad a seventh chord: A under C–E–G is Am7, C under E–G–B is
# Cmaj7; a tone over the root of a major one, or a fourth over that of a minor seventh chord, makes
# an eleventh or a suspended one, F–A–C or D–F–A–C over G; a third under a diminished one a
# dominant, E–G–B♭–D over C
_THIRD = _by_quality({**dict.fromkeys(_MAJOR, (9,)), **dict.fromkeys(_MINOR, (8,))})
_LEFT_OUT = _THIRD | _by_quality(
    {
        **dict.fromkeys(_MAJOR, (2,)),
        "minor-7": (5,),
        "half-diminished": (5, 8),
        "diminished": (8,),
        "diminished-7": (8,),
    }
)


@reading("bass-note", unit="yes or no", source=_SOURCE)
def third_under(chart: Chart) -> Column:
    """Is it a third under the root, so that bass and harmony together make a seventh chord?"""
    return _of(chart, _THIRD)


@reading("bass-note", unit="yes or no", source=_SOURCE)
def root_left_out(chart: Chart) -> Column:
    """May its chord be a larger one on it, whose root is left to the bass, as Dm7 over G?"""
    return _of(chart, _LEFT_OUT)


def _of(chart: Chart, table: NDArray[np.bool_]) -> Column:
    above, row = semitones_above_root(chart), np.maximum(chart.bass_chords, 0)
    known = np.flatnonzero(~np.isnan(above))
    column = np.zeros(len(above), dtype=bool)
    column[known] = table[chart.roots.quality[row[known]], above[known].astype(np.int64)]
    bare = known[chart.roots.bare[row[known]]]
    if len(bare):  # of what its chord may be the likelier half, in the scale in force
        fit = chart.scale_fit_at(chart.bass.start[bare])
        usual = usual_qualities(chart.roots.root[row[bare]], fit)
        of_table = table[:-1, above[bare].astype(np.int64)]
        column[bare] = (usual * of_table.T).sum(axis=1) >= _LIKELIER
    return column
