"""The reader against mido 1.3, an independent reader of Standard MIDI Files.

Wherever mido reads a file correctly the two must agree event for event and tick for tick. Where
mido is known not to (measured: it zeroes the delta of unknown metas, takes running status after a
SysEx for SysEx), RP-001 decides, and a test of its own says so.
"""

from __future__ import annotations

import io
from pathlib import Path

import mido
import numpy as np
import pytest
from bench.beats import make_beat
from hypothesis import given
from midi_bytes import meta, midi, mido_files, track

from basslint.smf.scan import META, Limits, Scan, scan
from basslint.song.arrangement import build

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("**/*.mid"))
Told = tuple[int, int, bytes]  # tick, status, what follows it


def by_mido(data: bytes) -> list[list[Told]]:
    """Every event as mido reads it: SysEx without its closing F7, metas as type and payload."""
    result: list[list[Told]] = []
    for messages in mido.MidiFile(file=io.BytesIO(data)).tracks:
        tick = 0
        told: list[Told] = []
        for message in messages:
            tick += message.time
            raw = bytes(message.bytes())
            if message.type == "sysex":
                told.append((tick, 0xF0, raw[1:-1]))
            elif message.is_meta:
                told.append((tick, META, raw[1:2] + _payload(raw)))
            else:
                told.append((tick, raw[0], raw[1:]))
        result.append(told)
    return result


def _payload(raw: bytes) -> bytes:
    at = 2
    while raw[at] & 0x80:
        at += 1
    return raw[at + 1 :]


def by_scan(read: Scan) -> list[list[Told]]:
    """Every event as the reader's columns and offsets say."""
    result: list[list[Told]] = []
    for events in read.tracks:
        told: list[Told] = []
        for row in range(len(events)):
            status = int(events.status[row])
            body = read.data[int(events.payload_at[row]) : int(events.stop[row])]
            if status == META:
                rest = bytes((int(events.data1[row]),)) + body
            elif status == 0xF0:
                rest = body.removesuffix(b"\xf7")
            else:
                size = 1 if 0xC0 <= status < 0xE0 else 2
                rest = bytes((int(events.data1[row]), int(events.data2[row])))[:size]
            told.append((int(events.tick[row]), status, rest))
        result.append(told)
    return result


@given(mido_files())
def test_agrees_with_mido_on_drawn_files(data: bytes) -> None:
    assert by_scan(scan(data)) == by_mido(data)


@pytest.mark.parametrize("seed", range(6))
def test_agrees_with_mido_on_beats(seed: int) -> None:
    data = make_beat(seed).data
    assert by_scan(scan(data)) == by_mido(data)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.name)
def test_agrees_with_mido_on_samples(path: Path) -> None:
    data = path.read_bytes()
    assert by_scan(scan(data)) == by_mido(data)


@given(mido_files())
def test_tempo_map_counts_seconds_as_mido_does(data: bytes) -> None:
    """mido sums seconds message by message over the merged tracks; the map must land there too."""
    read = scan(data, Limits(max_bars=10**9, max_beats=10**9))
    tempo = build(read).tempo if _few_bars(read) else None
    if tempo is None:
        return
    file = mido.MidiFile(file=io.BytesIO(data))
    end = max(int(t.tick[-1]) for t in read.tracks)
    assert np.isclose(tempo.seconds(end), sum(m.time for m in file), rtol=1e-9, atol=1e-9)


def _few_bars(read: Scan) -> bool:
    return max(int(t.tick[-1]) for t in read.tracks) < 2000 * read.division


def test_unknown_meta_keeps_its_place_where_mido_moves_what_follows() -> None:
    data = midi(track((480, meta(0x08, b"Sub")), (480, b"\x90\x24\x64"), (480, b"\x80\x24\x40")))
    assert [told[0] for told in by_scan(scan(data))[0]] == [480, 960, 1440, 1440]
    assert [told[0] for told in by_mido(data)[0]] == [0, 480, 960, 960]


def test_running_status_after_sysex_is_taken_from_the_last_channel_status() -> None:
    """RP-001 cancels it; the note-off that a lax exporter wrote is kept, with a warning."""
    data = midi(track((0, b"\x90\x24\x64"), (0, b"\xf0\x02\x01\xf7"), (480, b"\x24\x00")))
    read = scan(data)
    assert by_scan(read)[0][2] == (480, 0x90, b"\x24\x00")
    assert any("running status goes on" in warning for warning in read.warnings)
    assert len(build(read).notes) == 1
