"""Roots, tuning, bars and glides: what must be heard in sounds made to order."""

from __future__ import annotations

import io
import json

import jsonschema
import numpy as np
import pytest
from loop_sounds import PROGRESSION, RATE, ROOTS, chords, gliding, hits, rumble, tone, voice, write

from basslint.audio.answers import loop_roots
from basslint.audio.bars import Stated
from basslint.audio.loop import TICKS, hear_loop
from basslint.audio.remarks import loop_remarks
from basslint.errors import SoundError
from basslint.report.formats.json_values import schema
from basslint.report.formats.loop_json import loop_json
from basslint.report.formats.loop_text import print_loop
from basslint.util.records import replace


def heard_per_bar(heard):
    """Root in the middle of each bar, −1 where none is told."""
    roots = loop_roots(heard)
    middle = (np.arange(heard.bars.bars) * 4 + 2) * TICKS
    return tuple(int(roots.root[k]) for k in np.searchsorted(roots.start, middle, "right") - 1)


def test_roots_bars_tempo_and_tuning_of_a_cut_loop(tmp_path):
    path = write(tmp_path / "loop.wav", chords(100.0, cents=18.0))
    heard = hear_loop(path, Stated(bpm=100.0))
    assert heard.bars.bars == 4 and heard.bars.cut and heard.bars.begins_s == 0.0
    assert heard_per_bar(heard) == ROOTS
    assert heard.tuning.cents == pytest.approx(
        18.0, abs=3.0
    )  # overtones 5 and 7 lie beside the notes
    assert heard.off_s is None
    assert hear_loop(path).bars.bpm == pytest.approx(100.0, abs=0.5)


def test_a_loop_after_silence_is_found(tmp_path):
    sound = np.concatenate((np.zeros(RATE // 3), chords(100.0), np.zeros(RATE // 2)))
    heard = hear_loop(write(tmp_path / "late.wav", sound), Stated(bpm=100.0))
    assert heard.bars.bars == 4 and not heard.bars.cut
    assert heard.bars.begins_s == pytest.approx(1 / 3, abs=0.02)
    assert heard_per_bar(heard) == ROOTS


def test_a_pickup_turns_the_loop_to_its_bar_line(tmp_path):
    sound = np.roll(chords(100.0), round(0.6 * RATE))  # the last beat stands first
    path = write(tmp_path / "pickup.wav", sound)
    heard = hear_loop(path, Stated(bpm=100.0, begins_beats=-1.0))
    assert heard.bars.begins_s == pytest.approx(0.6)
    assert heard_per_bar(heard) == ROOTS
    rows = json.loads(loop_json(heard))["roots"]
    assert all(0.0 <= r["start_s"] < r["end_s"] <= 9.6 + 1e-6 for r in rows)


def test_three_beats_of_pickup_leave_all_bars(tmp_path):
    sound = np.roll(chords(100.0), round(3 * 0.6 * RATE))
    path = write(tmp_path / "pickup.wav", sound)
    heard = hear_loop(path, Stated(bpm=100.0, begins_beats=-3.0))
    assert heard.bars.bars == 4 and heard_per_bar(heard) == ROOTS


def test_a_long_silence_after_the_loop_is_no_bars(tmp_path):
    sound = np.concatenate((chords(100.0), np.zeros(20 * RATE)))
    assert hear_loop(write(tmp_path / "tail.wav", sound), Stated(bpm=100.0)).bars.bars == 4


@pytest.mark.parametrize("bpm", [84.0, 100.0, 127.3])
@pytest.mark.parametrize(("before", "after"), [(0.31, 1.1), (0.0, 0.8), (0.52, 0.0)])
def test_tempo_and_bars_of_a_sound_that_was_not_cut(tmp_path, bpm, before, after):
    """Its length says nothing of them; its strokes do."""
    beat = hits(bpm, 16)
    sound = chords(bpm)
    sound = sound + 0.3 * beat[: len(sound)]
    fading = sound[-RATE:] * np.linspace(0.2, 0.0, RATE)
    tail = np.concatenate((fading, np.zeros(RATE)))[: round(after * RATE)]
    sound = np.concatenate((np.zeros(round(before * RATE)), sound, tail))
    heard = hear_loop(write(tmp_path / "raw.wav", sound), Stated()).bars
    assert heard.bpm == pytest.approx(bpm, rel=0.004) and heard.bars == 4
    assert heard.begins_s == pytest.approx(before, abs=0.02) and heard.tempo_heard


def test_a_click_is_heard_without_a_warning(tmp_path):
    click = np.zeros(4 * RATE)
    click[RATE] = 1.0
    assert not (loop_roots(hear_loop(write(tmp_path / "c.wav", click))).certainty >= 0.87).any()


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("drums", "No harmony is heard"),
        ("noise", "No harmony is heard"),
        ("rumble", "No harmony is heard"),
        ("held", "One note at a time sounds"),
        ("voice", "One note at a time sounds"),
    ],
)
def test_what_is_no_harmony_is_not_told(tmp_path, what, said):
    sound = {
        "drums": hits(100.0, 16),
        "noise": np.random.default_rng(2).standard_normal(RATE * 8) * 0.1,
        "rumble": rumble(9.6),
        "held": np.concatenate([tone(57, 2.4, 9.0)] * 4) * 0.2,
        "voice": voice(9.6) * 0.1,
    }[what]
    heard = hear_loop(write(tmp_path / "x.wav", sound), Stated(bpm=100.0))
    sure = (loop_roots(heard).certainty >= 0.87).any()
    assert not sure and not len(heard.glides)
    assert any(remark.startswith(said) for remark in loop_remarks(heard))


@pytest.mark.parametrize(
    ("bpm", "sways_hz", "semitones"),
    [(80.0, 0.45, 2.0), (80.0, 0.2, 7.0), (120.0, 0.45, 4.0), (100.0, 5.5, 0.5)],
)
def test_a_single_voice_that_sways_is_no_chord_that_glides(tmp_path, bpm, sways_hz, semitones):
    """Between two notes it sounds as if both did, and each way looks like a glide."""
    sound = voice(16 * 60.0 / bpm, sways_hz, semitones) * 0.1
    heard = hear_loop(write(tmp_path / "sways.wav", sound), Stated(bpm=bpm))
    assert not len(heard.glides) and (loop_roots(heard).root == -1).all()


def test_a_whole_song_has_more_bars_than_a_loop(tmp_path):
    sound = np.concatenate([chords(160.0)] * 20 + [chords(160.0)[: RATE * 3]])
    bars = hear_loop(write(tmp_path / "song.wav", sound), Stated()).bars
    assert bars.bars == round(bars.bpm / 160.0 * 82) and bars.tempo_heard


def test_near_a_quarter_tone_both_readings_count(tmp_path):
    heard = hear_loop(write(tmp_path / "q.wav", chords(100.0, cents=49.0)), Stated(bpm=100.0))
    assert loop_roots(heard).certainty.max() < 0.87


def test_a_grid_that_misses_the_strokes_is_told_and_nothing_judged(tmp_path):
    sound = np.concatenate((chords(100.0), chords(100.0)))
    heard = hear_loop(write(tmp_path / "off.wav", sound), Stated(bpm=100.0, bars=4, begins_s=0.12))
    assert heard.off_s is not None and abs(heard.off_s) == pytest.approx(0.12, abs=0.03)
    assert (loop_roots(heard).root == -1).all()


def test_a_loop_that_swings_keeps_its_grid(tmp_path):
    """Each beat's second stroke is louder than its first, and lies on its last third."""
    sound = 0.3 * chords(100.0) + 0.6 * np.roll(chords(100.0), round(0.4 * RATE))
    heard = hear_loop(write(tmp_path / "swings.wav", sound), Stated(bpm=100.0))
    assert heard.off_s is None and heard_per_bar(heard) == ROOTS


def test_a_chord_that_slides_into_the_next_is_a_glide(tmp_path, monkeypatch):
    path = write(tmp_path / "slide.wav", gliding())
    heard = hear_loop(path, Stated(bpm=100.0))
    assert len(heard.glides) == 1
    assert heard.glides.start[0] in (29, 30, 31)
    value = json.loads(loop_json(heard))
    assert value["glides"][0]["from_pc"] == 9 and value["glides"][0]["to_pc"] == 2
    begins, ends = value["glides"][0]["start_s"], value["glides"][0]["end_s"]
    text = io.StringIO()
    print_loop(heard, text, width=80)
    assert f", {begins:g} to {ends:g} s  A moves to D\n" in text.getvalue()
    text = io.StringIO()
    print_loop(replace(heard, tuning=replace(heard.tuning, cents=-1.2)), text, width=80)
    assert " 1 cent flat of" in text.getvalue()
    # spelled by the key, as the roots are; columns as wide as their words need, and no figure
    # parted from its unit on a narrow screen
    degrees = ("c", "#", "d", "#", "e", "f", "#", "g", "#", "la", "#", "b")
    monkeypatch.setattr("basslint.report.formats.loop_text.names_at", lambda keys, tick: degrees)
    text = io.StringIO()
    print_loop(heard, text, width=40)
    assert "la moves to d" in " ".join(text.getvalue().split())
    assert "  bar 5 beat 1, 16 beats  dm   99 % sure\n" in text.getvalue()


def test_json_keeps_to_its_schema_and_is_the_same_each_time(tmp_path):
    path = write(tmp_path / "loop.wav", chords(100.0))
    text = loop_json(hear_loop(path, Stated(bpm=100.0)))
    jsonschema.validate(json.loads(text), schema("loop"))
    assert text == loop_json(hear_loop(path, Stated(bpm=100.0)))
    drums = hear_loop(write(tmp_path / "d.wav", hits(100.0, 16)), Stated(bpm=100.0))
    jsonschema.validate(json.loads(loop_json(drums)), schema("loop"))


def test_bars_that_do_not_fit_are_refused(tmp_path):
    path = write(tmp_path / "loop.wav", chords(100.0, PROGRESSION[:2]))
    with pytest.raises(SoundError, match="8 bars do not fit"):
        hear_loop(path, Stated(bpm=100.0, bars=8))


def test_more_bars_than_any_tempo_has_are_refused(tmp_path):
    path = write(tmp_path / "loop.wav", chords(100.0))
    with pytest.raises(SoundError, match="64 bars of it would run at 1,600 bpm"):
        hear_loop(path, Stated(bars=64))


def test_what_is_no_harmony_is_told_by_that_alone(tmp_path):
    """That its bars miss its end is no reason why drums have no roots."""
    path = write(tmp_path / "d.wav", hits(100.0, 18))
    remarks = loop_remarks(hear_loop(path, Stated(bpm=100.0, meter=(4, 4))))
    assert [r.split(":")[0] for r in remarks] == ["No harmony is heard"]


def test_a_loop_alone_is_told_what_to_say_on_the_command_line(tmp_path):
    heard = hear_loop(write(tmp_path / "loop.wav", chords(100.0)), Stated(bpm=90.0))
    (alone,), (in_song,) = loop_remarks(heard), loop_remarks(heard, in_song=True)
    assert alone.endswith("Its length fits --bpm 100.0 --bars 4.") and "[[loop]]" in in_song
