"""Does a bass part play in another key than the other parts, from its first note to its last?

A line in A minor under chords in A major has its right roots, and three foreign tones that come
back wherever the line goes. So the tones of the part that are foreign to the others' scale, and
that nobody else sounds, are weighed; where they are a tenth of it and two tones or more, and one
scale holds nearly all of the part, and most of what is foreign, it is that scale's key: wrong notes
here and there are of no scale of their own, and are each to be told. The others' scale must hold
nearly all of what they sound, too: chords that go from key to key have none to disagree with.
Common practice, no source; the limits were set by hand on real songs, of 428 of which it tells none
as written.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.bassline.accompaniment import Accompaniment
from basslint.hear.key.keys import Keys
from basslint.song.events import Notes
from basslint.theory.scales import MAJOR_SCALE, MODES, SCALES, parent_major
from basslint.util.columns import distinct, last_row, rows_where
from basslint.util.records import record, replace

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_FOREIGN = 0.1  # share of a part's time that is foreign to the others' key
_TONE = 0.03  # share of its time from which a tone counts as one of its own
_FEWEST_TONES = 2  # that are foreign: one alone is a slip, or a colour of the mode
_HELD = 0.9  # share of its time that its own scale must hold, and theirs of what they sound
_TELLS = 0.75  # share of what is foreign that its own scale must hold: a slip may stand among it
_AS_GOOD = 0.02  # share by which a scale may hold less than the best, and be meant all the same
_ONE_KEY = 0.9  # share of its time in which the others must stay in one scale
_SURE = 0.7  # certainty of that scale
_UNSUPPORTED = 0.3  # share of a note: what another part sounds for so long is no foreign tone
_LONGEST = 2.0  # quarters of a note that count
_FEWEST_QUARTERS = 16.0  # of a part under harmony: less tells nothing
_SCALES = np.zeros((12, 12))  # by tonic of the major scale, 1 for each of its tones
for _tonic in range(12):
    _SCALES[_tonic, [(_tonic + note) % 12 for note in MAJOR_SCALE]] = 1.0


@record(eq=False, kw_only=True)
class TwoKeys:
    """Bass parts in another key than the others, columns [k].

    ``part`` int64 index into song.parts; ``start``, ``end`` int64 ticks of its first and last note;
    ``tonic``, ``mode`` of the part and ``their_tonic``, ``their_mode`` of the others; ``share``
    float64: how much of its time is foreign; ``foreign`` bool [m, bass notes]: which notes are, and
    of its own key.
    """

    part: Ints
    start: Ints
    end: Ints
    tonic: Ints
    mode: tuple[str, ...]
    their_tonic: Ints
    their_mode: tuple[str, ...]
    share: Floats
    foreign: NDArray[np.bool_]


def hear_two_keys(bass: Notes, around: Accompaniment, keys: Keys, division: int) -> TwoKeys:
    """The parts of ``bass``, notes in order of time, whose key is another than ``keys``."""
    tone = bass.pitch.astype(np.int64) % 12
    row = last_row(keys.start, bass.start)
    rows: list[tuple[int, int, int, int, str, int, str, float]] = []
    foreign = np.zeros(len(bass), dtype=bool)
    if len(bass) and len(keys.start):
        foreign = ~keys.scale[row, tone] & (around.at(0, tone) < _UNSUPPORTED)
        foreign &= keys.scale_certainty[row] >= _SURE
    for part in distinct(bass.part[foreign]).tolist():
        mine = rows_where(bass.part == part)
        length = np.minimum((bass.end - bass.start)[mine] / division, _LONGEST)
        length *= around.share[mine].max(axis=1) > 0
        theirs = length @ around.share[mine]
        own = _key_of(tone[mine], length, foreign[mine], theirs, keys, row[mine])
        if own is not None:
            first, last = int(bass.start[mine[0]]), int(bass.end[mine].max())
            rows.append((part, first, last, *own))
    found = _table(rows) if rows else _NONE
    # what is of neither key is a slip of its own, in whichever key the part is
    keyed = [parent_major(t, m) for t, m in zip(found.tonic.tolist(), found.mode, strict=True)]
    meant = _SCALES[np.array(keyed, dtype=np.int64)][:, tone] > 0
    return replace(found, foreign=foreign & meant & (bass.part == found.part[:, None]))


def _table(rows: list[tuple[int, int, int, int, str, int, str, float]]) -> TwoKeys:
    """Rows as columns, with no notes yet."""
    table = list(zip(*rows, strict=True)) if rows else [()] * 8
    return TwoKeys(
        part=np.array(table[0], dtype=np.int64),
        start=np.array(table[1], dtype=np.int64),
        end=np.array(table[2], dtype=np.int64),
        tonic=np.array(table[3], dtype=np.int64),
        mode=tuple(table[4]),
        their_tonic=np.array(table[5], dtype=np.int64),
        their_mode=tuple(table[6]),
        share=np.array(table[7], dtype=np.float64),
        foreign=np.zeros((len(rows), 0), dtype=bool),
    )


_NONE = _table([])


def _key_of(
    tone: Ints,
    length: Floats,
    foreign: NDArray[np.bool_],
    theirs: Floats,
    keys: Keys,
    row: NDArray[np.intp],
) -> tuple[int, str, int, str, float] | None:
    """Tonic and mode of a part, then of the others, and the foreign share; else None.

    ``theirs`` [12]: how long the others sound each pitch class, in quarters of the part's notes.
    """
    whole = float(length.sum())
    each = np.bincount(tone[foreign], length[foreign], 12)
    if whole < _FEWEST_QUARTERS or each.sum() < _FOREIGN * whole:
        return None
    if (each > _TONE * whole).sum() < _FEWEST_TONES:
        return None
    usual = int(np.argmax(np.bincount(row)))
    same = (keys.scale[row] == keys.scale[usual]).all(axis=1)
    time = np.bincount(tone, length, 12).astype(np.float64)
    held = _SCALES @ time / whole
    if length[same].sum() < _ONE_KEY * whole or held.max() < _HELD:
        return None
    if theirs @ keys.scale[usual] < _HELD * theirs.sum():
        return None
    tonic, mode = int(keys.tonic[usual]), keys.mode[usual]
    likely = rows_where((held >= held.max() - _AS_GOOD) & (_SCALES @ each >= _TELLS * each.sum()))
    likely = likely[likely != parent_major(tonic, mode)]
    if not len(likely):
        return None
    own = _named(likely.tolist(), int(likely[np.argmax(held[likely])]), tonic, time)
    return *own, tonic, mode, float(each.sum()) / whole


def _named(likely: list[int], best: int, tonic: int, time: Floats) -> tuple[int, str]:
    """The key of a part: one of the likely scales on the others' tonic, else the best one's."""
    for mode in ("minor", "major", *MODES):  # plain modes first
        if parent_major(tonic, mode) in likely:
            return tonic, mode
    minor = (best + SCALES["major"][5]) % 12  # relative keys: the sixth note of major is home
    return (minor, "minor") if time[minor] > time[best] else (best, "major")
