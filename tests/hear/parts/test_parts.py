"""Roles of parts. Where no source is named, the expected role is common practice, no source."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

import mido
import numpy as np
import pytest

from basslint.errors import UsageError
from basslint.hear.parts.parts import hear_parts
from basslint.hear.parts.texture import hear_texture, lowest_shares
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build

TPQ = 96
Note = tuple[float, float, int]  # start and end in quarters, pitch


@dataclass(frozen=True)
class Line:
    notes: Sequence[Note]
    channel: int = 1
    name: str = ""
    program: int | None = None


def song_of(*lines: Line, one_track: bool = False, tpq: int = TPQ) -> Song:
    tracks: list[list[tuple[int, int, mido.Message]]] = []
    for line in lines:
        events: list[tuple[int, int, mido.Message]] = []
        channel = line.channel - 1
        if line.program is not None:
            change = mido.Message("program_change", channel=channel, program=line.program)
            events.append((0, 0, change))
        for start, end, pitch in line.notes:
            on = mido.Message("note_on", channel=channel, note=pitch, velocity=90)
            off = mido.Message("note_off", channel=channel, note=pitch)
            events += [(round(start * tpq), 2, on), (round(end * tpq), 1, off)]
        tracks.append(events)
    names = [line.name for line in lines]
    if one_track:
        tracks, names = [[event for track in tracks for event in track]], [""]
    midi = mido.MidiFile(type=0 if one_track else 1, ticks_per_beat=tpq)
    for name, events in zip(names, tracks, strict=True):
        track = mido.MidiTrack()
        if name:
            track.append(mido.MetaMessage("track_name", name=name))
        now = 0
        for tick, _, message in sorted(events, key=lambda e: e[:2]):
            track.append(message.copy(time=tick - now))
            now = tick
        midi.tracks.append(track)
    out = io.BytesIO()
    midi.save(file=out)
    return build(scan(out.getvalue()))


CHORDS = ((57, 60, 64), (53, 57, 60), (48, 55, 64), (55, 59, 62))  # Am F C G
ROOTS = (33, 29, 36, 31)
BARS = 16


def keys() -> list[Note]:
    return [
        (4 * b + h, 4 * b + h + 1.9, p) for b in range(BARS) for h in (0, 2) for p in CHORDS[b % 4]
    ]


def low(lift: int = 0, steps: Sequence[float] = (0, 1.5, 2, 3)) -> list[Note]:
    ends = [*steps[1:], 4]
    return [
        (4 * b + s, 4 * b + e - 0.1, ROOTS[b % 4] + lift)
        for b in range(BARS)
        for s, e in zip(steps, ends, strict=True)
    ]


def tune() -> list[Note]:
    steps = (76, 74, 72, 71, 72, 74, 76, 72)
    lengths = (1, 0.5, 0.5, 1.5, 0.5, 2, 1, 1)
    notes: list[Note] = []
    for b in range(0, BARS, 2):
        at = 4.0 * b
        for pitch, length in zip(steps, lengths, strict=True):
            notes.append((at, at + length, pitch))
            at += length
    return notes


def beat() -> list[Note]:
    notes: list[Note] = []
    for b in range(BARS):
        notes += [(4 * b + h, 4 * b + h + 0.1, 36) for h in (0, 1.5, 2.5)]
        notes += [(4 * b + h, 4 * b + h + 0.1, 38) for h in (1, 3)]
        notes += [(4 * b + e / 2, 4 * b + e / 2 + 0.1, 42 if e % 4 else 46) for e in range(8)]
    return notes


def broken() -> list[Note]:
    return [
        (4 * b + i / 2, 4 * b + i / 2 + 0.45, (*CHORDS[b % 4], CHORDS[b % 4][1])[i % 4] + 12)
        for b in range(BARS)
        for i in range(8)
    ]


def test_texture_counts_an_octave_as_one_voice_and_a_third_as_two() -> None:
    octaves = [(q, q + 1, p) for q in range(8) for p in (36, 48)]
    thirds = [(q, q + 0.5, p) for q in range(8) for p in (60, 64)]
    staggered = [(0, 4, 60), (2, 6, 67)]  # 6 quarters, 2 of them with both
    song = song_of(Line(octaves), Line(thirds, 2), Line(staggered, 3))
    t = hear_texture(song.notes, song.notes.part.astype(np.int64), 3, song.division)
    assert t.voices.tolist() == pytest.approx([0, 1, 1 / 3])
    assert t.struck.tolist() == pytest.approx([0, 1, 0])
    assert t.sounding.tolist() == pytest.approx([8, 4, 6])
    assert t.pace.tolist() == pytest.approx([2, 4, 1 / 3])
    assert t.mean.tolist() == pytest.approx([42, 62, 63.5])
    assert t.active.tolist() == pytest.approx([1, 16 / 32, 24 / 32])
    everyone, above = np.ones(3, bool), np.array([False, True, True])
    own, whole = lowest_shares(t, everyone)
    assert own.tolist() == whole.tolist() == pytest.approx([1, 0, 0])
    own, whole = lowest_shares(t, above)  # which sound for 6 of the 8 quarters together
    assert own.tolist() == pytest.approx([1, 3 / 4, 16 / 24])
    assert whole.tolist() == pytest.approx([32 / 28, 12 / 28, 16 / 28])
    assert t.stacked.tolist() == pytest.approx([8 / 15, 8 / 15, 0])  # octaves too
    assert t.plays.tolist() == pytest.approx([1, 1, 1 / 2])  # of two stretches of four quarters
    assert t.pitches.tolist() == [2, 2, 2]


def test_a_beat_with_names() -> None:
    song = song_of(
        Line(keys(), 1, "Keys"),
        Line(low(), 2, "Sub"),
        Line(beat(), 10, "Drums"),
        Line(tune(), 3, "Lead"),
    )
    parts = hear_parts(song)
    assert parts.role == ("harmony", "bass", "drums", "melody")
    assert (parts.bass, parts.harmony, parts.melody, parts.drums) == ((1,), (0,), (3,), (2,))
    assert (parts.certainty > 0.9).all()
    assert not parts.stated.any()
    assert parts.evidence[1] == 'named "sub"; lowest line, one note at a time'


HIDDEN = (Line(keys(), 1), Line(low(), 2), Line(beat(), 4), Line(tune(), 3))


@pytest.mark.parametrize("one_track", [False, True])
@pytest.mark.parametrize("order", [(0, 1, 2, 3), (3, 2, 1, 0), (1, 3, 0, 2)])
def test_a_beat_without_names_and_drums_on_channel_4(
    order: tuple[int, ...], one_track: bool
) -> None:
    roles = {1: "harmony", 2: "bass", 4: "drums", 3: "melody"}
    song = song_of(*(HIDDEN[i] for i in order), one_track=one_track)
    parts = hear_parts(song)
    assert [roles[p.channel] for p in song.parts] == list(parts.role)
    assert len(set(parts.group.tolist())) == 4


def test_roles_do_not_depend_on_the_resolution() -> None:
    coarse, fine = (hear_parts(song_of(*HIDDEN, tpq=tpq)) for tpq in (96, 960))
    assert coarse.role == fine.role
    assert coarse.certainty == pytest.approx(fine.certainty, abs=0.02)


def test_several_tracks_on_one_channel() -> None:
    lines = [replace(line, channel=1) for line in (HIDDEN[0], HIDDEN[1], HIDDEN[3])]
    assert hear_parts(song_of(*lines)).role == ("harmony", "bass", "melody")


def test_a_sub_and_its_octave_are_both_bass() -> None:
    parts = hear_parts(song_of(Line(keys()), Line(low(), 2), Line(low(12), 3), Line(beat(), 10)))
    assert set(parts.bass) == {1, 2}
    assert parts.harmony == (0,)


def test_a_sub_and_its_octave_in_one_part_are_one_voice() -> None:
    parts = hear_parts(song_of(Line(keys()), Line([*low(), *low(12)], 2), Line(beat(), 10)))
    assert parts.bass == (1,)


@pytest.mark.parametrize("lift", [0, 1, 2, 6])
@pytest.mark.parametrize("pedal", [False, True])
def test_a_wrong_bass_beside_a_piano_is_the_bass(lift: int, pedal: bool) -> None:
    line: list[Note] = (
        [(4 * b, 4 * b + 4, 33 + lift) for b in range(BARS)] if pedal else low(lift, (0, 2))
    )
    whole = [*keys(), *((s, e, p + 12) for s, e, p in low()), *tune()]
    parts = hear_parts(song_of(Line(whole), Line(line, 2)))
    assert (parts.harmony, parts.bass) == ((0,), (1,))


def test_a_piano_with_its_own_low_notes_is_harmony_and_no_bass() -> None:
    parts = hear_parts(song_of(Line([*keys(), *low()])))
    assert parts.role == ("harmony",)
    assert parts.bass == ()


@pytest.mark.parametrize(
    "lines", [(Line(keys()), Line(tune(), 2)), (Line(tune()),), (Line(keys()),)]
)
def test_no_bass_is_an_answer(lines: tuple[Line, ...]) -> None:
    assert hear_parts(song_of(*lines)).bass == ()


def test_low_chords_are_harmony_and_no_bass() -> None:
    chords = [(s, e, p - 19) for s, e, p in keys()]  # from D2 up, as a low guitar
    parts = hear_parts(song_of(Line(chords), Line(tune(), 2), Line(beat(), 10)))
    assert parts.role == ("harmony", "melody", "drums")


def test_broken_chords_are_harmony() -> None:
    parts = hear_parts(song_of(Line(broken()), Line(low(), 2), Line(tune(), 3)))
    assert parts.role == ("harmony", "bass", "melody")
    assert parts.evidence[0] == "broken chords"


def test_roots_are_heard_in_the_melody_where_no_harmony_plays() -> None:
    parts = hear_parts(song_of(Line(tune()), Line(low(), 2), Line(beat(), 10)))
    assert parts.role == ("melody", "bass", "drums")
    assert parts.harmony == (0,)


def test_drum_sounds_on_tracks_of_their_own_on_one_key() -> None:
    def hits(*beats: float) -> list[Note]:
        return [(4 * b + x, 4 * b + x + 0.25, 60) for b in range(BARS) for x in beats]

    song = song_of(
        Line(hits(0, 2.5)), Line(hits(1, 3), 2), Line(hits(0, 1, 2, 3), 3), Line(keys(), 4)
    )
    assert hear_parts(song).role == ("drums", "drums", "drums", "harmony")


def test_a_pedal_on_one_key_is_a_bass_and_no_drum() -> None:
    pedal = [(q / 2, q / 2 + 0.4, 33) for q in range(8 * BARS)]
    assert hear_parts(song_of(Line(keys()), Line(pedal, 2), Line(beat(), 10))).bass == (1,)


@pytest.mark.parametrize(("key", "kick"), [(28, 36), (40, 60), (36, 36)])
def test_a_pedal_on_one_key_beside_drum_sounds_on_one_key(key: int, kick: int) -> None:
    hits = [[(4 * b + x, 4 * b + x + 0.2, kick) for b in range(BARS)] for x in (0, 1)]
    pedal = [(4 * b + x, 4 * b + x + 0.9, key) for b in range(BARS) for x in (0, 1, 2)]
    song = song_of(Line(keys()), Line(pedal, 2), *(Line(h, 3) for h in hits))
    assert hear_parts(song).role == ("harmony", "bass", "drums", "drums")


def test_a_name_beats_texture_but_not_against_sense() -> None:
    # a "bass" an octave too high is still the bass; the drum named after it is none
    high = Line(low(19), 2, "Bass")
    kick = Line([(q, q + 0.2, 36) for q in range(4 * BARS)], 3, "Bass Drum")
    assert hear_parts(song_of(Line(keys(), 1, "Keys"), high, kick)).role == (
        "harmony",
        "bass",
        "drums",
    )


def test_a_name_that_all_parts_bear_tells_nothing() -> None:
    named = [replace(line, name="Bass music") for line in HIDDEN]
    assert hear_parts(song_of(*named)).role == hear_parts(song_of(*HIDDEN)).role


def test_channels_that_take_turns_on_one_line_are_one_instrument() -> None:
    """RP-053: MPE gives every note a member channel of its own."""
    spread = [Line([note], 2 + i % 5) for i, note in enumerate(low())]
    lines = [*spread]
    midi = song_of(*lines, one_track=True)
    assert len(midi.parts) == 5
    parts = hear_parts(midi)
    assert set(parts.group.tolist()) == {0}
    assert set(parts.role) == {"bass"}
    assert parts.bass == (0, 1, 2, 3, 4)


def test_stated_parts_are_taken_as_they_are() -> None:
    song = song_of(*HIDDEN)
    parts = hear_parts(song, bass=(3,), harmony=(1,))
    assert (parts.bass, parts.harmony) == ((3,), (1,))
    assert parts.role == ("other", "harmony", "drums", "bass")
    assert parts.stated.tolist() == [False, True, False, True]
    assert parts.certainty[[1, 3]].tolist() == [1.0, 1.0]


def test_stating_no_bass_leaves_none() -> None:
    parts = hear_parts(song_of(*HIDDEN), bass=())
    assert parts.bass == ()
    assert "bass" not in parts.role


@pytest.mark.parametrize(
    ("bass", "harmony", "says"),
    [((4,), None, "#5"), ((-1,), None, "#0"), ((1,), (1,), "as bass and as harmony")],
)
def test_stated_parts_that_cannot_be(
    bass: tuple[int, ...], harmony: tuple[int, ...] | None, says: str
) -> None:
    with pytest.raises(UsageError, match=says):
        hear_parts(song_of(*HIDDEN), bass, harmony)


def test_a_song_without_notes_has_no_parts() -> None:
    parts = hear_parts(song_of(Line([])))
    assert parts.role == () and parts.bass == () and parts.harmony == ()


def test_a_bass_is_the_lowest_of_the_pitched_lines_whatever_the_drums_play() -> None:
    """Kick 36 and snare 38 lie under a bass at G2; General MIDI 1."""
    bass = [(4 * bar, 4 * bar + 3, p) for bar, p in enumerate([43, 46, 48, 44] * 4)]
    kit = [(q / 2, q / 2 + 0.5, 36 if q % 4 else 38) for q in range(128)]
    song = song_of(Line(kit, 10), Line(bass, 2), Line(keys(), 1))
    parts = hear_parts(song)
    assert parts.role[1] == "bass" and parts.evidence[1].startswith("lowest line")


@pytest.mark.parametrize(("gap", "bass"), [(-8, False), (13, True)])
def test_what_lies_under_all_others_is_a_bass_in_a_high_register_too(gap: int, bass: bool) -> None:
    line = [(4 * bar, 4 * bar + 3, p) for bar, p in enumerate([48, 51, 52, 49] * 4)]
    above = [(4 * bar, 4 * bar + 4, 50 + gap + p) for bar in range(16) for p in (-2, 0, 2)]
    assert (hear_parts(song_of(Line(line, 2), Line(above, 1))).role[0] == "bass") is bass


def test_a_bass_in_octaves_on_the_keys_of_a_drum_set_is_no_drum() -> None:
    """Disco: every second note an octave up; General MIDI 1 has drums on 35 to 59."""
    bass = [(q / 2, q / 2 + 0.4, (36, 41, 43, 38)[q // 16 % 4] + 12 * (q % 2)) for q in range(128)]
    song = song_of(Line(bass, 2), Line(keys(), 1), Line(tune(), 3))
    assert hear_parts(song).role == ("bass", "harmony", "melody")


@pytest.mark.parametrize(("drums", "role"), [(10, "bass"), (4, "drums")])
def test_short_hits_on_one_key_under_the_drum_set_are_a_bass_where_the_drums_are_known(
    drums: int, role: str
) -> None:
    low = [(q / 2, q / 2 + 0.2, 33) for q in range(128)]
    clap = [(q + 1, q + 1.2, 39) for q in range(0, 64, 2)]
    song = song_of(Line(low, 2), Line(clap, drums), Line(clap, drums), Line(keys(), 1))
    assert hear_parts(song).role[0] == role


def test_a_staff_called_piano_with_a_bass_program_goes_by_its_notes() -> None:
    low_line, high_line = (Line(low(lift), 2, "Piano", SYNTH_BASS) for lift in (0, 36))
    assert hear_parts(song_of(Line(keys(), 1), low_line)).role[1] == "bass"
    assert hear_parts(song_of(Line(keys(), 1), high_line)).role[1] != "bass"


def test_drum_sounds_an_octave_apart_are_no_pedal() -> None:
    kick = [(q, q + 0.25, 36) for q in range(0, 64, 2)]
    clap = [(q + 1, q + 1.25, 60) for q in range(0, 64, 2)]
    song = song_of(Line(kick, 2), Line(clap, 3), Line(keys(), 1))
    assert hear_parts(song).role[:2] == ("drums", "drums")


def test_a_pedal_and_its_octave_are_no_drums() -> None:
    pedal = [(4 * bar, 4 * bar + 2.5, 41) for bar in range(16)]
    layer = [(s, e, p + 12) for s, e, p in pedal]
    song = song_of(Line(pedal, 2), Line(layer, 3), Line(keys(), 1))
    assert hear_parts(song).role[:2] == ("bass", "bass")


TIMPANI, SYNTH_BASS = 47, 38  # General MIDI 1, programs from 0


@pytest.mark.parametrize(("program", "name"), [(TIMPANI, ""), (None, "Timpani")])
@pytest.mark.parametrize("beside", [False, True])
def test_timpani_are_no_bass_beside_one_or_alone(
    program: int | None, name: str, beside: bool
) -> None:
    rolls = Line(low(0, (0, 2, 2.25, 2.5, 2.75, 3)), 5, name, program)
    others = [Line(keys()), *([Line(low(12), 2, "", SYNTH_BASS)] if beside else [])]
    parts = hear_parts(song_of(*others, rolls))
    assert parts.role[-1] == "other"
    assert parts.bass == ((1,) if beside else ())


@pytest.mark.parametrize("name", ["", "Bass Pedal", "Sub"])
@pytest.mark.parametrize("notes", [low(), beat()])
def test_percussion_on_channel_10_is_no_bass_unless_the_user_says_so(
    name: str, notes: list[Note]
) -> None:
    """General MIDI 1: channel 10 is percussion."""
    song = song_of(Line(keys()), Line(notes, 10, name))
    assert hear_parts(song).bass == ()
    assert hear_parts(song, bass=(1,)).bass == (1,)
