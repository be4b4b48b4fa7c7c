"""Which streams of hits can hold a roll?

A roll is played by one pair of hands: a bass part is one stream; in a drum part every sound is one,
and the snares, claps and toms of the whole kit together are one more, because a fill wanders around
the kit. Hats, rides and shakers keep time, so their rolls are ornaments of the beat, not fills.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from basslint.song import Song

if TYPE_CHECKING:
    from basslint.hear.parts import Parts

# General MIDI 1 percussion map: 37–41, 43, 45, 47, 48, 50 are side stick, snares, hand clap, toms.
HANDS = (37, 38, 39, 40, 41, 43, 45, 47, 48, 50)
# Hats 42 44 46, cymbals 49 51 52 53 55 57 59, tambourine 54, cowbell 56, vibraslap 58, cabasa 69,
# maracas 70, whistles 71 72, guiro 73 74, claves 75, triangles 80 81 (General MIDI 1).
TIMEKEEPERS = (42, 44, 46, 49, 51, 52, 53, 54, 55, 56, 57, 58, 59, *range(69, 76), 80, 81)
KICKS = (35, 36)  # General MIDI 1
_TIMEKEEPING_NAMES = frozenset(
    "hat hats hihat hihats hh cymbal cymbals ride crash shaker tambourine".split()
)
PERCUSSION = 10  # channel of the percussion map, General MIDI 1
# Two drums struck as one are rarely more than 10 ms apart (flams are wider, 20 ms and more).
TOGETHER_S = 0.010
SLOWEST_S = 0.015  # mean gap from which on two hits within 10 ms are no chance


@dataclass(frozen=True, slots=True, eq=False)
class Hits:
    """Onsets of all streams, [n], each stream's hits together and in order of time.

    ``row`` int64: row of song.notes; ``stream`` int64: index of the stream, rising; ``kit`` bool
    [streams]: the stream of snares, claps and toms of the whole kit.
    """

    row: NDArray[np.int64]
    stream: NDArray[np.int64]
    kit: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.row)


def streams(song: Song, parts: Parts) -> Hits:
    """Gather the streams of the bass and drum parts."""
    notes = song.notes
    rows: list[NDArray[np.int64]] = []
    kit: list[bool] = []
    for part in parts.bass:
        mine = np.flatnonzero(notes.part == part)
        rows.append(_struck_apart(song, mine, 0.0))  # a chord is one hit
        kit.append(False)
    players = [p for p in parts.drums if not _keeps_time(song.parts[p].name)]
    drums = np.flatnonzero(np.isin(notes.part, players))
    general = np.array([p.channel == PERCUSSION for p in song.parts])[notes.part[drums]]
    pitch = notes.pitch[drums].astype(np.int64)
    usable = ~(general & np.isin(pitch, TIMEKEEPERS))
    drums, general, pitch = drums[usable], general[usable], pitch[usable]
    hands = drums[general & np.isin(pitch, HANDS)]
    if len(np.unique(notes.pitch[hands])) > 1:
        rows.append(_struck_apart(song, hands, TOGETHER_S))
        kit.append(True)
    pitch = np.where(general & np.isin(pitch, KICKS), KICKS[0], pitch)
    sound = notes.part[drums].astype(np.int64) * 128 + pitch
    order = np.argsort(sound, kind="stable")
    for group in np.split(drums[order], np.flatnonzero(np.diff(sound[order])) + 1):
        if len(group):
            rows.append(group)
            kit.append(False)
    sizes = [len(r) for r in rows]
    return Hits(
        np.concatenate([np.zeros(0, dtype=np.int64), *rows]).astype(np.int64),
        np.repeat(np.arange(len(rows)), sizes),
        np.array(kit, dtype=bool),
    )


def _keeps_time(name: str) -> bool:
    words = "".join(c if c.isalnum() else " " for c in name.casefold()).split()
    return not _TIMEKEEPING_NAMES.isdisjoint(words) or "hi hat" in " ".join(words)


def _struck_apart(song: Song, rows: NDArray[np.int64], together_s: float) -> NDArray[np.int64]:
    """The rows without those struck together with the one before, on another pitch.

    In a fast roll two hits may come that close by chance, so the gaps around must be longer.
    """
    if len(rows) < 3:
        return rows
    gap = np.diff(song.tempo.seconds(song.notes.start[rows]))
    around = np.convolve(np.pad(gap, 2, mode="edge"), np.ones(5) / 5, mode="valid")
    together = (gap <= np.maximum(together_s, 1e-6)) & (gap < 0.35 * around) & (around > SLOWEST_S)
    together &= np.diff(song.notes.pitch[rows]) != 0
    return rows[~np.append(False, together)]
