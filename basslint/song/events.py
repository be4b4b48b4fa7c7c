"""Columns and small values that a Song is made of."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from basslint.util.records import record

NEVER = -1  # off_row of a note whose end the file does not hold
_COUNTED = r"track \d+( ch \d+)?"


@record(eq=False, kw_only=True)
class Notes:
    """Notes as columns of shape [n], sorted by start, then pitch, then part.

    ``start``, ``end`` int64 ticks; ``pitch`` int16 MIDI number; ``velocity`` int16; ``part`` int32
    index into ``Song.parts``; ``on_row``, ``off_row`` int64: rows of the note-on and note-off in
    the track's events, ``off_row`` = `NEVER` where the file never ends the note (its ``end`` is
    then where its part next strikes the same key, or the end of the song).
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    pitch: NDArray[np.int16]
    velocity: NDArray[np.int16]
    part: NDArray[np.int32]
    on_row: NDArray[np.int64]
    off_row: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.start)

    @property
    def parts(self) -> list[int]:
        """The parts that any of the notes belong to, indexes into ``Song.parts``, rising."""
        return np.bincount(self.part).nonzero()[0].tolist()

    def take(self, rows: NDArray[np.bool_] | NDArray[np.intp]) -> Notes:
        """The notes of a mask or of row numbers, in that order."""
        rows = rows.nonzero()[0] if rows.dtype == np.bool_ else rows
        return Notes(
            start=self.start[rows],
            end=self.end[rows],
            pitch=self.pitch.take(rows),
            velocity=self.velocity.take(rows),
            part=self.part[rows],
            on_row=self.on_row[rows],
            off_row=self.off_row[rows],
        )


@record(kw_only=True)
class Part:
    """One (track, channel) pair that has notes. ``number`` counts from 1, ``channel`` is 1–16.

    ``program`` is the MIDI program 0–127 in force at the part's first note, None where none is set.
    ``track_name`` is what the file says, ``name`` tells parts that share a track apart.
    """

    number: int
    track: int
    channel: int
    name: str
    track_name: str
    program: int | None
    notes: int
    lowest: int
    highest: int


def given_name(part: str) -> str:
    """A part's name if somebody gave it, else nothing.

    A name that only counts the tracks (``track 3``) would change with the order of tracks.
    """
    return "" if re.fullmatch(_COUNTED, part, re.IGNORECASE) else part


@record(eq=False, kw_only=True)
class Changes:
    """Channel messages other than notes as columns [n], by tick, then track, then file order.

    ``kind`` uint8: the status nibble (0xB0 controller, 0xC0 program, 0xD0 and 0xA0 pressure,
    0xE0 bend); ``channel`` int16 1–16; ``number`` int16: controller or program number; ``value``
    int16: controller value, or bend −8192..8191; ``row`` int64: row in the track's events.
    """

    tick: NDArray[np.int64]
    kind: NDArray[np.uint8]
    track: NDArray[np.int32]
    channel: NDArray[np.int16]
    number: NDArray[np.int16]
    value: NDArray[np.int16]
    row: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.tick)

    def take(self, rows: NDArray[np.bool_] | NDArray[np.intp]) -> Changes:
        """The changes of a mask or of row numbers, in that order."""
        rows = rows.nonzero()[0] if rows.dtype == np.bool_ else rows
        return Changes(
            tick=self.tick[rows],
            kind=self.kind.take(rows),
            track=self.track[rows],
            channel=self.channel.take(rows),
            number=self.number.take(rows),
            value=self.value[rows],
            row=self.row[rows],
        )


@record
class Marker:
    """A marker or cue point of any track."""

    tick: int
    text: str
