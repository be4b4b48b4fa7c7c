"""Which streams of hits can hold a roll?

A roll is played by one pair of hands: a bass part is one stream; in a drum part every sound is one,
and the snares, claps and toms of the whole kit together are one more, because a fill wanders around
the kit. Hats, rides and shakers keep time, so their rolls are ornaments of the beat, not fills; so
is an unnamed sound that is struck in even eighths or faster most of the time. A break that was
chopped and spread over the keys is the beat itself, however its slices are put together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.hear.parts.names import role_by_name
from basslint.song.arrangement import Song
from basslint.theory.general_midi import CLAP, DRUM_CHANNEL, KEYS, KICKS, SNARES, TIMEKEEPERS, TOMS
from basslint.util.columns import (
    differences,
    distinct,
    ends_of,
    found_in,
    median,
    order_of,
    rows_where,
    turns,
)
from basslint.util.records import record

if TYPE_CHECKING:
    from basslint.hear.parts.parts import Parts

Column = NDArray[np.float64]

_HANDS = (*SNARES, CLAP, *TOMS)
_TIMEKEEPING_NAMES = frozenset(
    ("hat", "hats", "hihat", "hihats", "hh", "cymbal", "cymbals", "ride", "crash", "shaker")
)
_IS_HAND, _IS_TIMEKEEPER, _IS_KICK = (
    found_in(np.arange(128), sounds) for sounds in (_HANDS, TIMEKEEPERS, KICKS)
)
# Common practice, no source, for what follows.
_BREAK_NAMES = frozenset(
    ("break", "breaks", "breakbeat", "chop", "chops", "chopped", "slice", "slices", "sliced")
)
_FEWEST_OF_TIME = 16  # hits from which an unnamed sound may be told to keep time
_TIME_STEP = 0.55  # quarters: an eighth, as played
_TIME_SHARE = 0.6  # of its gaps that are as short
_SLICES = 6  # keys side by side on which a break lies at least
_RUN_SHARE = 0.5  # of its steps that go from a slice to the next one
_OCTAVE = 12
_BESIDE = 2  # gaps on either side of a close one that tell what is usual there
# Two drums struck as one are rarely more than 10 ms apart; a flam's grace note comes up to 40 ms
# ahead. Both lie far closer than the hits around; in faster rolls hits come as close by chance.
TOGETHER_S, TOGETHER_SHARE, FASTEST_TOGETHER_S = 0.010, 0.35, 0.015
FLAM_S, FLAM_SHARE, FASTEST_FLAM_S = 0.040, 0.25, 0.050


@record(eq=False)
class Hits:
    """Onsets of all streams, [n], each stream's hits together and in order of time.

    ``row`` int64: row of song.notes; ``stream`` int64: index of the stream, rising; ``kit`` bool
    [streams]: the stream of snares, claps and toms of the whole kit; ``kick`` bool [streams].
    """

    row: NDArray[np.int64]
    stream: NDArray[np.int64]
    kit: NDArray[np.bool_]
    kick: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.row)


def streams(song: Song, parts: Parts) -> Hits:
    """Gather the streams of the bass and drum parts."""
    notes = song.notes
    rows: list[NDArray[np.int64]] = []
    kick: list[bool] = []
    for part in parts.bass:  # a part has at least one note
        rows.append(_without_octaves(song, _one_per_chord(song, rows_where(notes.part == part))))
        kick.append(False)
    players = [p for p in parts.drums if not _keeps_time(song.parts[p].name)]
    players = [p for p in players if not _is_chopped(song, p)]
    drums = song.rows_of(players)
    general = np.array([p.channel == DRUM_CHANNEL for p in song.parts], dtype=bool)[
        notes.part[drums]
    ]
    pitch = notes.pitch[drums].astype(np.int64)
    usable = ~(general & _IS_TIMEKEEPER[pitch])
    drums, general, pitch = drums[usable], general[usable], pitch[usable]
    kicks = general & _IS_KICK[pitch]
    sound = notes.part[drums].astype(np.int64) * KEYS + np.where(kicks, KICKS[0], pitch)
    order = order_of(sound)
    begin = rows_where(turns(sound[order]))
    for first, last in zip(begin.tolist(), ends_of(begin, len(order)).tolist(), strict=True):
        group = order[first:last]
        if len(group) > 1 and (general[group[0]] or not _is_even(song, drums[group])):
            rows.append(_without_flams(song, drums[group]))
            kick.append(bool(kicks[group[0]]))
    hands = drums[general & _IS_HAND[pitch]]
    whole = bool(np.count_nonzero(differences(notes.pitch[hands])))  # more than one drum
    if whole:
        rows.append(_without_flams(song, _struck_apart(song, hands)))
        kick.append(False)
    kit = np.zeros(len(rows), dtype=bool)
    kit[-1:] = whole
    return Hits(
        np.concatenate([np.zeros(0, dtype=np.int64), *rows]),
        np.arange(len(rows)).repeat([len(r) for r in rows]),
        kit,
        np.array(kick, dtype=bool),
    )


def _keeps_time(name: str) -> bool:
    words = "".join(c if c.isalnum() else " " for c in name.casefold()).split()
    return not _TIMEKEEPING_NAMES.isdisjoint(words) or "hi hat" in " ".join(words)


def _is_chopped(song: Song, part: int) -> bool:
    """Whether a part plays the slices of a break: by its name, or as it runs from key to key."""
    owner = song.parts[part]
    words = "".join(c if c.isalnum() else " " for c in owner.name.casefold()).split()
    if not _BREAK_NAMES.isdisjoint(words):
        return True
    if owner.channel == DRUM_CHANNEL:
        return False
    pitch = song.notes.pitch[song.notes.part == part].astype(np.int64)
    if len(distinct(pitch)) < _SLICES:
        return False
    return bool(np.mean(differences(pitch) == 1) >= _RUN_SHARE)


def _is_even(song: Song, rows: NDArray[np.intp]) -> bool:
    """Whether one sound of a part without a telling name is struck in even, short steps."""
    if len(rows) < _FEWEST_OF_TIME or role_by_name(song.parts[song.notes.part[rows[0]]].name):
        return False
    gap = differences(song.notes.start[rows]) / song.division
    return bool(np.mean(gap <= _TIME_STEP) >= _TIME_SHARE)


def _without_octaves(song: Song, rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """The rows without octaves that a hand strikes a little after the note that they double."""
    way = differences(song.notes.pitch[rows].astype(np.int64))
    return _without_flams(song, rows, (way != 0) & (np.mod(way, _OCTAVE) == 0))


def _one_per_chord(song: Song, rows: NDArray[np.intp]) -> NDArray[np.int64]:
    return _loudest(song, rows, differences(song.notes.start[rows]) == 0)


def _struck_apart(song: Song, rows: NDArray[np.intp]) -> NDArray[np.int64]:
    """The rows without doubles: two drums that are struck as one."""
    gap = differences(song.tempo.seconds(song.notes.start[rows]))
    close = (gap <= TOGETHER_S) & (differences(song.notes.pitch[rows]) != 0)
    usual = _around(gap, close).mean(axis=1)
    close[close] = (gap[close] <= TOGETHER_SHARE * usual) & (usual > FASTEST_TOGETHER_S)
    return _loudest(song, rows, close)


def _without_flams(
    song: Song, rows: NDArray[np.intp], may: NDArray[np.bool_] | bool = True
) -> NDArray[np.int64]:
    """The rows without the grace notes of flams; ``may`` [n − 1]: which two could be one."""
    gap = differences(song.tempo.seconds(song.notes.start[rows]))
    close = (gap <= FLAM_S) & may
    if np.count_nonzero(close):
        usual = median(_around(gap, close))
        close[close] = (gap[close] <= FLAM_SHARE * usual) & (usual > FASTEST_FLAM_S)
    return _loudest(song, rows, close)


def _around(gap: Column, close: NDArray[np.bool_]) -> Column:
    """The five gaps around each that is ``close`` [n − 1], the song's ends repeated, [k, 5]."""
    near = rows_where(close)[:, None] + np.arange(-_BESIDE, _BESIDE + 1)
    return np.asarray(gap[near.clip(0, len(gap) - 1)])


def _loudest(song: Song, rows: NDArray[np.intp], close: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Of every two rows that ``close`` [n − 1] ties together, the louder one."""
    if not np.count_nonzero(close):
        return rows
    velocity = song.notes.velocity[rows]
    first = velocity[:-1] >= velocity[1:]
    dropped = np.concatenate(([False], close & first)) | np.concatenate((close & ~first, [False]))
    louder: NDArray[np.int64] = rows[~dropped].astype(np.int64)
    return louder
