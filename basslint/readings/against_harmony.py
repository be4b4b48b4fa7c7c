"""What is a bass note to the chord and the key it sounds under?

The chord of a note is the one that covers its main part (`basslint.hear.harmony.cover`), so a bass
that is a little early, or pushes a change, is not heard under the chord that is about to end.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.functions import FUNCTIONS
from basslint.hear.bassline.two_notes import of_one_pair as hear_pair
from basslint.hear.chart import Chart
from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import STATED
from basslint.hear.memo import once_per_chart
from basslint.readings.accompaniment import supported
from basslint.readings.base import Column, reading, row_reading
from basslint.readings.harmony_shares import share_sounded
from basslint.readings.notes import bass_spellings, before_in_part, named, words
from basslint.theory.chords import SUFFIXES
from basslint.theory.names import SPELLINGS
from basslint.theory.names import key_name as name_of_key

_HARMONY = "harmony, common practice: chord tones counted in semitones from the root"
_SUFFIX = (*SUFFIXES.values(), "")  # the last: a quality not named
_ELSEWHERE = 0.25  # share of a note for which another part must sound its pitch class
_HELD = 0.5  # share of a note during which a part must sound its pitch class to carry it
_ON_TIME = 0.55  # quarters: within an eighth, by hand, of a change a note starts with it
_STEP = 2  # semitones: a whole tone


@reading("bass-note", unit="semitones", source=_HARMONY)
def semitones_above_root(chart: Chart) -> Column:
    """How far it lies above the chord's root, octaves taken off: 0 is the root, 7 its fifth."""
    above, _, known = _degree(chart)
    return np.where(known, above, np.nan)


@reading("bass-note", unit="yes or no", source=_HARMONY)
def in_chord(chart: Chart) -> Column:
    """Is it a tone of the chord, or held by a harmony part for half its length or more?"""
    above, _, _ = _degree(chart)
    column = _of_chord(chart, above)
    # what a harmony part holds is heard beside the bass: of other notes it need not be asked
    rows = (~column & (supported(chart) >= _HELD)).nonzero()[0]
    if len(rows):
        bass = chart.bass.take(rows)
        share = share_sounded(chart, bass.pitch.astype(np.int64) % 12, bass.start, bass.end)
        column[rows] = share >= _HELD
    return column


@reading("bass-note", unit="yes or no")
def sounded_elsewhere(chart: Chart) -> Column:
    """Does a part that is no bass sound its pitch class for a quarter of it, in whatever octave?"""
    bass = chart.bass
    tone = bass.pitch.astype(np.int64) % 12
    pitched = ("harmony", "melody", "other")
    return np.asarray(share_sounded(chart, tone, bass.start, bass.end, pitched) >= _ELSEWHERE)


@reading("bass-note", unit="yes or no", source=_HARMONY)
def clashes(chart: Chart) -> Column:
    """Does it rub: a semitone from the chord's root, or a semitone (a minor ninth) under a tone?

    A tone of the chord never clashes. A major seventh over the bass is the milder interval and
    counts only against the root.
    """
    above, _, known = _degree(chart)
    ninth = _of_chord(chart, (above + 1) % 12)
    return np.asarray(known & ~in_chord(chart) & ((above == 1) | (above == 11) | ninth))


@reading("bass-note", unit="yes or no")
def in_scale(chart: Chart) -> Column:
    """Is it a note of the scale of the key in force, raised sevenths of minor keys included?"""
    row = chart.key_at(chart.bass.start)
    if not len(chart.keys):
        return words([None] * len(row))
    column = chart.keys.scale[row, chart.bass.pitch % 12].astype(object)
    column[row < 0] = None
    return column


@reading("bass-note", unit="text", source="Open Music Theory; common practice")
def function(chart: Chart) -> Column:
    """What it does: root, octave, chord-tone, pedal, passing and the like; other if nothing fits.

    The names: root, octave, chord-tone, pedal, second-note, passing, approach, neighbour,
    stepwise-line, grace, other.
    """
    return words(list(FUNCTIONS))[chart.functions]


@reading("bass-note", unit="text")
def pattern(chart: Chart) -> Column:
    """The bass pattern of the bars it stands in, such as root-follow, two-note or mixed."""
    row = chart.pattern.row_of(chart.bass.start, chart.song.grid)
    return words([*chart.pattern.kind, None])[row]  # −1: no pattern, the last one


@reading("bass-note", unit="yes or no")
def of_one_pair(chart: Chart) -> Column:
    """Is it one of the two pitch classes that the two-note line around it has all through?"""
    return hear_pair(chart.bass, chart.pattern, chart.song)


@reading("bass-note", unit="share")
def usual_share(chart: Chart) -> Column:
    """Of all time that the bass plays under chords of this root: the share on this pitch class."""
    above, _, known = _degree(chart)
    bass = chart.bass
    root = (bass.pitch - above) % 12
    pair = root * 12 + bass.pitch % 12
    weight = np.where(known, np.maximum(bass.end - bass.start, 1), 0)
    mine = np.bincount(pair, weights=weight, minlength=144)
    return np.where(
        known, mine[pair] / np.maximum(mine.reshape(12, 12).sum(axis=1)[root], 1), np.nan
    )


@reading("bass-note", unit="yes or no")
def starts_chord(chart: Chart) -> Column:
    """Does it start with its chord, within an eighth of the change or of its felt beat?"""
    row = chart.bass_roots
    if not len(chart.roots):
        return np.zeros(len(row), dtype=bool)
    start, at = chart.bass.start, np.maximum(row, 0)
    away = np.maximum(chart.roots.since[at] - start, start - chart.roots.start[at])
    return np.asarray((row >= 0) & (away <= _ON_TIME * chart.song.division))


@reading("bass-note", unit="yes or no")
def root_in_bass(chart: Chart) -> Column:
    """Does the bass play the chord's root at any time while that chord lasts?"""
    above, _, known = _degree(chart)
    row = chart.bass_roots
    has = np.zeros(len(chart.roots) + 1, dtype=bool)
    stated = np.append(chart.roots.bass, -1)[row]  # of a slash chord: what the bass is to play
    has[row[known & ((above == 0) | (stated == chart.bass.pitch % 12))]] = True
    return np.asarray(known & has[row])


@reading("bass-note", unit="yes or no")
def by_step(chart: Chart) -> Column:
    """Is it reached or left by step, that is by a semitone or a whole tone?"""
    last = before_in_part(chart.bass)
    pitch = chart.bass.pitch.astype(np.int64)
    way = np.abs(pitch - pitch[np.maximum(last, 0)])
    column: NDArray[np.bool_] = (last >= 0) & (way > 0) & (way <= _STEP)
    column[last[column]] = True
    return column


@reading("bass-note", unit="yes or no")
def stays(chart: Chart) -> Column:
    """Is it of the pitch class of the note before it in its part?"""
    last = before_in_part(chart.bass)
    tone = chart.bass.pitch % 12
    return np.asarray((last >= 0) & (tone == tone[np.maximum(last, 0)]))


@reading("bass-note", unit="text")
def root_name(chart: Chart) -> Column:
    """The root of its chord, such as E."""
    return _chord_names(chart, lambda names, root, quality: names[root])


@row_reading("bass-note", unit="text")
def chord_name(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """The chord it sounds under, such as Em."""
    return chord_names_at(chart, rows)


@reading("bass-note", unit="share")
def root_certainty(chart: Chart) -> Column:
    """How sure the root of its chord is, from 0 to 1."""
    _, _, known = _degree(chart)
    row = np.maximum(chart.bass_chords, 0)
    return np.where(known, np.append(chart.roots.certainty, np.nan)[row], np.nan)


@reading("bass-note", unit="share")
def foreign(chart: Chart) -> Column:
    """How sure it is that it fits none of the chords that the harmony may mean here, 0 to 1."""
    _, _, known = _degree(chart)
    if not np.count_nonzero(known):
        return np.full(len(known), np.nan)
    fit = chart.roots.fit[np.maximum(chart.bass_chords, 0), chart.bass.pitch % 12]
    return np.where(known, 1.0 - fit, np.nan)


@reading("bass-note", unit="bars")
def stands_in_silence(chart: Chart) -> Column:
    """How long its part stays on its pitch class, struck or held, where no harmony is told.

    A rest of more than a quarter ends that. Cannot be told under a chord.
    """
    _, _, known = _degree(chart)
    bass, result = chart.bass, np.full(len(known), np.nan)
    alone = (~known).nonzero()[0]
    alone = alone[np.argsort(bass.part[alone], kind="stable")]
    if not len(alone):
        return result
    start, end = bass.start[alone], bass.end[alone]
    line = bass.part[alone] * 12 + bass.pitch[alone] % 12
    new = np.append(True, np.diff(line) != 0)
    new[1:] |= start[1:] - end[:-1] > chart.song.division
    first = new.nonzero()[0]
    long = np.maximum.reduceat(end, first) - start[first]
    bar = chart.song.grid.bar_of(start[first])
    bars = long / np.diff(chart.song.grid.start)[bar]
    result[alone] = bars[np.cumsum(new) - 1]
    return result


@row_reading("bass-note", unit="text")
def root_words(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """The root and how sure it is: “the root is E”, “… is likely E”, “… is E, as stated”."""
    return root_words_at(chart, rows)


def root_words_at(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """`root_words` of some of the bass notes."""
    text_of = _chord_names(chart, lambda names, root, _: f"the root is {names[root]}", rows)
    stated = np.append(chart.roots.source == STATED, False)[chart.bass_chords[rows]].nonzero()[0]
    text_of[stated] = [text and f"{text}, as stated" for text in text_of[stated]]
    doubtful = (root_certainty(chart)[rows] < CERTAIN).nonzero()[0]
    text_of[doubtful] = [text.replace("is", "is likely", 1) for text in text_of[doubtful]]
    return text_of


def chord_names_at(chart: Chart, rows: NDArray[np.intp]) -> Column:
    """`chord_name` of some of the bass notes."""
    return _chord_names(chart, lambda names, root, quality: names[root] + _SUFFIX[quality], rows)


def _chord_names(
    chart: Chart,
    name: Callable[[tuple[str, ...], int, int], str],
    rows: NDArray[np.intp] | slice = slice(None),
) -> Column:
    above, quality, known = (column[rows] for column in _degree(chart))
    root = (chart.bass.pitch[rows] - above) % 12
    by = bass_spellings(chart)[rows]
    kinds = len(_SUFFIX)
    key = np.where(known, (by * 12 + root) * kinds + quality % kinds, -1)

    def of(k: float) -> str | None:
        spelled, rest = divmod(int(k), 12 * kinds)
        return name(SPELLINGS[spelled], *divmod(rest, kinds)) if k >= 0 else None

    return named(key, of)


@reading("bass-note", unit="text")
def key_name(chart: Chart) -> Column:
    """The key in force where it starts, such as E minor."""
    keys = chart.keys
    names = [name_of_key(int(t), m) for t, m in zip(keys.tonic, keys.mode, strict=True)]
    return words([*names, None])[chart.key_at(chart.bass.start)]  # −1: no key, the last one


def rooted(chart: Chart) -> NDArray[np.bool_]:
    """Whether a root is told under each bass note, [m]."""
    return _degree(chart)[2]


@once_per_chart
def _degree(
    chart: Chart,
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Semitones above the root, quality, and whether a root is told, per bass note."""
    row = chart.bass_chords
    if not len(chart.roots):
        none = np.zeros(len(row), dtype=np.int64)
        return none, none, none.astype(bool)
    safe = np.maximum(row, 0)
    root = chart.roots.root[safe].astype(np.int64)
    known = (row >= 0) & (root >= 0)
    above = np.where(known, (chart.bass.pitch - root) % 12, 0)
    return above, np.where(known, chart.roots.quality[safe], 0).astype(np.int64), known


def _of_chord(chart: Chart, above: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether the chord of each bass note holds the tone so many semitones above its root, [m]."""
    row = chart.bass_chords
    if not len(chart.roots):
        return np.zeros(len(row), dtype=bool)
    held = chart.roots.tones[np.maximum(row, 0), above]
    return np.asarray(held & (row >= 0) & (chart.roots.root[row] >= 0))
