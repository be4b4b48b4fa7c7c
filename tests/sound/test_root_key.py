"""What do sound files say of their root key? Files written by hand from the standards."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from basslint.hear.bassline.line_fit import Fit
from basslint.hear.bassline.tuning import hear_tuning
from basslint.hear.facts import Facts
from basslint.report.formats.sound_text import print_sound
from basslint.sound.one_shot import measure_sound
from basslint.sound.root_key import RootKey, hint_in_name, transpose
from basslint.sound.sampler_chunk import read_sampler_chunk

RATE = 44_100
NO_FIT = Fit(np.zeros(12), np.zeros(12), 0, 0.0, 0)


def sub(hz: float = 46.249) -> np.ndarray:
    time = np.arange(RATE) / RATE
    return 0.9 * np.sin(2 * np.pi * hz * time) * 10 ** (-3 * time)


def smpl(unity: int, fraction: int = 0, loops: int = 0) -> bytes:
    """RIFF WAVE sampler chunk: nine 32-bit numbers, little-endian, then 24 bytes a loop."""
    body = struct.pack("<9I", 0, 0, 22_676, unity, fraction, 0, 0, loops, 0) + bytes(24 * loops)
    return b"smpl" + struct.pack("<I", len(body)) + body


def wav(path: Path, *chunks: bytes) -> Path:
    soundfile.write(str(path), sub(), RATE)
    raw = path.read_bytes() + b"".join(chunks)
    path.write_bytes(raw[:4] + struct.pack("<I", len(raw) - 8) + raw[8:])
    return path


def aiff(path: Path, base: int, detune: int, mode: int = 0) -> Path:
    """An AIFF with an instrument chunk: base note, detune, ranges, gain, two loops of 6 bytes."""
    soundfile.write(str(path), sub(), RATE, format="AIFF")
    loop = struct.pack(">hhh", mode, 0, 0)
    body = struct.pack(">bbbbbbh", base, detune, 0, 127, 1, 127, 0) + loop + loop
    raw = path.read_bytes() + b"INST" + struct.pack(">I", len(body)) + body
    path.write_bytes(raw[:4] + struct.pack(">I", len(raw) - 8) + raw[8:])
    return path


@pytest.mark.parametrize(
    ("unity", "fraction", "key"),
    [(30, 0, 30.0), (60, 0, 60.0), (41, 0x8000_0000, 41.5), (36, 0x1999_999A, 36.1)],
)
def test_unity_note_of_a_wav(tmp_path: Path, unity: int, fraction: int, key: float) -> None:
    told = read_sampler_chunk(wav(tmp_path / "a.wav", smpl(unity, fraction)))
    assert told.root_key is not None
    assert told.root_key.key == pytest.approx(key, abs=1e-6)
    assert told.root_key.source == "smpl"
    assert told.root_key.default == (key == 60)


@pytest.mark.parametrize(("base", "detune", "key"), [(30, 0, 30), (30, 25, 29.75), (41, -50, 41.5)])
def test_base_note_of_an_aiff(tmp_path: Path, base: int, detune: int, key: float) -> None:
    told = read_sampler_chunk(aiff(tmp_path / "a.aiff", base, detune))
    assert told.root_key is not None
    assert told.root_key.key == pytest.approx(key)  # detune raises what sounds at the base note
    assert told.root_key.source == "INST"
    assert not told.loops


def test_loops_beside_the_root_key(tmp_path: Path) -> None:
    assert read_sampler_chunk(wav(tmp_path / "a.wav", smpl(30, loops=1))).loops
    assert not read_sampler_chunk(wav(tmp_path / "b.wav", smpl(30))).loops
    assert read_sampler_chunk(aiff(tmp_path / "a.aiff", 30, 0, mode=1)).loops


def test_an_odd_chunk_before_it_is_padded(tmp_path: Path) -> None:
    odd = b"note" + struct.pack("<I", 3) + b"abc\0"
    told = read_sampler_chunk(wav(tmp_path / "a.wav", odd, smpl(33)))
    assert told.root_key is not None and told.root_key.key == 33


@pytest.mark.parametrize("chunk", [smpl(30)[:16], smpl(200), b"smpl" + struct.pack("<I", 0)])
def test_a_chunk_that_is_cut_or_impossible_states_nothing(tmp_path: Path, chunk: bytes) -> None:
    assert read_sampler_chunk(wav(tmp_path / "a.wav", chunk)).root_key is None


def test_files_without_such_a_chunk_state_nothing(tmp_path: Path) -> None:
    soundfile.write(str(tmp_path / "a.flac"), sub(), RATE)
    assert read_sampler_chunk(tmp_path / "a.flac").root_key is None
    assert read_sampler_chunk(wav(tmp_path / "a.wav")).root_key is None


@pytest.mark.parametrize(
    ("name", "pitch_class"),
    [
        ("sub_F#.wav", 6),
        ("Kick 808 (Gm).wav", 7),
        ("808 Bb.wav", 10),
        ("bass-C1.wav", 0),
        ("Sub F#m 140.wav", 6),
        ("E♭ boom.wav", 3),
        ("sub.wav", None),
        ("A to G.wav", None),
        ("Big Ass.wav", None),
        ("808 deep.wav", None),
        ("Bass Boosted.wav", None),
    ],
)
def test_a_note_in_the_name(name: str, pitch_class: int | None) -> None:
    hint = hint_in_name(f"kits/{name}")
    assert (hint.pitch_class if hint else None) == pitch_class


def test_the_measured_sound_carries_both(tmp_path: Path) -> None:
    report = measure_sound(wav(tmp_path / "sub_F#.wav", smpl(60)))
    assert report.note == 30
    assert report.hint is not None and report.hint.pitch_class == 6
    assert transpose(report.pitch, report.root_key) == -6


@pytest.mark.parametrize(
    ("fraction", "words"),
    [
        (0, "root F#1, says"),
        (0x8000_0000, "root F#1 + 50 cents, says"),
        (0xC000_0000, "root G1 − 25"),
    ],
)
def test_a_root_key_between_two_keys_is_named(tmp_path: Path, fraction: int, words: str) -> None:
    out = io.StringIO()
    print_sound(measure_sound(wav(tmp_path / "a.wav", smpl(30, fraction))), out)
    assert words in " ".join(out.getvalue().split())


@pytest.mark.parametrize("pitch", [29.9, 30.0, 30.1, 30.45])
@pytest.mark.parametrize("key", [36.5, 35.5, 41.5, 36.25, 60.5, 29.6])
def test_sound_and_check_count_the_same_semitones(pitch: float, key: float) -> None:
    """A root key between two keys: what the sampler is told by one command, the other judges by."""
    facts = Facts(sound_pitch=pitch, root_key=key)
    off = hear_tuning(facts, np.zeros(0, np.int16), NO_FIT).off
    assert transpose(pitch, RootKey(key, "smpl")) == -off
    assert abs((pitch - key - off + 6) % 12 - 6) <= 0.5


@pytest.mark.parametrize(("note", "away"), [(30, -6), (24, 0), (29, -5), (31, 5), (35, 1), (36, 0)])
def test_transposing_from_a_c(note: int, away: int) -> None:
    assert transpose(note, None) == away
