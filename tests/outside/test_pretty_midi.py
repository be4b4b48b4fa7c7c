"""The song handed to pretty_midi, written and read again by pretty_midi and by mido.

Outside: pretty_midi 0.2.11's writer and reader, mido's reader; the MIDI 1.0 detailed specification
for how a receiver follows RPN 0.
"""

from __future__ import annotations

import io
from itertools import pairwise

import mido
import numpy as np
import pretty_midi
import pytest
from midi_bytes import meta, midi, track
from slide_songs import bend_range, control, note, ramp, song_of, songs_of, wheel

from basslint.hear.slides.slides import hear_slides
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build
from basslint.song.export import to_pretty_midi


def written(song: Song) -> bytes:
    file = io.BytesIO()
    to_pretty_midi(song).write(file)
    return file.getvalue()


def received_ranges(data: bytes, channel: int) -> list[tuple[int, float]]:
    """(tick, semitones) as a receiver sets its bend range, event by event in file order."""
    selected, coarse, found = [127, 127], 2, []
    for part in mido.MidiFile(file=io.BytesIO(data)).tracks:
        tick = 0
        for message in part:
            tick += message.time
            if message.type != "control_change" or message.channel != channel:
                continue
            if message.control in (100, 101):
                selected[101 - message.control] = message.value
            elif selected == [0, 0] and message.control == 6:
                coarse = message.value
                found.append((tick, float(coarse)))
            elif selected == [0, 0] and message.control == 38:
                found.append((tick, coarse + message.value / 100))
    return found


def many_tempos() -> Song:
    tempos = [(0, 428_571), (960, 500_000), (1440, 333_333), (4000, 612_345)]
    first = track((0, meta(0x51, tempos[0][1].to_bytes(3, "big"))))
    later = track(
        *(
            (tick - before, meta(0x51, usec.to_bytes(3, "big")))
            for (before, _), (tick, usec) in pairwise(tempos)
        )
    )
    notes = track(
        (0, b"\xc0\x26"), (7, b"\x90\x21\x64"), (1000, b"\x80\x21\x00"), (4001, b"\x90\x24\x50"),
        (333, b"\x80\x24\x00"),
    )  # fmt: skip
    drums = track((0, b"\x99\x24\x64"), (100, b"\x89\x24\x00"))
    return build(scan(midi(first, later, notes, drums)))


def test_every_event_keeps_its_tick_under_tempo_changes_of_any_track() -> None:
    song = many_tempos()
    pm = to_pretty_midi(song)
    bass = pm.instruments[0]
    ticks = [(pm.time_to_tick(n.start), pm.time_to_tick(n.end)) for n in bass.notes]
    assert ticks == [(7, 1007), (5008, 5341)]
    assert bass.program == 0x26
    assert not bass.is_drum
    assert pm.instruments[1].is_drum
    times, tempi = pm.get_tempo_changes()
    assert np.allclose(tempi, [60e6 / u for u in (428_571, 500_000, 333_333, 612_345)])
    assert np.allclose(times, song.tempo.seconds(np.array([0, 960, 1440, 4000])))


def test_what_pretty_midi_writes_of_it_reads_as_the_same_song() -> None:
    song = many_tempos()
    again = build(scan(written(song)))
    for column in ("start", "end", "pitch", "velocity"):
        assert getattr(again.notes, column).tolist() == getattr(song.notes, column).tolist()
    assert again.tempo.tick.tolist() == song.tempo.tick.tolist()
    assert again.tempo.usec.tolist() == song.tempo.usec.tolist()
    assert again.division == song.division


@pytest.mark.parametrize("usec", [1, 333_333, 428_571, 461_538, 500_000, 999_999, 16_777_215])
@pytest.mark.parametrize("division", [24, 96, 480, 960, 32767])
def test_tempo_survives_a_write_to_the_microsecond(usec: int, division: int) -> None:
    song = song_of(note(0, 10, 33), tempo=usec, division=division)
    assert build(scan(written(song))).tempo.usec.tolist() == [usec]


@pytest.mark.parametrize("reach", [1, 2, 7.5, 12, 24, 48])
def test_a_bend_range_survives_write_and_read(reach: float) -> None:
    song = song_of(
        bend_range(0, reach), ramp([(240, 0), (480, reach / 2)], reach, 20), note(0, 960, 33)
    )
    assert received_ranges(written(song), 0)[-1] == (1, reach)
    before = hear_slides(song, (0,), 0.1, None, None, False, True)
    after = hear_slides(build(scan(written(song))), (0,), 0.1, None, None, False, True)
    assert after.target.tolist() == pytest.approx(before.target.tolist(), abs=0.001)
    assert after.land.tolist() == before.land.tolist()


def test_a_range_that_changes_keeps_its_tick() -> None:
    song = song_of(bend_range(0, 12), wheel(100, 4096), bend_range(960, 24), note(0, 1920, 33))
    assert [r for r in received_ranges(written(song), 0) if r[0] > 1][-1] == (960, 24.0)


def test_no_range_is_made_up() -> None:
    song = song_of(wheel(100, 4096), note(0, 960, 33))
    assert received_ranges(written(song), 0) == []


def test_other_parameters_do_not_disturb_the_range() -> None:
    tuning = [control(5, 101, 0), control(5, 100, 1), control(5, 6, 64), control(5, 38, 0)]
    song = song_of(bend_range(0, 12), tuning, wheel(100, 4096), note(0, 960, 33))
    assert received_ranges(written(song), 0)[-1] == (1, 12.0)


def test_of_two_bends_in_one_tick_the_last_holds() -> None:
    song = song_of(wheel(100, 4096), wheel(100, -200), note(0, 960, 33))
    bends = to_pretty_midi(song).instruments[0].pitch_bends
    assert [b.pitch for b in bends] == [-200]


def test_meter_key_markers_and_names_come_along() -> None:
    head = track(
        (0, meta(0x58, bytes((6, 3, 24, 8)))),
        (0, meta(0x59, bytes((0xFD, 1)))),  # three flats, minor: C minor (RP-001)
        (480, meta(0x06, b"Hook")),
    )
    part = track((0, meta(0x03, b"Sub")), (0, b"\x90\x21\x64"), (960, b"\x80\x21\x00"))
    pm = to_pretty_midi(build(scan(midi(head, part))))
    meter = pm.time_signature_changes[0]
    assert (meter.numerator, meter.denominator) == (6, 8)
    key = pm.key_signature_changes[0].key_number
    assert pretty_midi.key_number_to_key_name(key) == "C minor"
    assert [(t.text, pm.time_to_tick(t.time)) for t in pm.text_events] == [("Hook", 480)]
    assert pm.instruments[0].name == "Sub"


def test_notes_that_never_end_are_kept_to_the_end_of_the_song() -> None:
    song = songs_of([(0, b"\x90\x21\x64"), (960, b"\xb0\x07\x64")])
    assert [round(n.end, 6) for n in to_pretty_midi(song).instruments[0].notes] == [1.0]


def test_the_method_of_song_is_the_same() -> None:
    pm = many_tempos().to_pretty_midi()
    assert isinstance(pm, pretty_midi.PrettyMIDI)
    assert len(pm.instruments) == 2
