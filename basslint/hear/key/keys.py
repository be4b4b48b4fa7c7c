"""Which key is the song in, when, and how sure is that?

First the seven notes in use, bar by bar, then the note among them that is home.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.hear.facts import StatedKey
from basslint.hear.harmony.bare import with_fifths
from basslint.hear.harmony.sources import MIDI, Roots
from basslint.hear.key.scales import scale_chance, scale_path, scale_score, sounding_per_bar
from basslint.hear.key.tonic import HEARD_MODES, STEP, Stretch, home_odds
from basslint.hear.stuck_notes import end_stuck_notes
from basslint.song.arrangement import Notes, Song
from basslint.theory.scales import MAJOR_SCALE, SCALES
from basslint.util.columns import TINY, distinct, ends_of, row_at, rows_where, turns
from basslint.util.records import record

Floats = NDArray[np.float64]

_FOUR = 4  # bars
_LEADING_NOTE = 11  # semitones above the tonic
_FEW = 1  # a four of bars taken to begin with no chord of its own: two or three make no loop
_WHOLE = 0.5  # say of the whole song in the mode of one stretch
# Share of the time from which a raised seventh counts as used: more than an accident.
_RAISED = 0.01

_CLEARLY = 3.0  # a degree colors the mode where it sounds so much longer than the plain one
_COLORED = 0.04  # and as long as a note of the scale does, half the mean share: no passing note
# (mode, semitones of the coloring degree, of the plain one, name): Open Music Theory
_COLORS = (
    ("minor", 9, 8, "dorian"),
    ("minor", 1, 2, "phrygian"),
    ("major", 10, 11, "mixolydian"),
    ("major", 6, 5, "lydian"),
)
_WITH_LEADING_NOTE = ("minor", "dorian", "phrygian")
_THIRD, _FIFTH = 4, 7  # semitones that a dominant has above its root
_MAJOR_SEVENTH = 11  # which it has not
_BARE_TONES = 2  # of a chord that is known by its root, or its root and fifth
_TELLING = 5  # notes: of the twelve scales two at most hold all of them
_MAJOR_SCALES = np.zeros((12, 12))  # by tonic, 1 for each of its notes
for _tonic in range(12):
    _MAJOR_SCALES[_tonic, [(_tonic + note) % 12 for note in MAJOR_SCALE]] = 1.0


@record(eq=False, kw_only=True)
class Keys:
    """Stretches of one key, in order, without gaps; columns [n].

    ``start``, ``end`` int64 ticks; ``tonic`` int8 pitch class; ``mode`` one name per row; ``scale``
    bool [n, 12]: the mode's notes, in minor the raised seventh too where it is used; ``certainty``
    float64 0..1 of tonic and scale together; ``scale_certainty`` float64 0..1 of the seven notes
    alone, which relative keys share; ``fit`` float64 [n, 12] 0..1: how likely each pitch class is
    one of the seven, all scales that may be meant taken together; ``stated``: the user named the
    key. Between C and G major neither scale is sure, yet that C♯ is outside is.
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    tonic: NDArray[np.int8]
    mode: tuple[str, ...]
    scale: NDArray[np.bool_]
    certainty: Floats
    scale_certainty: Floats
    fit: Floats
    stated: bool = False

    def __len__(self) -> int:
        return len(self.start)

    def rising(self, row: int) -> list[int]:
        """Pitch classes of a stretch's scale from its tonic up; none where no tonic is told."""
        tonic = int(self.tonic[row])
        if tonic < 0:
            return []
        return [tone % 12 for tone in range(tonic, tonic + 12) if self.scale[row][tone % 12]]


def hear_keys(song: Song, pitched: Sequence[int], roots: Roots) -> Keys:
    """Hear the keys of some parts (indexes into ``song.parts``), with the chord ``roots`` at hand.

    Chords that are stated or sampled sound with the parts: they may be all that is known.
    The keys cover the whole song; empty where nothing sounds. Linear in notes and bars.
    """
    notes = _notes_of(song, pitched)
    held = sounding_per_bar(notes.start, notes.end, notes.pitch, song.grid)
    if np.count_nonzero(roots.source != MIDI):
        held = held + sounding_per_bar(*_tones_of_chords(roots), song.grid)
    if not np.count_nonzero(held):
        none = np.zeros((0, 12))
        return _keys([], [], (), none.astype(bool), np.zeros(0), np.zeros(0), none)
    end = max(int(song.grid.start[-1]), song.end_tick)
    return keys_of(held, roots, song.grid.start, song.division, end)


def keys_of(
    held: Floats, roots: Roots, edge: NDArray[np.int64], division: int, end_tick: int
) -> Keys:
    """Hear the keys from how long each pitch class sounds, ``held`` [bars, 12], in bars.

    ``edge`` [bars + 1]: ticks of the bar lines; ``division``: ticks of a quarter. The last key
    lasts until ``end_tick``. At least one bar.
    """
    score = scale_score(held)
    scale, chances = scale_path(score), scale_chance(score)
    sure = chances[np.arange(len(scale)), scale]
    begin = rows_where(turns(scale))
    end = ends_of(begin, len(scale))
    stretches = [
        _stretch(held[first:last].sum(axis=0), roots, edge[first : last + 1], division)
        for first, last in zip(begin.tolist(), end.tolist(), strict=True)
    ]
    odds = np.array([home_odds(s, int(k)) for s, k in zip(stretches, scale[begin], strict=True)])
    # a song that moves to another scale mostly keeps its mode: the whole song has a say
    share = (end - begin) / len(scale)
    odds = (1.0 - _WHOLE) * odds + _WHOLE * (share @ odds)
    chance = np.exp(odds - odds.max(axis=1, keepdims=True))
    chance /= chance.sum(axis=1, keepdims=True)
    best = odds.argmax(axis=1)
    tonic = (scale[begin] + STEP[best]) % 12
    modes = [HEARD_MODES[b] for b in best.tolist()]
    mode = tuple(
        _color(int(t), m, s.sounding) for t, m, s in zip(tonic, modes, stretches, strict=True)
    )
    of_scale = np.add.reduceat(sure, begin) / (end - begin)
    fit = np.add.reduceat(chances, begin) / (end - begin)[:, None] @ _MAJOR_SCALES
    rows = [
        _scale_row(int(t), m, s.sounding) for t, m, s in zip(tonic, mode, stretches, strict=True)
    ]
    for row, stretch in enumerate(stretches):
        if mode[row] != modes[row]:
            _recolor(fit[row], int(tonic[row]), mode[row], stretch.sounding)
    bounds = np.concatenate((edge[begin], [edge[-1]]))
    bounds[-1] = end_tick
    return _keys(bounds, tonic, mode, np.array(rows), of_scale * chance.max(axis=1), of_scale, fit)


def _tones_of_chords(
    roots: Roots,
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """The tones of chords that are stated or sampled: start, end (ticks), pitch class, [t].

    Over a root alone its fifth sounds too: two neighbouring scales share most roots, fifths tell.
    """
    told = (roots.source != MIDI) & (roots.root >= 0)
    row, above = np.nonzero(with_fifths(roots.bare, roots.tones) & told[:, None])
    return roots.start[row], roots.end[row], (roots.root[row] + above) % 12


def say_the_scale(roots: Roots) -> bool:
    """Do chords say more of the scale than the bass under test?

    Those that are known in full do; roots alone where there are three or more, a fifth apart at
    least: with their fifths they name five notes of the seven.
    """
    if np.count_nonzero(roots.tones.sum(axis=1) > _BARE_TONES):
        return True
    _, _, tone = _tones_of_chords(roots)
    return len(distinct(tone)) >= _TELLING


def stated_key(song: Song, pitched: Sequence[int], key: StatedKey) -> Keys:
    """The key that the user stated, for the whole song; the notes tell only the raised seventh."""
    notes = _notes_of(song, pitched)
    total = np.bincount(notes.pitch % 12, (notes.end - notes.start), minlength=12)
    row = _scale_row(key.tonic, key.mode, total / max(float(total.sum()), 1.0))
    bounds = np.array([0, max(int(song.grid.start[-1]), song.end_tick)])
    fit = row[None].astype(np.float64)
    return _keys(bounds, [key.tonic], (key.mode,), row[None], np.ones(1), np.ones(1), fit, True)


def _stretch(held: Floats, roots: Roots, lines: NDArray[np.int64], quarter: int) -> Stretch:
    """Gather what `home_odds` asks about the bars between some bar ``lines`` (ticks)."""
    length = np.minimum(roots.end, lines[-1]) - np.maximum(roots.start, lines[0])
    rows = rows_where((length > 0) & (roots.root >= 0))
    root = roots.root[rows].astype(np.int64)
    span = length[rows].astype(np.float64)
    tones = roots.tones[rows]
    third, fifth, seventh = tones[:, _THIRD], tones[:, _FIFTH], tones[:, _MAJOR_SEVENTH]
    major = third & fifth & ~seventh
    total = max(float(np.add.reduce(span)), 1.0)
    return Stretch(
        sounding=held / max(float(held.sum()), TINY),
        roots=np.bincount(root, span, minlength=12) / total,
        leading=np.bincount(root[major], span[major], minlength=12) / total,
        first=int(root[0]) if len(root) else -1,
        last=int(root[-1]) if len(root) else -1,
        fours=_group_openings(roots, lines, quarter),
    )


def _group_openings(roots: Roots, lines: NDArray[np.int64], quarter: int) -> Floats:
    """Share of each root among those with which four-bar groups begin, counted from bar one."""
    inside = lines[:-1] + quarter // 2  # half a beat in: late chords have come by then
    row = row_at(roots.start, roots.end, inside)
    root = np.concatenate((roots.root, [-1]))[row]  # no chord: no root
    first = int((root >= 0).argmax())
    opening = root[first::_FOUR]
    counts = np.bincount(opening[opening >= 0], minlength=12)
    return np.asarray(counts / (int(np.add.reduce(counts)) + _FEW))


def _color(tonic: int, mode: str, sounding: Floats) -> str:
    """The mode on a tonic, by its telling degree: the one in use against the one it replaces."""
    for plain, degree, instead, name in _COLORS:
        used, other = sounding[(tonic + degree) % 12], sounding[(tonic + instead) % 12]
        if mode == plain and used >= _COLORED and used > _CLEARLY * other:
            return name
    return mode


def _recolor(fit: Floats, tonic: int, mode: str, sounding: Floats) -> None:
    """Let the coloring degree and the plain one fit as they are used, in place."""
    for _, degree, instead, name in _COLORS:
        if name == mode:
            used, plain = (tonic + degree) % 12, (tonic + instead) % 12
            fit[used] = sounding[used] / (sounding[used] + sounding[plain])
            fit[plain] = 1.0 - fit[used]


def _scale_row(tonic: int, mode: str, sounding: Floats) -> NDArray[np.bool_]:
    """The notes of a key, bool [12]."""
    row = np.zeros(12, dtype=bool)
    row[(tonic + np.array(SCALES[mode])) % 12] = True
    raised = (tonic + _LEADING_NOTE) % 12
    if mode in _WITH_LEADING_NOTE and sounding[raised] >= _RAISED:
        row[raised] = True
    return row


def _notes_of(song: Song, parts: Sequence[int]) -> Notes:
    return end_stuck_notes(song.notes_of(*parts), song.division)


def _keys(
    bounds: NDArray[np.int64] | list[int],
    tonic: NDArray[np.intp] | list[int],
    mode: tuple[str, ...],
    scale: NDArray[np.bool_],
    certainty: Floats,
    scale_certainty: Floats,
    fit: Floats,
    stated: bool = False,
) -> Keys:
    edge = np.array(bounds, dtype=np.int64)
    home = np.asarray(tonic).astype(np.int8)
    return Keys(
        start=edge[:-1],
        end=edge[1:],
        tonic=home,
        mode=mode,
        scale=scale,
        certainty=certainty,
        scale_certainty=scale_certainty,
        fit=fit,
        stated=stated,
    )
