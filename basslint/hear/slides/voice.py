"""Which notes does one part play as one voice, and what do its portamento controllers say?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.hear.stuck_notes import end_stuck_notes
from basslint.smf.status import CONTROLLER
from basslint.song.arrangement import Song
from basslint.song.ranges import RESET_CONTROLLERS, heard_by
from basslint.util.columns import differences, found_in, rows_where
from basslint.util.records import record

_SWITCH, _SOURCE_NOTE = 65, 84  # portamento on/off and portamento control, MIDI 1.0
_ON = 64  # value of a switch from which on it is on, MIDI 1.0
_STEERS = _SWITCH, _SOURCE_NOTE, RESET_CONTROLLERS
FOREVER = int(np.iinfo(np.int64).max) // 4  # ticks: later than all, with room to add to it

# Common practice, no source, for all of these:
EDGE_S = 0.010  # shorter than this nothing is heard as a pitch
EMPTY_S = 0.005  # nor at all: a slip of the mouse
CHORD_SHARE = 0.2  # a part with more of its notes in chords than this is not played as one voice
_FEW_IN_CHORDS = 2  # notes: one chord makes no part polyphonic, however short that is
_TOGETHER = 64  # notes less than a quarter / 64 (a 256th) apart start together
_OVERLAP = 2  # notes that may still sound at a start: the one before, and one that it slid from


@record(eq=False, kw_only=True)
class Voice:
    """The notes of one part, columns of shape [n] in order of start, pitch.

    ``row`` int64 rows in song.notes; ``start``, ``end`` int64 ticks; ``pitch`` int16; ``start_s``,
    ``end_s`` float64 seconds; ``following`` int64: start of the next later note, `FOREVER` after
    the last; ``mono``: whether one voice plays it; ``gliding`` bool [n]: portamento is switched on
    at the note; ``glides_from`` int16 [n]: pitch that controller 84 names, −1 where none;
    ``switched``: the part switches portamento on somewhere, so off means off.
    """

    row: NDArray[np.int64]
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    pitch: NDArray[np.int16]
    start_s: NDArray[np.float64]
    end_s: NDArray[np.float64]
    following: NDArray[np.int64]
    mono: bool
    gliding: NDArray[np.bool_]
    glides_from: NDArray[np.int16]
    switched: bool


def hear_voice(song: Song, part: int) -> Voice:
    """Gather the notes of a part with what its portamento controllers say at each.

    Notes too short to sound are no notes of its line, unless it has no others.
    """
    row = song.rows_of([part])
    notes = end_stuck_notes(song.notes.take(row), song.division)
    start_s, end_s = song.tempo.seconds(notes.start), song.tempo.seconds(notes.end)
    sounds = end_s - start_s >= EMPTY_S
    if np.count_nonzero(sounds) and not sounds.all():
        row, notes, start_s, end_s = row[sounds], notes.take(sounds), start_s[sounds], end_s[sounds]
    start, end, pitch = notes.start, notes.end, notes.pitch
    after = start.searchsorted(start, side="right")
    following = np.concatenate((start, [FOREVER]))[after]
    gliding, glides_from = controllers_at(song, part, start)
    return Voice(
        row=row.astype(np.int64),
        start=start,
        end=end,
        pitch=pitch,
        start_s=start_s,
        end_s=end_s,
        following=following,
        mono=is_mono(start, end, pitch, song.division),
        gliding=gliding,
        glides_from=glides_from,
        switched=bool(gliding.any()),
    )


def is_mono(
    start: NDArray[np.int64], end: NDArray[np.int64], pitch: NDArray[np.int16], division: int
) -> bool:
    """Whether a part is played one note at a time, overlaps of two apart.

    A note counts as part of a chord where it starts with another one (within a 1/256 note), or
    while two others still sound.
    """
    if len(start) < 2:
        return True
    sounding = np.arange(len(start)) - np.sort(end, kind="stable").searchsorted(start, side="right")
    close = differences(start) <= division // _TOGETHER
    together = close & (differences(pitch) != 0) & (sounding[1:] > 0)
    chord = sounding >= _OVERLAP
    chord[1:] |= together
    chord[:-1] |= together
    return int(chord.sum()) <= max(CHORD_SHARE * len(start), _FEW_IN_CHORDS)


def before_each(start: NDArray[np.int64]) -> NDArray[np.int64]:
    """Start of the last earlier note before each of a part's sorted starts; `FOREVER` for none."""
    place = start.searchsorted(start, side="left")
    return np.concatenate(([FOREVER], start))[place]


def controllers_at(
    song: Song, part: int, start: NDArray[np.int64]
) -> tuple[NDArray[np.bool_], NDArray[np.int16]]:
    """State of controllers 65 and 84 at each note of a part; those of the same tick count."""
    gliding = np.zeros(len(start), dtype=bool)
    source = np.full(len(start), -1, dtype=np.int16)
    if song.steering.controllers.isdisjoint(_STEERS):
        return gliding, source
    changes, owner = song.changes, song.parts[part]
    rows = rows_where((changes.kind == CONTROLLER) & (changes.channel == owner.channel))
    rows = rows[found_in(changes.number[rows], _STEERS)]
    if not len(rows):
        return gliding, source
    found = changes.take(rows)
    found = found.take(heard_by(song, owner.track, found))
    switch = found.take(found.number != _SOURCE_NOTE)
    on = np.where(switch.number == _SWITCH, switch.value >= _ON, False)  # a reset turns it off
    place = switch.tick.searchsorted(start, side="right")
    gliding = np.concatenate(([False], on))[place]
    named = found.take(found.number == _SOURCE_NOTE)
    place = named.tick.searchsorted(start, side="right") - 1
    fresh = place >= 0  # only the first note after the controller
    fresh[1:] &= place[1:] > place[:-1]
    source[fresh] = named.value[place[fresh]]
    return gliding, source
