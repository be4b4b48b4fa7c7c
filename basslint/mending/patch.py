"""How do these edits look in bytes?

Only what an edit touches is written anew. A chunk without edits stays byte for byte; in a track
with edits every other event keeps its tick, its order, its status form and its bytes. Where the
format does not allow that it gives way as little as it can: a delta time next to an edit gets its
new value, and an event whose running status was broken gets its status byte.

Source: Standard MIDI Files 1.0 (RP-001) for chunks, quantities and running status. The written
messages are built and encoded by mido.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from functools import lru_cache

import mido
import numpy as np
from numpy.typing import NDArray

from basslint.errors import MendError, MidiError
from basslint.fixes.edits import Edit
from basslint.mending.edited import EditedNote, edited_notes
from basslint.mending.locate import Key, Located, locate
from basslint.smf.rewrite import (
    BEND,
    KEEP,
    OFF,
    OFF_AFTER_ON,
    ON,
    NewEvent,
    TrackPlan,
    is_on,
    write_track,
)
from basslint.smf.scan import TrackEvents, scan
from basslint.smf.status import KIND, NOTE_ON
from basslint.smf.wrapper import wrapped
from basslint.song.arrangement import NEVER, Song, build
from basslint.util.columns import found_in

_OPEN = -1  # the end of a note that the file never ends


class Clash(MendError):
    """The written file would play other notes than were meant; ``keys``: where it would."""

    def __init__(self, keys: frozenset[Key]) -> None:
        super().__init__(
            "A note would run into another one of the same pitch, and one end both.", KEEP
        )
        self.keys = keys


def patch(raw: bytes, song: Song, edits: Sequence[Edit]) -> bytes:
    """The file ``raw``, which ``song`` was built from, with the edits done.

    Several edits of one note add up; each is stated in terms of the song as it is. The result is
    read back: raises `MendError` where an edit names no event of the song, is impossible (a note
    that would end before it starts, a gap longer than the format can say), or where the written
    file would not play exactly the notes that were meant (a note moved into another of its pitch).
    """
    return patched(raw, song, edits)[0] if edits else raw


def plans_of(song: Song, edits: Sequence[Edit]) -> dict[int, TrackPlan]:
    """What edits do to the events of each track they touch, by its index.

    Raises `MendError` as `patch` does, save that nothing is read back.
    """
    places = locate(song, edits)
    return _plans(song, places, edited_notes(song, places))


def _plans(
    song: Song, places: Sequence[Located], notes: dict[int, EditedNote | None]
) -> dict[int, TrackPlan]:
    plans: dict[int, TrackPlan] = {}
    for row, note in notes.items():
        part = song.parts[int(song.notes.part[row])]
        plan = plans.setdefault(part.track, TrackPlan({}, set(), []))
        _plan_note(song, row, note, part.channel, song.scan.tracks[part.track], plan)
    for place in places:
        if place.edit.do in ("bend", "insert"):
            plan = plans.setdefault(place.edit.track, TrackPlan({}, set(), []))
            _plan_new(place, plan)
    return plans


def patched(raw: bytes, song: Song, edits: Sequence[Edit]) -> tuple[bytes, Song]:
    """As `patch`, with the song that the new bytes hold, out of a RIFF wrapper."""
    places = locate(song, edits)
    notes = edited_notes(song, places)
    plans = _plans(song, places, notes)
    data = bytearray()
    at = 0
    for index in sorted(plans):
        track = song.scan.tracks[index]
        body = write_track(song.scan.data, track, plans[index])
        data += song.scan.data[at : track.chunk.offset + 4]
        data += len(body).to_bytes(4, "big") + body
        at = track.chunk.end
    data += song.scan.data[at:]
    after = _checked(song, notes, places, bytes(data), plans)
    return wrapped(raw, song.scan.base, len(song.scan.data), bytes(data)), after


def _plan_note(
    song: Song, row: int, note: EditedNote | None, channel: int, track: TrackEvents, plan: TrackPlan
) -> None:
    """Turn a note's new state into changes of its two events."""
    on, off = int(song.notes.on_row[row]), int(song.notes.off_row[row])
    if note is None:
        plan.taken.update({on} if off == NEVER else {on, off})
        return
    body = _encode("note_on", channel, note=note.pitch, velocity=note.velocity)[1:]
    same_key = note.pitch == song.notes.pitch[row]
    if note.start == track.tick[on] and (same_key or not _in_the_way(track, on, note.pitch)):
        plan.replaced[on] = body
    else:
        plan.taken.add(on)
        plan.put.append(
            NewEvent(tick=note.start, order=ON, status=int(track.status[on]), body=body, row=on)
        )
    order = OFF_AFTER_ON if note.start == note.end else OFF
    if off == NEVER:
        if note.closed:
            status, *rest = _encode("note_off", channel, note=note.pitch, velocity=64)
            plan.put.append(
                NewEvent(tick=note.end, order=order, status=status, body=bytes(rest), row=-1)
            )
        return
    body = bytes((note.pitch, int(track.data2[off])))  # the release's own form and velocity stay
    if note.end == track.tick[off] and (same_key or not _in_the_way(track, off, note.pitch)):
        plan.replaced[off] = body
    else:
        plan.taken.add(off)
        plan.put.append(
            NewEvent(tick=note.end, order=order, status=int(track.status[off]), body=body, row=off)
        )


def _in_the_way(track: TrackEvents, row: int, pitch: int) -> bool:
    """Would this event, left in its place with a new pitch, stand on the wrong side of another?

    At one tick the end of a note must come before the start of the next one of the same pitch.
    """
    tick, mine = track.tick[row], is_on(track, row)
    beside = row + 1 if mine else row - 1
    if beside == len(track.tick) or track.tick[beside] != tick:
        return False
    # those that it must come after, or before
    if mine:
        near = slice(row + 1, int(track.tick.searchsorted(tick, side="right")))
    else:
        near = slice(int(track.tick.searchsorted(tick)), row)
    of_key = track.data1[near] == pitch
    if not of_key.any():
        return False
    status = track.status[near]
    of_key &= (status < 0xA0) & (status & 0x0F == int(track.status[row]) & 0x0F)
    strikes = (status & KIND == NOTE_ON) & (track.data2[near] > 0)
    return bool((of_key & (strikes != mine)).any())


def _plan_new(place: Located, plan: TrackPlan) -> None:
    """Put in a note, or set, add or take out a bend."""
    edit = place.edit
    if edit.do == "insert":
        if edit.after is None or edit.end_tick <= edit.tick:
            raise MendError("A note to put in needs a pitch and a length.", KEEP)
        on = _encode("note_on", edit.channel, note=edit.after, velocity=edit.velocity or 100)
        off = _encode("note_off", edit.channel, note=edit.after, velocity=64)
        plan.put.append(NewEvent(tick=edit.tick, order=ON, status=on[0], body=on[1:], row=-1))
        plan.put.append(
            NewEvent(tick=edit.end_tick, order=OFF, status=off[0], body=off[1:], row=-1)
        )
    elif edit.after is None:
        if place.row >= 0:
            plan.taken.add(place.row)
    else:
        status, *body = _encode("pitchwheel", edit.channel, pitch=edit.after)
        if place.row >= 0:
            plan.replaced[place.row] = bytes(body)
        else:
            plan.put.append(
                NewEvent(tick=edit.tick, order=BEND, status=status, body=bytes(body), row=-1)
            )


@lru_cache(4096)  # a song has few kinds of notes
def _encode(kind: str, channel: int, **values: int) -> bytes:
    try:
        return bytes(mido.Message(kind, channel=channel - 1, **values).bytes())
    except ValueError as error:
        raise MendError(f"MIDI cannot say this: {error}.", KEEP) from None


def _checked(
    song: Song,
    edited: dict[int, EditedNote | None],
    places: Sequence[Located],
    data: bytes,
    tracks: Collection[int],
) -> Song:
    """Read the result back: it must play the notes that were meant and no others.

    ``tracks``: those that were written anew; the others hold the bytes that they held.
    """
    want = _note_rows(song)
    gone = [row for row, note in edited.items() if note is None]
    for row, note in edited.items():
        if note is not None:
            end = note.end if note.closed else _OPEN
            want[row, :4] = note.start, end, note.pitch, note.velocity
    added = [
        (e.tick, e.end_tick, e.after, e.velocity or 100, e.track * 16 + e.channel - 1)
        for e in (place.edit for place in places)
        if e.do == "insert"
    ]
    want = np.delete(want, gone, axis=0)
    if added:
        want = np.concatenate((want, np.array(added, dtype=np.int64)))
    try:
        after = build(scan(data, song.scan.limits, song.scan))
    except MidiError as error:  # a limit that the file as it was only just kept
        raise MendError(error.message, error.advice) from None
    have = _note_rows(after)
    want, have = (r[found_in(r[:, 4] // 16, list(tracks))] for r in (want, have))
    if not np.array_equal(_in_order(want), _in_order(have)):
        wanted, played = (Counter(map(tuple, rows.tolist())) for rows in (want, have))
        raise Clash(frozenset((n[4], n[2]) for n in (wanted - played) + (played - wanted)))
    return after


def _note_rows(song: Song) -> NDArray[np.int64]:
    """The notes as rows of start, end (`_OPEN` where none is written), pitch, velocity, voice."""
    notes = song.notes
    voices = np.array([p.track * 16 + p.channel - 1 for p in song.parts], dtype=np.int64)
    end = np.where(notes.off_row == NEVER, _OPEN, notes.end)
    columns = (notes.start, end, notes.pitch, notes.velocity, voices[notes.part])
    return np.stack([column.astype(np.int64) for column in columns], axis=1)


def _in_order(rows: NDArray[np.int64]) -> NDArray[np.int64]:
    return rows[np.lexsort(rows.T)]
