"""What a user sees of files that are cut, odd, hostile or none at all.

Expected readings from Standard MIDI Files 1.0 (RP-001), RIFF MIDI (RP-029) and, for the lengths of
channel messages, the MIDI 1.0 detailed specification.
"""

from __future__ import annotations

import pytest
from midi_bytes import meta, midi, quantity, riff, track
from odd_files import ACCEPTED, NOTE, OFF, ON, REFUSED, WHOLE

from basslint.errors import MidiError
from basslint.smf.scan import Limits, scan
from basslint.song.arrangement import build


def refused(data: bytes, limits: Limits | None = None) -> MidiError:
    with pytest.raises(MidiError) as caught:
        build(scan(data, limits or Limits()))
    return caught.value


@pytest.mark.parametrize(
    ("data", "kind", "told", "byte"), [r[1:] for r in REFUSED], ids=[r[0] for r in REFUSED]
)
def test_refused_with_kind_reason_place_and_advice(
    data: bytes, kind: type[MidiError], told: str, byte: int | None
) -> None:
    error = refused(data)
    assert type(error) is kind
    assert told in error.message
    assert error.advice.endswith(".")
    if byte is not None:
        assert error.byte == byte


@pytest.mark.parametrize("cut", range(len(WHOLE)))
def test_a_file_cut_anywhere_is_refused(cut: int) -> None:
    assert refused(WHOLE[:cut]).message


@pytest.mark.parametrize(
    ("data", "warning", "notes"), [a[1:] for a in ACCEPTED], ids=[a[0] for a in ACCEPTED]
)
def test_read_with_what_the_reader_put_up_with(
    data: bytes, warning: str | None, notes: list[tuple[int, int, int]] | None
) -> None:
    song = build(scan(data))
    if warning is None:
        assert song.warnings == ()
    else:
        assert any(warning in told for told in song.warnings), song.warnings
    if notes is not None:
        columns = (song.notes.start, song.notes.end, song.notes.pitch)
        assert list(zip(*(c.tolist() for c in columns), strict=True)) == notes


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        (b"Sub", "Sub"),
        ("Bässe".encode(), "Bässe"),
        ("Bässe".encode("latin-1"), "Bässe"),
        (b"\xff\xfe\x81", "ÿþ\\x81"),
        (b"\x1b[2J\x1b]0;gone\x07", "\\x1b[2J\\x1b]0;gone\\x07"),
        ("a\u202eb".encode(), "a\\u202eb"),
        (b"two\nlines\r", "two\\x0alines\\x0d"),
        (b"<script>alert(1)</script>", "<script>alert(1)</script>"),
        (b"=HYPERLINK(1)", "=HYPERLINK(1)"),
        (b"x" * 5000, "x" * 119 + "…"),
        (b"", "track 0"),
    ],
)
def test_names_are_shown_and_obeyed_by_nothing(name: bytes, shown: str) -> None:
    song = build(scan(midi(track((0, meta(3, name)), (0, ON), (480, OFF)))))
    assert song.parts[0].name == shown


def test_tempo_meter_and_markers_are_read_from_any_track() -> None:
    late = track(
        (0, meta(0x51, (400_000).to_bytes(3, "big"))),
        (0, meta(0x58, b"\3\2\x18\x08")),
        (480, meta(6, b"Hook")),
    )
    song = build(scan(midi(NOTE, late)))
    assert song.tempo.bpm_at(0) == 150.0
    assert song.grid.numerator.tolist() == [3]
    assert [(m.tick, m.text) for m in song.markers] == [(480, "Hook")]


def test_a_byte_inside_riff_is_counted_from_the_start_of_the_file() -> None:
    inner = midi(track((0, b"\xf8")))
    assert refused(riff(inner)).byte == (refused(inner).byte or 0) + 20


def test_offsets_lead_to_the_bytes_of_each_event() -> None:
    events = [(0, ON), (480, meta(0x7F, b"own")), (0, b"\xf0\x02\x01\xf7"), (1, OFF)]
    read = scan(midi(track(*events)))
    rows = read.tracks[0]
    for row, (delta, event) in enumerate(events):
        assert read.data[rows.at[row] : rows.stop[row]] == event
        assert read.data[rows.delta_at[row] : rows.at[row]] == quantity(delta)
    assert rows.tick.tolist() == [0, 480, 480, 481, 481]
