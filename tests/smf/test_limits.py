"""What is refused for its size, and which setting lets it in."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable

import numpy as np
import pytest
from bench.arrangements import arrangement
from midi_bytes import chunk, header, meta, midi, track

from basslint.checking.book import book_for
from basslint.checking.one_file import check_bytes
from basslint.errors import MidiError, TooLarge
from basslint.hear.harmony.roots import hear_roots
from basslint.judging.judge import MOST_FINDINGS
from basslint.judging.results import FileReport
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.settings.model import Settings
from basslint.smf.careful import careful
from basslint.smf.positions import PAD
from basslint.smf.quick import quick
from basslint.smf.scan import Limits, scan
from basslint.song.arrangement import build

ON, OFF = b"\x90\x24\x64", b"\x80\x24\x40"
NOTE = track((0, ON), (480, OFF))
WHOLE = midi(NOTE)
SETTINGS = Settings()
BOMB = b"\x00" + ON + b"\x01\x24\x64" * 400


def refused(data: bytes, limits: Limits) -> MidiError:
    with pytest.raises(MidiError) as caught:
        build(scan(data, limits))
    return caught.value


def test_many_markers_names_and_bad_metas_are_bounded_and_told() -> None:
    metas = [(1, meta(6, b"x" * 50)) for _ in range(30)] + [(0, meta(0x51, b"\0\0\0"))] * 90
    song = build(scan(midi(track((0, ON), *metas, (9, OFF))), Limits(max_markers=10, max_text=20)))
    assert len(song.markers) == 10
    assert song.markers[0].text == "x" * 19 + "…"
    assert len(song.warnings) < 60
    assert "more warnings" in song.warnings[-1]
    few = build(scan(midi(track((0, ON), *metas[:30], (9, OFF))), Limits(max_markers=10)))
    assert few.warnings == ("Only the first 10 markers were read.",)


LIMITS = [
    ("bars", Limits(max_bars=1), midi(track((0, ON), (4000, OFF))), "max_bars"),
    (
        "bars of several meters at one tick",
        Limits(max_bars=1),
        midi(*[track((0, meta(0x58, b"\4\2\x18\x08")), (0, ON), (4000, OFF))] * 3),
        "max_bars",
    ),
    ("beats", Limits(max_beats=3), WHOLE, "max_beats"),
    (
        "parts",
        Limits(max_parts=1),
        midi(track((0, ON), (0, b"\x91\x24\x64"), (9, OFF))),
        "max_parts",
    ),
    ("bytes", Limits(max_bytes=20), WHOLE, "max_bytes"),
    ("events", Limits(max_events=2), WHOLE, "max_events"),
    ("tracks", Limits(max_tracks=1), midi(NOTE, NOTE), "max_tracks"),
    ("ticks", Limits(max_ticks=400), WHOLE, "max_ticks"),
]


@pytest.mark.parametrize(
    ("limits", "data", "setting"), [x[1:] for x in LIMITS], ids=[x[0] for x in LIMITS]
)
def test_a_limit_names_the_setting_that_raises_it(
    limits: Limits, data: bytes, setting: str
) -> None:
    error = refused(data, limits)
    assert type(error) is TooLarge
    assert setting in error.advice


def test_a_hundred_megabytes_are_refused_before_they_are_read() -> None:
    claimed = header() + b"MTrk" + (100 * 2**20).to_bytes(4, "big")
    error = refused(claimed + bytes(100 * 2**20), Limits())
    assert type(error) is TooLarge


def test_a_hundred_megabytes_of_one_byte_events_are_bounded_where_they_are_let_in() -> None:
    """Program changes under running status: a delta byte and one data byte each."""
    body = b"\x00\xc0\x05" + bytes((0, 5)) * (50 * 2**20)
    data = midi(chunk(b"MTrk", body))
    begin = time.process_time()
    tracemalloc.start()
    try:
        error = refused(data, Limits(max_bytes=2**30))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert type(error) is TooLarge and "max_events" in error.advice
    assert peak < 3 * len(data)
    assert time.process_time() - begin < 10.0


def test_small_events_in_great_number_stop_at_the_limit() -> None:
    error = refused(midi(chunk(b"MTrk", BOMB)), Limits(max_events=100))
    assert type(error) is TooLarge and error.byte is not None


def peak_of(work: Callable[[], object]) -> int:
    """The most bytes that are held at once meanwhile."""
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("notes", [500, 4_000])
def test_memory_is_a_stated_multiple_of_the_file(notes: int) -> None:
    """README states 90 times the file's size as the most, for check and mend."""
    data = arrangement(notes)
    rules = SETTINGS.choose(book_for(SETTINGS))

    def judged(raw: bytes) -> FileReport:
        return check_bytes(raw, "song.mid", SETTINGS, rules)

    judged(data)  # what is imported once counts for no file
    assert peak_of(lambda: judged(data)) < 90 * len(data)
    assert peak_of(lambda: mend(data, judged, Choice(by_ear=True))) < 90 * len(data)


def test_a_small_file_that_claims_a_long_song_takes_bounded_memory() -> None:
    """README states 220 MB for a song of `max_beats` beats, its chord held throughout."""
    long = (Limits().max_beats - 4) * 480
    chord = b"\x90\x3c\x64", b"\x90\x40\x64", b"\x90\x43\x64"
    bass = track((0, b"\x91\x24\x64"), (long, b"\x81\x24\x40"))
    data = midi(track(*((0, e) for e in chord), (long, b"\x80\x3c\x40")), bass)
    rules = SETTINGS.choose(book_for(SETTINGS))
    begin = time.process_time()
    report = check_bytes(data, "song.mid", SETTINGS, rules)
    assert time.process_time() - begin < 5.0
    assert report.problem is None and not report.faults
    assert peak_of(lambda: check_bytes(data, "song.mid", SETTINGS, rules)) < 220e6


def test_a_rule_that_finds_too_much_is_bounded_and_says_so() -> None:
    twice = [(0, ON), (0, ON), (60, OFF), (0, OFF)] * (MOST_FINDINGS + 100)
    settings = Settings()
    rules = [r for r in book_for(settings) if r.name == "doubled-note"]
    report = check_bytes(midi(track(*twice)), "song.mid", settings, rules)
    (finding,) = report.findings  # those of a part are told together
    assert len(finding.places) == MOST_FINDINGS
    (rest,) = report.unjudged
    assert (rest.rule, "mend those first" in rest.reason) == ("doubled-note", True)
    assert rest.start_bar <= (MOST_FINDINGS * 60) // 1920 + 1 < rest.end_bar


def test_songs_whose_last_eighths_begin_no_beat_are_heard() -> None:
    """683 bars of 6/8 are 4,098 eighths; beats stand on every third."""
    notes = [(0, ON), (719, OFF)] + [(1, ON), (719, OFF)] * 1365
    song = build(scan(midi(track((0, meta(0x58, b"\x06\x03\x18\x08")), *notes))))
    assert song.grid.bars == 683
    assert set(hear_roots(song, [0]).root.tolist()) == {0}


def test_a_song_of_one_tick_beats_is_heard() -> None:
    notes = [(0, ON), (1, OFF)] * 40
    song = build(scan(midi(track(*notes), division=1)))
    assert set(hear_roots(song, [0]).root.tolist()) == {0}


def test_a_file_of_just_as_many_events_as_allowed_is_read() -> None:
    data = midi(track((0, ON), (480, OFF)), track((0, ON), (0, OFF), (0, meta(1, b""))))
    whole = scan(data)
    assert [len(t) for t in scan(data, Limits(max_events=7)).tracks] == [3, 4]
    error = refused(data, Limits(max_events=6))
    assert type(error) is TooLarge and error.byte == int(whole.tracks[1].delta_at[-1])
    error = refused(data, Limits(max_events=3))  # no room is left for the second track
    assert type(error) is TooLarge and error.byte == int(whole.tracks[1].delta_at[0])


def test_both_finders_of_events_stop_at_the_same_one() -> None:
    body = b"\x00" + ON + b"\x60" + OFF + b"\x00" + ON + b"\x60" + OFF
    buffer = np.frombuffer(body + bytes(PAD), dtype=np.uint8)
    positions = quick(buffer, 0, len(body), 4, 0, 0)
    assert positions is not None and positions.delta_at.tolist() == [0, 4, 8, 12]
    assert careful(body, 0, len(body), 4, 0, 0).tolist() == [0, 4, 8, 12]
    for find in (
        lambda: quick(buffer, 0, len(body), 3, 0, 0),
        lambda: careful(body, 0, len(body), 3, 0, 0),
    ):
        with pytest.raises(TooLarge) as caught:
            find()
        assert caught.value.byte == 12
