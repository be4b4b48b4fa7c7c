"""Laws of editing bytes, on drawn files with everything that RP-001 allows."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from drawn_songs import song_within_limits
from hypothesis import assume, given
from hypothesis import strategies as st
from midi_bytes import files

from basslint.errors import MendError, MidiError
from basslint.fixes.edits import Do, Edit
from basslint.mending.locate import events_of
from basslint.mending.patch import patch
from basslint.smf.scan import Scan, scan
from basslint.song.arrangement import NEVER, Song, build

DOES: tuple[Do, ...] = ("pitch", "velocity", "start", "end", "move", "remove", "insert", "bend")


@dataclass(frozen=True)
class Case:
    """A file, its song and edits of some of its notes."""

    raw: bytes
    song: Song
    edits: tuple[Edit, ...]


@st.composite
def cases(draw: st.DrawFn, does: tuple[Do, ...] = DOES) -> Case:
    raw = draw(files(calm=True))
    song = song_within_limits(raw)
    assume(len(song.notes) > 0)
    rows = draw(st.lists(st.integers(0, len(song.notes) - 1), min_size=1, max_size=4, unique=True))
    edits = tuple(_edit(draw, song, row, draw(st.sampled_from(does))) for row in rows)
    return Case(raw, song, edits)


def _edit(draw: st.DrawFn, song: Song, row: int, do: Do) -> Edit:
    notes, part = song.notes, song.parts[int(song.notes.part[row])]
    start, end = int(notes.start[row]), int(notes.end[row])
    pitch, velocity = int(notes.pitch[row]), int(notes.velocity[row])
    late = draw(st.integers(-min(start, 200), 200))
    later = max(start + late, 0), max(end + late, start + 1)
    before, after = {
        "pitch": (pitch, draw(st.integers(30, 50))),
        "velocity": (velocity, draw(st.integers(1, 127))),
        "start": (start, min(later[0], max(end - 1, start))),
        "end": (end, later[1]),
        "move": (start, later[0]),
        "remove": (pitch, None),
        "insert": (None, draw(st.integers(30, 50))),
        "bend": (None, draw(st.integers(-8192, 8191))),
    }[do]
    if do == "insert":
        end = start + draw(st.integers(1, 300))
    return Edit(
        do=do,
        track=part.track,
        channel=part.channel,
        tick=start,
        end_tick=end,
        before=before,
        after=after,
        pitch=None if do == "insert" else pitch,
        velocity=velocity if do == "insert" else None,
    )


def patched(case: Case) -> bytes:
    try:
        return patch(case.raw, case.song, case.edits)
    except MendError:
        assume(False)
        raise


def told(read: Scan, track: int, rows: list[int]) -> list[tuple[int, int, bytes]]:
    """Events as (tick, status, bytes without status)."""
    events = read.tracks[track]
    result = []
    for row in rows:
        at, stop = int(events.at[row]), int(events.stop[row])
        body = read.data[at + (read.data[at] >= 0x80) : stop]
        result.append((int(events.tick[row]), int(events.status[row]), body))
    return result


@given(cases())
def test_no_edit_no_change(case: Case) -> None:
    assert patch(case.raw, case.song, ()) == case.raw


@given(cases())
def test_untouched_events_keep_tick_order_and_bytes(case: Case) -> None:
    new = scan(patched(case))
    touched = events_of(case.song, case.edits)
    for index, track in enumerate(case.song.scan.tracks):
        rows = [row for row in range(len(track)) if (index, row) not in touched]
        kept = told(case.song.scan, index, rows)
        now = told(new, index, list(range(len(new.tracks[index]))))
        # an end of track may be pushed on by what is put in after it, and by nothing else
        kept = [k for k in kept if k[1:] != (0xFF, b"\x2f\x00")]
        rest = iter(now)
        assert all(event in rest for event in kept), "lost, moved or out of order"


@given(cases())
def test_chunks_without_edits_stay_byte_for_byte(case: Case) -> None:
    new = scan(patched(case))
    old = case.song.scan
    edited = {edit.track for edit in case.edits}
    assert len(new.chunks) == len(old.chunks)
    index = -1
    for before, after in zip(old.chunks, new.chunks, strict=True):
        index += before.kind == b"MTrk"
        if before.kind != b"MTrk" or index not in edited:
            was = old.data[before.offset : before.end]
            assert new.data[after.offset : after.end] == was
    first, last = old.chunks[0].offset, old.chunks[-1].end
    assert new.data[:first] == old.data[:first]
    assert new.data[new.chunks[-1].end :] == old.data[last:]


@given(cases())
def test_bytes_far_from_an_edit_are_the_same_slice(case: Case) -> None:
    """Delta and event of a row whose neighbours were not touched: padding and status form stay."""
    new = scan(patched(case))
    touched = events_of(case.song, case.edits)
    ticks = {e.tick for e in case.edits} | {e.end_tick for e in case.edits}
    ticks |= {e.after for e in case.edits if e.do in ("start", "end", "move") and e.after}
    ticks |= {e.after + e.end_tick - e.tick for e in case.edits if e.do == "move" and e.after}
    for index, track in enumerate(case.song.scan.tracks):
        slices = Counter(
            new.data[int(a) : int(b)]
            for a, b in zip(new.tracks[index].delta_at, new.tracks[index].stop, strict=True)
        )
        for row in range(1, len(track)):
            near = int(track.tick[row - 1]), int(track.tick[row])
            calm = (index, row) not in touched and (index, row - 1) not in touched
            if calm and not any(near[0] <= t <= near[1] for t in ticks):
                was = case.song.scan.data[int(track.delta_at[row]) : int(track.stop[row])]
                if was[-3:-1] != b"\xff\x2f":
                    assert slices[was] > 0


@given(cases())
def test_no_reader_needs_to_be_lax_after_an_edit(case: Case) -> None:
    """RP-001: running status is cancelled by metas and SysEx; editing must not lean on it."""
    lax = "running status goes on"
    before = sum(lax in w for w in case.song.scan.warnings)
    assert sum(lax in w for w in scan(patched(case)).warnings) <= before


def _none_alike(song: Song) -> bool:
    notes = song.notes
    places = [*zip(notes.part, notes.start, notes.end, notes.pitch, strict=True)]
    return len(places) == len(set(places))


@given(cases(does=("pitch", "velocity")))
def test_undoing_gives_back_the_notes(case: Case) -> None:
    raw = patched(case)
    song = build(scan(raw))
    # notes alike in all but velocity cannot be told apart by what undoes an edit
    assume(all(_none_alike(one) for one in (case.song, song)))
    back = []
    for edit in case.edits:
        pitch = edit.after if edit.do == "pitch" else edit.pitch
        back.append(
            Edit(
                do=edit.do,
                track=edit.track,
                channel=edit.channel,
                tick=edit.tick,
                end_tick=edit.end_tick,
                before=edit.after,
                after=edit.before,
                pitch=pitch,
            )
        )
    try:
        again = build(scan(patch(raw, song, back)))
    except MendError:  # ends of one pitch that overlap were paired anew: no note is as it was
        assume(False)
        raise
    assert _notes(again) == _notes(case.song)


@given(cases())
def test_exactly_the_edited_notes_change(case: Case) -> None:
    want = Counter(_notes(case.song))
    open_ends = bool((case.song.notes.off_row == NEVER).any())
    for edit in case.edits:
        name = (edit.track, edit.channel)
        start, end, pitch = edit.tick, edit.end_tick, edit.pitch
        if edit.do == "insert":
            want[(*name, start, end, edit.after, edit.velocity)] += 1
            continue
        if edit.do == "bend":
            continue
        old = [k for k in want if k[:5] == (*name, start, end, pitch) and want[k] > 0]
        assume(len(old) == 1)
        velocity = old[0][5]
        want[old[0]] -= 1
        after = edit.after
        if edit.do == "pitch":
            want[(*name, start, end, after, velocity)] += 1
        elif edit.do == "velocity":
            want[(*name, start, end, pitch, after)] += 1
        elif edit.do == "start":
            want[(*name, after, end, pitch, velocity)] += 1
        elif edit.do == "end":
            want[(*name, start, after, pitch, velocity)] += 1
        elif edit.do == "move" and after is not None:
            want[(*name, after, end + after - start, pitch, velocity)] += 1
    assume(not open_ends)  # a note without an end lasts as long as the song: told in the unit tests
    assert +want == Counter(_notes(build(scan(patched(case)))))


def _notes(song: Song) -> list[tuple[int, ...]]:
    n = song.notes
    parts = [song.parts[p] for p in n.part.tolist()]
    columns = np.stack([n.start, n.end, n.pitch, n.velocity], axis=1).tolist()
    return sorted((p.track, p.channel, *row) for p, row in zip(parts, columns, strict=True))


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    try:
        scan(raw)
    except MidiError as error:
        assert error.message and error.byte is not None
