"""Which stretches of one chord do the chances of the segments make?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.harmony.chords import quality_share
from basslint.hear.harmony.loop import nearest_repeat
from basslint.hear.harmony.segments import HALF_BAR, Segments
from basslint.hear.harmony.sources import MIDI, Roots
from basslint.theory.chords import IS_TONE, QUALITIES
from basslint.util.columns import TINY, differences, ends_of, in_columns, rows_where, turns

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

# How often a bass plays one other tone of the chord, against its root (common practice, no source).
TONE_FIT = 0.1

# Which notes above the root a chord holds, [qualities, 12], the root itself left out, and how often
# chords of the usual qualities do, [12].
_OTHER_TONES = (IS_TONE & (np.arange(12) > 0)).astype(np.float64)
USUAL_TONES = quality_share() @ _OTHER_TONES
_ABOVE_ROOT = (np.arange(12)[None, :] + np.arange(12)[:, None]) % 12  # [root, semitones] class
# What has to sound for a chord to be of each quality rather than a plainer one, [qualities, 12].
_TELLING_TONES = np.zeros((len(QUALITIES), 12), dtype=np.float32)
for _name, _tones in {
    "dominant-7": (10,),
    "minor-7": (10,),
    "major-7": (11,),
    "suspended-4": (5,),
    "suspended-2": (2,),
    "diminished": (6,),
    "half-diminished": (6, 10),
    "diminished-7": (6, 9),
    "augmented": (8,),
}.items():
    _TELLING_TONES[QUALITIES.index(_name), list(_tones)] = 1.0
# Tones of a chord as it is heard. A diminished triad may be completed to the chord of the seventh,
# and with its sevenths it is the upper tones of a dominant, whose root lies a third under it:
# G under B-D-F makes G7 (Open Music Theory).
_DIMINISHED = QUALITIES.index("diminished")
_SEVENTHS = slice(QUALITIES.index("half-diminished"), QUALITIES.index("diminished-7") + 1)  # two
_HEARD_TONES = IS_TONE.copy()
_HEARD_TONES[_DIMINISHED, 9] = True
_HEARD_TONES[_DIMINISHED, 8] = _HEARD_TONES[_SEVENTHS, 8] = True
_SOUNDS = 0.25  # of an eighth: shorter is spill-over
_BEAT_SEGMENTS = 3  # eighths of the longest beat, a dotted quarter
_CHORD_STRUCK = 0.5  # as `Segments.onsets`: two pitches at least
_ABOVE = (np.arange(12)[None, :] - np.arange(12)[:, None]) % 12  # [root, pitch class] semitones
_USUAL_ABOVE = USUAL_TONES[_ABOVE]  # of each root, how often its chords hold each pitch class


def stretches(
    segments: Segments, silent: NDArray[np.bool_], by_root: Singles, of_best: Singles
) -> Roots:
    """Merge segments of one root; the certainty of a stretch is its mean over time.

    ``by_root`` [m, 12] and ``of_best`` [m, q]: chance of each root, and of each chord on the
    likeliest one, in the segments that are not ``silent``.
    """
    sounding = rows_where(segments.sounds)
    first, last = int(sounding[0]), int(sounding[-1]) + 1
    best = by_root.argmax(axis=1)
    row, trust_in_loop = np.arange(len(segments)), 1.0
    if np.logical_or.reduce(silent[first:last]):
        row, trust_in_loop = nearest_repeat(segments, silent)
    plays = ~silent
    known = plays[row]
    place = np.maximum(plays.cumsum() - 1, 0)[row]
    likeliest = best[place]
    root = np.where(known, likeliest, -1)
    delayed = _delayed_changes(root, segments)
    root[delayed] = root[delayed - 1]
    sure = by_root[place, np.where(known, root, likeliest)][first:last]
    place[delayed] = place[delayed - 1]  # what sounds there still belongs to the chord before
    # from here on from the first to the last that sounds
    place, trust = place[first:last], np.where(silent[first:last], trust_in_loop, 1.0)
    sure *= trust
    at = rows_where(turns(root[first:last]))
    begin, many = first + at, ends_of(at, last - first) - at
    named = root[begin]
    supported = _supported_qualities(segments.sounding[row[first:last]], named, at)
    supported = supported.repeat(many, axis=0)
    kinds = of_best[place]
    whole_chance = np.add.reduce(kinds, axis=1)
    kinds = _with_the_seventh_heard(kinds, supported)
    kinds *= (whole_chance / np.maximum(np.add.reduce(kinds, axis=1), TINY))[:, None]
    length = differences(segments.edges[first : last + 1]).astype(np.float64)
    whole = np.add.reduceat(length, at)
    certainty = np.add.reduceat(sure * length, at) / whole
    heard = np.add.reduceat(kinds * length[:, None], at, axis=0)
    quality = np.where(named >= 0, heard.argmax(axis=1), 0)
    # the fit of a stretch is that of its mean chances; nothing is known as far as no trust is
    length *= trust
    if trust_in_loop < 1.0:
        heard = np.add.reduceat(kinds * length[:, None], at, axis=0)
    roots = np.add.reduceat(by_root[place] * length[:, None], at, axis=0)
    fits = _fit(roots, heard, np.maximum(named, 0)) / whole[:, None]
    fits += (1.0 - np.add.reduceat(length, at) / whole)[:, None]
    return Roots(
        start=segments.edges[begin],
        end=segments.edges[begin + many],
        root=named.astype(np.int8),
        quality=quality.astype(np.int8),
        tones=_HEARD_TONES[quality],
        bass=np.full(len(named), -1, dtype=np.int8),
        certainty=np.where(named >= 0, certainty, 0.0),
        fit=np.where(named[:, None] >= 0, fits, 1.0),
        since=segments.edges[_perceived_change(begin, segments, named >= 0)],
        source=np.full(len(named), MIDI, dtype=np.int8),
    )


def _with_the_seventh_heard(kinds: Singles, supported: NDArray[np.bool_]) -> Singles:
    """Chances of the supported chords [m, q], where a diminished chord without the seventh of its
    kind has the other one, or is the triad. ``supported`` [m, q]: which chords have what sounds."""
    has = supported[:, _SEVENTHS]
    lost = np.where(has, 0.0, kinds[:, _SEVENTHS])
    given = np.where(has[:, ::-1], lost, 0.0)
    lost -= given
    kinds = kinds.copy()
    kinds[:, _SEVENTHS] += given[:, ::-1]
    for triad in lost.T:
        kinds[:, _DIMINISHED] += triad
    kinds *= supported
    return kinds


def _delayed_changes(root: NDArray[np.int64], segments: Segments) -> NDArray[np.intp]:
    """Segments at which the root changes an eighth before the new chord is struck.

    Nothing is struck there, and the stroke is on the last eighth before a bar line or half bar:
    a chord anticipated there would otherwise be heard from the beat before on.
    """
    early = rows_where(root[1:] != root[:-1]) + 1
    early = early[early + 2 < len(root)]
    delayed: NDArray[np.bool_] = (
        (root[early - 1] >= 0)
        & (segments.onsets[early] == 0.0)
        & (segments.onsets[early + 1] >= _CHORD_STRUCK)
        & (segments.accent[early + 2] <= HALF_BAR)
    )
    return early[delayed]


def _supported_qualities(
    sounding: Floats, root: NDArray[np.int64], begin: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Whether the tones that mark each quality off from plainer chords sound, [s, q].

    No chord is diminished that leaves its fifth out, and none suspended without the fourth.
    ``root`` [s] of the stretches that start at the rows ``begin``.
    """
    share = np.maximum.reduceat(sounding, begin)
    above = in_columns(share, _ABOVE_ROOT[np.maximum(root, 0)])
    return np.asarray((above < _SOUNDS).astype(np.float32) @ _TELLING_TONES.T == 0.0)


def _perceived_change(
    begin: NDArray[np.int64],
    segments: Segments,
    known: NDArray[np.bool_],
) -> NDArray[np.int64]:
    """Segment on which the change to each stretch is perceived: a stronger one or its first, [s].

    ``known`` [s]: whether each stretch has a root.
    """
    perceived, sounds = begin.copy(), segments.sounds
    silent = np.concatenate(([False], known[:-1])) & sounds[begin]
    before = np.concatenate(([0], begin[:-1]))
    for back in range(1, _BEAT_SEGMENTS + 1):
        place = np.maximum(begin - back, 0)
        silent &= (begin - back > before) & ~sounds[place]
        if not np.count_nonzero(silent):  # as where the harmony goes on and on
            break
        perceived = np.where(
            silent & (segments.accent[place] < segments.accent[begin]), place, perceived
        )
        silent &= perceived == begin
    return perceived


def _fit(by_root: Floats, of_best: Floats, best: NDArray[np.intp]) -> Floats:
    """How well each pitch class fits as a bass, see `Roots.fit`, [s, 12].

    ``by_root`` [s, 12]: chance of each root, ``of_best`` [s, q]: of each chord on the ``best``. The
    chord on that root is taken as it is heard; those on the others, of which only the roots are
    known, as chords of their kind usually are.
    """
    others = by_root.copy()
    others[np.arange(len(best)), best] = 0.0
    tones = others @ _USUAL_ABOVE
    tones += in_columns(of_best @ _OTHER_TONES, _ABOVE[best])
    return np.asarray(by_root + TONE_FIT * tones)
