"""What a file plays: notes and their ends, tempo, bars and beats, parts.

Tempo arithmetic: 60 s / bpm by definition of beats per minute, in microseconds per quarter note as
RP-001 has it. Bars: a time signature begins a new bar (RP-001).
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from midi_bytes import Event, meta, midi, track

from basslint.errors import TooLarge
from basslint.smf.scan import scan
from basslint.song.arrangement import NEVER, Song, build


def song(*tracks: bytes, division: int = 480) -> Song:
    return build(scan(midi(*tracks, division=division)))


def on(pitch: int, channel: int = 1, velocity: int = 100) -> bytes:
    return bytes((0x8F + channel, pitch, velocity))


def off(pitch: int, channel: int = 1) -> bytes:
    return bytes((0x7F + channel, pitch, 64))


def tempo(usec: int) -> bytes:
    return meta(0x51, usec.to_bytes(3, "big"))


def meter(numerator: int, power: int) -> bytes:
    return meta(0x58, bytes((numerator, power, 24, 8)))


def notes_of(built: Song) -> list[tuple[int, int, int, int]]:
    n = built.notes
    columns = (n.start, n.end, n.pitch, n.velocity)
    return list(zip(*(c.tolist() for c in columns), strict=True))


PAIRING = [
    # what happens, events on one key, notes as (start, end, velocity)
    (
        "one after the other",
        [(0, on(36)), (10, off(36)), (5, on(36)), (10, off(36))],
        [(0, 10), (15, 25)],
    ),
    (
        "first opened, first closed",
        [(0, on(36)), (5, on(36)), (5, off(36)), (10, off(36))],
        [(0, 10), (5, 20)],
    ),
    ("a stray end before", [(0, off(36)), (5, on(36)), (5, off(36))], [(5, 10)]),
    (
        "a stray end between",
        [(0, on(36)), (5, off(36)), (5, off(36)), (5, on(36)), (5, off(36))],
        [(0, 5), (15, 20)],
    ),
    (
        "two left open",
        [(0, on(36)), (5, on(36)), (5, off(36)), (5, on(36)), (85, on(40)), (0, off(40))],
        [(0, 5), (5, 10), (15, 100), (100, 100)],
    ),
    (
        "an end is missing, and the key comes again",
        [(0, on(36)), (10, on(36)), (5, off(36)), (5, on(36)), (5, off(36))],
        [(0, 10), (10, 15), (20, 25)],
    ),
    (
        "an end is missing where ends are written after the new start",
        [
            (0, on(36)),
            (10, on(36)),
            (0, off(36)),
            (10, on(36)),
            (10, on(36)),
            (0, off(36)),
            (10, off(36)),
        ],
        [(0, 10), (10, 20), (20, 30), (30, 40)],
    ),
    (
        "struck twice at once, ended once",
        [(0, on(36)), (0, on(36)), (10, off(36)), (90, on(40)), (0, off(40))],
        [(0, 100), (0, 10), (100, 100)],
    ),
    (
        "re-struck at the tick of its end",
        [(0, on(36)), (10, off(36)), (0, on(36)), (10, off(36))],
        [(0, 10), (10, 20)],
    ),
    (
        "end written after the new start",
        [(0, on(36)), (10, on(36)), (0, off(36)), (10, off(36))],
        [(0, 10), (10, 20)],
    ),
    (
        "channels are apart",
        [(0, on(36)), (0, on(36, 2)), (10, off(36, 2)), (10, off(36))],
        [(0, 20), (0, 10)],
    ),
    (
        "keys are apart",
        [(0, on(36)), (0, on(38)), (10, off(38)), (10, off(36))],
        [(0, 20), (0, 10)],
    ),
    (
        "as many ends as notes, one of them before",
        [(0, off(36)), (5, on(36)), (95, on(40)), (0, off(40))],
        [(5, 100), (100, 100)],
    ),
    (
        "as many ends as notes, one of them of another key",
        [(0, on(36)), (10, off(38)), (90, on(40)), (0, off(40))],
        [(0, 100), (100, 100)],
    ),
    ("no length", [(7, on(36)), (0, off(36))], [(7, 7)]),
]


@pytest.mark.parametrize(("events", "spans"), [p[1:] for p in PAIRING], ids=[p[0] for p in PAIRING])
def test_each_note_on_finds_its_note_off(events: list[Event], spans: list[tuple[int, int]]) -> None:
    built = song(track(*events))
    assert [n[:2] for n in notes_of(built)] == spans


def test_tracks_are_apart_even_on_one_channel() -> None:
    built = song(track((0, on(36)), (10, off(36))), track((5, on(36)), (20, off(36))))
    assert [n[:2] for n in notes_of(built)] == [(0, 10), (5, 25)]
    assert len(built.parts) == 2


def test_rows_lead_to_the_events_of_a_note() -> None:
    built = song(track((0, meta(3, b"Sub")), (0, on(36)), (5, on(36)), (5, off(36)), (1, on(40))))
    assert built.notes.on_row.tolist() == [1, 2, 4]
    assert built.notes.off_row.tolist() == [NEVER, 3, NEVER]


@st.composite
def _keys(draw: st.DrawFn) -> list[Event]:
    """Starts and ends of two keys on two channels, in any order."""
    events = []
    for _ in range(draw(st.integers(0, 40))):
        pitch, channel = draw(st.sampled_from((36, 40))), draw(st.integers(1, 2))
        event = on(pitch, channel) if draw(st.booleans()) else off(pitch, channel)
        events.append((draw(st.integers(0, 3)), event))
    return events


@given(_keys())
def test_pairing_is_that_of_a_queue_per_key(events: list[Event]) -> None:
    """The law in its plainest form: a queue of notes per key and channel, without those left open.

    Those are what a pile of open notes, the latest closed first, holds at the end. A note of the
    pile is closed before one is struck at the same tick, even where that stands the other way.
    """
    keys: dict[Any, list[tuple[int, bool]]] = {}
    tick = 0
    for delta, event in events:
        tick += delta
        strikes = event[0] & 0xF0 == 0x90
        of_key = keys.setdefault((event[1], event[0] & 0x0F), [])
        if strikes or sum(1 if struck else -1 for _, struck in of_key) > 0:  # else it is stray
            of_key.append((tick, strikes))
    want = []
    for key, of_key in keys.items():
        pile: list[int] = []
        at = 0
        while at < len(of_key):
            here, after = of_key[at], of_key[at + 1 : at + 2]
            if pile and here[1] and after == [(here[0], False)]:
                pile[-1] = at
                at += 2
                continue
            pile = [*pile, at] if here[1] else pile[:-1]
            at += 1
        queue: list[int] = []
        for place, (now, strikes) in enumerate(of_key):
            if strikes and place in pile:
                later = [t for t, struck in of_key[place:] if struck and t > now]
                want.append((now, min(later, default=tick), *key))
            elif strikes:
                queue.append(now)
            else:
                want.append((queue.pop(0), now, *key))
    built = song(track(*events))
    n = built.notes
    have = [
        (s, e, p, built.parts[k].channel - 1)
        for s, e, p, k in zip(*(c.tolist() for c in (n.start, n.end, n.pitch, n.part)), strict=True)
    ]
    assert sorted(have) == sorted(want)


# 4/4 at 140 bpm; milliseconds by 60,000 / 140 and its parts
LENGTHS = [
    ("quarter", 960, 428.57),
    ("1/16", 240, 107.14),
    ("1/16 triplet", 160, 71.43),
    ("1/32", 120, 53.57),
    ("1/32 triplet", 80, 35.71),
    ("1/64", 60, 26.79),
    ("1/128", 30, 13.39),
]


@pytest.mark.parametrize(("ticks", "ms"), [x[1:] for x in LENGTHS], ids=[x[0] for x in LENGTHS])
def test_lengths_at_140(ticks: int, ms: float) -> None:
    built = song(track((0, tempo(428_571)), (0, on(36)), (ticks, off(36))), division=960)
    assert built.tempo.seconds(ticks) * 1000 == pytest.approx(ms, abs=0.006)
    assert built.tempo.bpm_at(0) == pytest.approx(140, abs=0.001)


def test_tempo_changes_on_any_track_and_the_last_of_one_tick_counts() -> None:
    built = song(
        track((0, on(36)), (1920, off(36))),
        track((0, tempo(500_000)), (960, tempo(900_000)), (0, tempo(250_000))),
    )
    assert built.tempo.seconds(960) == pytest.approx(1.0)
    assert built.tempo.seconds(1920) == pytest.approx(1.5)
    assert built.tempo.ticks(1.25) == 1440
    assert built.tempo.stated


def test_120_bpm_and_four_four_where_nothing_is_stated() -> None:
    built = song(track((0, on(36)), (3840, off(36))))
    assert (built.tempo.bpm_at(0), built.tempo.stated) == (120.0, False)
    assert (built.grid.bars, built.grid.stated) == (2, False)
    assert built.seconds == pytest.approx(4.0)


@given(
    st.integers(0, 100_000),
    st.lists(st.tuples(st.integers(0, 4000), st.integers(1, 0xFFFFFF)), max_size=6),
)
def test_ticks_is_the_inverse_of_seconds(tick: int, changes: list[tuple[int, int]]) -> None:
    built = song(track(*[(delta, tempo(usec)) for delta, usec in changes], (0, on(36))))
    assert built.tempo.ticks(built.tempo.seconds(tick)) == tick


GRIDS = [
    # meters as (delta, numerator, power), length, bar lines
    ([(0, 4, 2)], 3840, [0, 1920, 3840]),
    ([(0, 3, 2)], 2880, [0, 1440, 2880]),
    ([(0, 6, 3)], 2880, [0, 1440, 2880]),
    ([(0, 4, 2), (1920, 3, 2)], 4800, [0, 1920, 3360, 4800]),
    ([(0, 4, 2), (2400, 4, 2)], 4320, [0, 1920, 2400, 4320]),  # a change cuts a bar short
    ([(1920, 3, 2)], 3360, [0, 1920, 3360]),  # 4/4 until the first one
    ([(0, 4, 2)], 2000, [0, 1920, 3840]),  # the last bar is whole
]


@pytest.mark.parametrize(("meters", "length", "lines"), GRIDS)
def test_bars_are_as_long_as_their_meters_say(
    meters: list[tuple[int, int, int]], length: int, lines: list[int]
) -> None:
    built = song(
        track((0, on(36)), (length, off(36))),
        track(*[(delta, meter(numerator, power)) for delta, numerator, power in meters]),
    )
    assert built.grid.start.tolist() == lines


def test_bars_and_beats_count_in_units_of_the_meter() -> None:
    built = song(track((0, meter(6, 3)), (0, on(36)), (2880, off(36))))
    grid = built.grid
    assert [int(grid.bar_of(t)) for t in (0, 1439, 1440, 2879)] == [0, 0, 1, 1]
    assert [float(grid.beat_of(t)) for t in (0, 240, 1440, 1560)] == [1.0, 2.0, 1.0, 1.5]
    assert grid.beats.tolist() == list(range(0, 2881, 240))


def test_a_song_of_too_many_bars_is_refused() -> None:
    with pytest.raises(TooLarge, match="bars long"):
        song(track((0, on(36)), (0x0FFFFFFF, off(36))), division=1)


def test_parts_names_and_programs() -> None:
    built = song(
        track((0, meta(3, b"Setup")), (0, b"\xc1\x21")),
        track((0, meta(3, b"Keys")), (0, b"\xc0\x04"), (0, on(60)), (9, off(60))),
        track((0, meta(3, b"Sub")), (0, on(30, 2)), (9, off(30, 2)), (0, on(31)), (9, off(31))),
    )
    told = [(p.number, p.track, p.channel, p.name, p.program) for p in built.parts]
    assert told == [
        (1, 1, 1, "Keys", 4),
        # a track on the channel of another one that plays does not take its program over
        (2, 2, 1, "Sub ch 1", None),
        # but a track that only sets a channel up speaks for it
        (3, 2, 2, "Sub ch 2", 33),
    ]
    assert (built.parts[1].lowest, built.parts[1].highest, built.parts[1].notes) == (31, 31, 1)


def test_the_last_program_before_a_part_begins_is_its_own() -> None:
    set_to = [(0, b"\xc0\x04"), (5, b"\xc0\x05"), (5, on(36)), (2, b"\xc0\x06"), (2, off(36))]
    assert [part.program for part in song(track(*set_to)).parts] == [5]


def test_changes_carry_their_values() -> None:
    built = song(
        track((0, b"\xe0\x00\x40"), (5, b"\xe0\x7f\x7f"), (0, b"\xb0\x41\x7f"), (0, on(36)))
    )
    c = built.changes
    rows = list(
        zip(*(x.tolist() for x in (c.tick, c.kind, c.channel, c.number, c.value)), strict=True)
    )
    assert rows == [(0, 0xE0, 1, 0, 0), (5, 0xE0, 1, 0, 8191), (5, 0xB0, 1, 65, 127)]


def test_markers_of_any_track_in_order() -> None:
    built = song(track((960, meta(6, b"B")), (0, on(36))), track((0, meta(7, b"A"))))
    assert [(m.tick, m.text) for m in built.markers] == [(0, "A"), (960, "B")]


def test_an_empty_track_is_a_song_of_one_bar() -> None:
    built = song(track())
    assert (len(built.notes), built.parts, built.grid.bars) == (0, (), 1)
