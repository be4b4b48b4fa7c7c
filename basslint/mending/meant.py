"""Which song do edits make? The one that the patched bytes would hold, mostly without writing them.

Where edits only move, shape or remove notes that lie clear of others of their pitch, the columns
tell. Where the bytes have a say (two notes of one pitch that overlap, one that is never ended, an
end beyond that of its track, a program that another first note would find, a bend, a new note),
the edits are written and read back.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from basslint.fixes.edits import Edit
from basslint.mending.edited import EditedNote, edited_notes
from basslint.mending.locate import locate
from basslint.mending.patch import patched
from basslint.smf.status import PROGRAM
from basslint.song.arrangement import NEVER, Notes, Song
from basslint.util.records import replace


def meant_song(song: Song, edits: Sequence[Edit]) -> Song:
    """The song with edits done; ``song`` is out of any RIFF wrapper.

    The bytes, the rows of events and the warnings that it states may be those of the song as it
    was. Raises `MendError` as `patch` does.
    """
    if any(edit.do in ("bend", "insert") for edit in edits):
        return patched(song.scan.data, song, edits)[1]
    edited = edited_notes(song, locate(song, edits))
    after = _columns(song, edited)
    return after if after is not None else patched(song.scan.data, song, edits)[1]


def _columns(song: Song, edited: dict[int, EditedNote | None]) -> Song | None:
    """The song by its columns, None where the bytes have a say."""
    notes = song.notes
    rows = np.array(list(edited), dtype=np.intp)
    start, end = notes.start.copy(), notes.end.copy()
    pitch, velocity = notes.pitch.copy(), notes.velocity.copy()
    kept = np.ones(len(notes), dtype=bool)
    for row, note in edited.items():
        if note is None:
            kept[row] = False
        else:
            start[row], end[row] = note.start, note.end
            pitch[row], velocity[row] = note.pitch, note.velocity
    order = np.lexsort((notes.part, pitch, start))
    order = order[kept[order]]
    whole = replace(notes, start=start, end=end, pitch=pitch, velocity=velocity)
    after = whole.take(order)
    touched = notes.part[rows]
    keys = np.concatenate((_key(notes, rows), _key(whole, rows[kept[rows]])))
    if not (_clear(notes, keys) and _clear(after, keys)):
        return None
    ends = np.array([int(song.scan.tracks[p.track].tick[-1]) for p in song.parts], dtype=np.int64)
    if (end[rows] > ends[touched]).any():
        return None
    parts = list(song.parts)
    for number in dict.fromkeys(touched.tolist()):
        mine = after.part == number
        if not mine.any() or _finds_other_program(song, number, int(after.start[mine][0])):
            return None
        of_part = after.pitch[mine]
        parts[number] = replace(
            parts[number],
            notes=len(of_part),
            lowest=int(of_part.min()),
            highest=int(of_part.max()),
        )
    return replace(song, notes=after, parts=tuple(parts))


def _key(notes: Notes, rows: NDArray[np.intp]) -> NDArray[np.int64]:
    """Part and pitch of some notes as one number each."""
    return np.asarray(notes.part[rows].astype(np.int64) * 128 + notes.pitch[rows])


def _clear(notes: Notes, keys: NDArray[np.int64]) -> bool:
    """Do all notes of some keys lie one after the other, each ended and of some length?"""
    of_key = np.zeros(int(max(keys.max(initial=0), 0)) + 1, dtype=bool)
    of_key[keys] = True
    every = notes.part.astype(np.int64) * 128 + notes.pitch
    rows = np.flatnonzero(of_key[np.minimum(every, len(of_key) - 1)] & (every < len(of_key)))
    if (notes.off_row[rows] == NEVER).any() or (notes.end[rows] <= notes.start[rows]).any():
        return False
    rows = rows[np.argsort(every[rows], kind="stable")]
    same = np.diff(every[rows]) == 0
    return not (same & (notes.end[rows][:-1] > notes.start[rows][1:])).any()


def _finds_other_program(song: Song, part: int, start: int) -> bool:
    """Is a program set between the first note of a part as it was and a new first note?"""
    first = int(song.notes.start[song.notes.part == part][0])
    changes = song.changes
    set_here = (changes.kind == PROGRAM) & (changes.channel == song.parts[part].channel)
    low, high = min(first, start), max(first, start)
    return bool((set_here & (changes.tick > low) & (changes.tick <= high)).any())
