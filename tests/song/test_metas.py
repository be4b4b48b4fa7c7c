"""What meta events say, and what is said of those that say nothing: Standard MIDI Files 1.0."""

from __future__ import annotations

import numpy as np
import pytest
from midi_bytes import meta, midi, track

from basslint.errors import TooLarge
from basslint.smf.chunks import Limits
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build
from basslint.song.metas import key_signature
from basslint.song.timing import grid_size

ON, OFF = b"\x90\x24\x64", b"\x80\x24\x40"
ON_2, OFF_2 = b"\x91\x30\x64", b"\x81\x30\x40"
NAME, INSTRUMENT, MARKER, PREFIX, TEMPO, METER, KEY = 3, 4, 6, 0x20, 0x51, 0x58, 0x59


def song(*tracks: bytes, limits: Limits | None = None, division: int = 480) -> Song:
    data = midi(*tracks, division=division)
    return build(scan(data) if limits is None else scan(data, limits))


@pytest.mark.parametrize(
    ("kind", "body", "ignored"),
    [
        (TEMPO, bytes((7, 0xA1, 0x20)), None),
        (TEMPO, bytes((7, 0xA1)), "tempo that is no tempo"),
        (TEMPO, bytes(3), "tempo that is no tempo"),
        (METER, bytes((3, 2, 24, 8)), None),
        (METER, bytes((3, 2)), None),
        (METER, bytes((1, 6, 24, 8)), None),  # a bar of one 64th
        (METER, bytes((0, 2, 24, 8)), "time signature that is none"),
        (METER, bytes((3, 7, 24, 8)), "time signature that is none"),
        (METER, bytes((3,)), "time signature that is none"),
        (KEY, bytes((7, 1)), None),
        (KEY, bytes((0xF9, 0)), None),  # seven flats
        (KEY, bytes((8, 0)), "key signature that is none"),
        (KEY, bytes((0xF8, 0)), "key signature that is none"),
        (KEY, bytes((0, 2)), "key signature that is none"),
        (KEY, bytes((0,)), "key signature that is none"),
    ],
)
def test_a_meta_event_that_says_nothing_is_ignored_and_told(
    kind: int, body: bytes, ignored: str | None
) -> None:
    warnings = song(track((0, meta(kind, body)), (0, ON), (480, OFF))).warnings
    assert [w for w in warnings if "ignored" in w] == (
        [] if ignored is None else [f"A {ignored} was ignored (track 0, byte 23)."]
    )


@pytest.mark.parametrize(
    ("body", "read"),
    [((0, 0), (0, False)), ((3, 1), (3, True)), ((0xFD, 0), (-3, False))],
)
def test_a_key_signature_is_so_many_sharps_and_major_or_minor(
    body: tuple[int, int], read: tuple[int, bool]
) -> None:
    assert key_signature(bytes(body)) == read


@pytest.mark.parametrize(
    ("names", "told"),
    [
        ([(NAME, b"Sub")], ["Sub ch 1", "Sub ch 2"]),
        ([(NAME, b"Sub"), (NAME, b"Later")], ["Sub ch 1", "Sub ch 2"]),
        ([(NAME, b"  "), (INSTRUMENT, b"Reese")], ["Reese ch 1", "Reese ch 2"]),  # blank is none
        ([(NAME, b"Sub"), (PREFIX, b"\x01"), (INSTRUMENT, b"Keys")], ["Sub ch 1", "Keys"]),
        ([(PREFIX, b"\x00"), (NAME, b"Sub"), (NAME, b"Later")], ["Sub", "track 0 ch 2"]),
    ],
)
def test_the_first_name_of_a_track_or_a_channel_counts(
    names: list[tuple[int, bytes]], told: list[str]
) -> None:
    events = [(0, meta(kind, body)) for kind, body in names]
    notes = [(0, ON), (0, ON_2), (480, OFF), (0, OFF_2)]
    assert [p.name for p in song(track(*events, *notes)).parts] == told


def test_a_prefix_speaks_of_its_own_track_alone() -> None:
    one = track((0, meta(PREFIX, b"\x01")), (0, ON), (480, OFF))
    two = track((0, meta(NAME, b"Keys")), (0, ON), (480, OFF))
    assert song(one, two).parts[1].name == "Keys"


@pytest.mark.parametrize(("most", "told"), [(3, None), (2, "Only the first 2 markers were read.")])
def test_markers_beyond_the_limit_are_told(most: int, told: str | None) -> None:
    marks = [(0, meta(MARKER, bytes((65 + i,)))) for i in range(3)]
    read = song(track(*marks, (0, ON), (480, OFF)), limits=Limits(max_markers=most))
    assert len(read.markers) == most
    assert [w for w in read.warnings if "markers" in w] == ([] if told is None else [told])


@pytest.mark.parametrize(
    ("numerator", "power", "quarters"),
    [
        (4, 2, 1.0),
        (3, 2, 1.0),
        (6, 2, 1.0),  # quarters in threes are simple: 6/4 is tapped in quarters
        (3, 3, 1.0),  # one group is no compound meter
        (6, 3, 1.5),
        (9, 3, 1.5),
        (12, 3, 1.5),
        (12, 4, 0.75),
        (7, 3, 1.0),
        (8, 3, 1.0),
    ],
)
def test_the_beat_that_is_felt(numerator: int, power: int, quarters: float) -> None:
    """Open Music Theory: in compound meters the beat is dotted."""
    body = meta(METER, bytes((numerator, power, 24, 8)))
    grid = song(track((0, body), (0, ON), (9600, OFF))).grid
    assert grid.felt_beat(grid.bar_of(np.array([0, 960]))).tolist() == [480 * quarters] * 2


def test_each_bar_has_the_beat_of_its_own_meter() -> None:
    six, four = (meta(METER, bytes((n, p, 24, 8))) for n, p in ((6, 3), (4, 2)))
    grid = song(track((0, six), (0, ON), (1440, four), (1920, OFF))).grid
    assert grid.felt_beat(grid.bar_of(np.array([0, 1440]))).tolist() == [720, 480]
    assert grid.beat_ticks(grid.start[:2]).tolist() == [240, 480]


@pytest.mark.parametrize(
    ("end", "changes", "size"),
    [
        (0, [], (1, 4)),
        (1920, [], (1, 4)),
        (1921, [], (2, 8)),
        (3840, [(0, 3, 4)], (3, 9)),
        (3840, [(0, 2, 2)], (2, 8)),  # a half note counts as two quarters
        (3840, [(0, 6, 8)], (3, 18)),
        (3840, [(1920, 3, 4)], (3, 10)),
        (1000, [(1920, 3, 4)], (1, 4)),  # a change after the end
    ],
)
def test_bars_and_beats_are_counted_without_building_them(
    end: int, changes: list[tuple[int, int, int]], size: tuple[int, int]
) -> None:
    assert grid_size(end, changes, 480) == size


def test_a_song_of_too_many_bars_or_beats_is_refused_by_its_limit() -> None:
    long = track((0, ON), (1920 * 20, OFF))
    assert song(long, limits=Limits(max_bars=20, max_beats=80)).grid.bars == 20
    for limits in (Limits(max_beats=79), Limits(max_bars=19)):
        with pytest.raises(TooLarge, match="`max_bars` and `max_beats`"):
            song(long, limits=limits)
