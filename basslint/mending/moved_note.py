"""How does a song stand with one note moved?

Mostly its columns alone tell: the note stands elsewhere, all else is as it was. Where the bytes
have a say (two notes of one pitch that meet, a note that is never ended, an end beyond that of its
track, a program that another first note would find), the moved note is written and read back.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from basslint.errors import BasslintError
from basslint.fixes.edits import Edit
from basslint.mending.patch import patched
from basslint.smf.status import PROGRAM
from basslint.song.arrangement import NEVER, Notes, Part, Song
from basslint.util.records import replace

HIGHEST = 127  # a MIDI number is a data byte of seven bits


def moved_note(song: Song, note: int, semitones: int, ticks: int) -> tuple[Song, int] | None:
    """The song with a note (a row of song.notes) moved, and the row where it then stands.

    None where it cannot be written: it would leave the song or the keys, or run into another note
    of its pitch. ``song`` is out of any RIFF wrapper. The rows of events and the bytes that the
    moved song states may be those of the song as it was.
    """
    notes = song.notes
    start, end, pitch = int(notes.start[note]), int(notes.end[note]), int(notes.pitch[note])
    if not 0 <= pitch + semitones <= HIGHEST or not 0 <= start + ticks < int(song.grid.start[-1]):
        return None
    if not semitones and not ticks:
        return song, note
    if _bytes_have_a_say(song, note, semitones, ticks):
        after = _written(song, note, semitones, ticks)
        if after is None:
            return None
        there = after.notes
        at = (there.part == notes.part[note]) & (there.start == start + ticks)
        at &= (there.pitch == pitch + semitones) & (there.end == end + ticks)
        rows = np.flatnonzero(at)
        return (after, int(rows[0])) if len(rows) else None
    return _columns(song, note, semitones, ticks)


def _bytes_have_a_say(song: Song, note: int, semitones: int, ticks: int) -> bool:
    notes, part = song.notes, song.parts[int(song.notes.part[note])]
    start, end, pitch = int(notes.start[note]), int(notes.end[note]), int(notes.pitch[note])
    if start == end or notes.off_row[note] == NEVER:
        return True
    mine = (notes.part == notes.part[note]) & (np.arange(len(notes)) != note)
    for key, by in ((pitch, 0), (pitch + semitones, ticks)):
        same = mine & (notes.pitch == key)
        meets = (notes.start <= end + by) & (notes.end >= start + by)
        if (same & (meets | (notes.off_row == NEVER))).any():
            return True
    if not ticks:
        return False
    if end + ticks > int(song.scan.tracks[part.track].tick[-1]):
        return True
    others = notes.start[mine]
    first = min(start, int(others[0])) if len(others) else start
    then = min(start + ticks, int(others[0])) if len(others) else start + ticks
    changes = song.changes
    set_between = (changes.kind == PROGRAM) & (changes.channel == part.channel)
    set_between &= (changes.tick > min(first, then)) & (changes.tick <= max(first, then))
    return bool(first != then and set_between.any())


def _written(song: Song, note: int, semitones: int, ticks: int) -> Song | None:
    notes = song.notes
    part = song.parts[int(notes.part[note])]
    start, end, pitch = int(notes.start[note]), int(notes.end[note]), int(notes.pitch[note])
    place = {"track": part.track, "channel": part.channel, "tick": start, "end_tick": end}
    edits = [
        Edit(do="pitch", before=pitch, after=pitch + semitones, **place) if semitones else None,
        Edit(do="move", before=start, after=start + ticks, pitch=pitch, **place) if ticks else None,
    ]
    try:
        return patched(song.scan.data, song, [e for e in edits if e is not None])[1]
    except BasslintError:
        return None


def _columns(song: Song, note: int, semitones: int, ticks: int) -> tuple[Song, int]:
    notes = song.notes
    start, end, pitch = notes.start.copy(), notes.end.copy(), notes.pitch.copy()
    start[note] += ticks
    end[note] += ticks
    pitch[note] += semitones
    order = np.lexsort((notes.part, pitch, start))
    moved: Notes = replace(notes, start=start, end=end, pitch=pitch).take(order)
    parts = list(song.parts)
    number = int(notes.part[note])
    parts[number] = _with_reach(parts[number], pitch[notes.part == number])
    after = replace(song, notes=moved, parts=tuple(parts))
    return after, int(np.flatnonzero(order == note)[0])


def _with_reach(part: Part, pitch: NDArray[np.int16]) -> Part:
    return replace(part, lowest=int(pitch.min()), highest=int(pitch.max()))
