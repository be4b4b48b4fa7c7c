"""Which events of the file does an edit mean?

An edit names a note as a musician would: part, ticks, pitch. Here it gets back the rows of the
file's events, so that bytes can be changed and two edits of one event be noticed.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from basslint.errors import MendError
from basslint.fixes.edits import Edit
from basslint.smf.status import BEND
from basslint.song.arrangement import NEVER, Song
from basslint.theory.names import pitch_name
from basslint.util.records import record

# An event of the file is (track, row). One that an edit adds is (track, channel, tick, what):
# what is the pitch of a note, or 128 for a bend, so that no two of them are taken for the same.
Event = tuple[int, ...]
_ADDED_BEND = 128

Key = tuple[int, int]  # track * 16 + channel from 0, pitch: notes of one key end each other

_RELOAD = "The file has changed since it was judged; check it again, then mend."


@record
class Located:
    """An edit with its place: ``note`` row of song.notes, ``row`` row of a bend; −1 where none."""

    edit: Edit
    note: int
    row: int


def locate(song: Song, edits: Iterable[Edit]) -> tuple[Located, ...]:
    """Find what each edit touches, in the order given.

    Raises `MendError` where the song has no such note or bend.
    """
    found: list[Located] = []
    parts = {(p.track, p.channel): row for row, p in enumerate(song.parts)}
    for edit in edits:
        if edit.do == "bend":
            row = -1 if edit.before is None else _find_bend(song, edit)
            found.append(Located(edit, -1, row))
        elif edit.do == "insert":
            found.append(Located(edit, -1, -1))
        else:
            part = parts.get((edit.track, edit.channel), -1)
            found.append(Located(edit, _find_note(song, edit, part), -1))
    return tuple(found)


def events_of(song: Song, edits: Iterable[Edit]) -> frozenset[Event]:
    """The events that a set of edits changes, takes out or adds."""
    events: set[Event] = set()
    for place in locate(song, edits):
        edit = place.edit
        if edit.do == "bend":
            added = (edit.track, edit.channel, edit.tick, _ADDED_BEND)
            events.add(added if place.row < 0 else (edit.track, place.row))
        elif edit.do == "insert":
            events.add((edit.track, edit.channel, edit.tick, edit.after or 0))
        else:
            on, off = int(song.notes.on_row[place.note]), int(song.notes.off_row[place.note])
            if edit.do != "end":
                events.add((edit.track, on))
            if edit.do not in ("start", "velocity") and off != NEVER:
                events.add((edit.track, off))
            if edit.do == "end" and off == NEVER:
                events.add((edit.track, edit.channel, int(edit.after or 0), int(edit.pitch or 0)))
    return frozenset(events)


def _find_note(song: Song, edit: Edit, part: int) -> int:
    notes = song.notes
    pitch = edit.before if edit.pitch is None else edit.pitch
    left = edit.nth
    row = int(notes.start.searchsorted(edit.tick))
    while row < len(notes.start) and notes.start[row] == edit.tick:
        # row by row: hardly any note starts at the same tick, and a mask of a few costs more
        if (
            notes.pitch[row] == pitch
            and notes.end[row] == edit.end_tick
            and notes.part[row] == part
        ):
            if not left:
                return row
            left -= 1
        row += 1
    name = "note" if pitch is None else pitch_name(pitch)
    raise MendError(
        f"There is no {name} from tick {edit.tick} to {edit.end_tick} on track {edit.track}, "
        f"channel {edit.channel}.",
        _RELOAD,
    )


def _find_bend(song: Song, edit: Edit) -> int:
    changes = song.changes
    first, last = np.searchsorted(changes.tick, [edit.tick, edit.tick + 1]).tolist()
    near = slice(first, last)
    same = (changes.kind[near] == BEND) & (changes.value[near] == edit.before)
    same &= (changes.track[near] == edit.track) & (changes.channel[near] == edit.channel)
    rows = changes.row[near][same]
    if len(rows) <= edit.nth:
        raise MendError(
            f"There is no bend to {edit.before} at tick {edit.tick} on track {edit.track}, "
            f"channel {edit.channel}.",
            _RELOAD,
        )
    return int(rows[edit.nth])


def keys_of(edits: Iterable[Edit]) -> frozenset[Key]:
    """The keys that edits may touch, and perhaps a few more."""
    return frozenset(
        (edit.track * 16 + edit.channel - 1, pitch)
        for edit in edits
        for pitch in (edit.pitch, edit.before, edit.after)
        if pitch is not None
    )
