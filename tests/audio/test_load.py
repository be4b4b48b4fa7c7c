"""What a sound file may be, and what is said of one that is none."""

from __future__ import annotations

import os

import numpy as np
import pytest
import soundfile
from loop_sounds import RATE, chords, write

from basslint.audio.load import read_loop
from basslint.audio.spectra import RATE_HZ
from basslint.errors import SoundError


@pytest.mark.parametrize("rate", [8_000, 22_050, 44_100, 48_000, 96_000, 44_056])
def test_a_tone_keeps_its_pitch_and_level_at_any_rate(tmp_path, rate):
    time = np.arange(rate * 13) / rate  # longer than one chunk: the seam must not be heard
    wave = 0.5 * np.sin(2 * np.pi * 440.0 * time)
    sound = read_loop(write(tmp_path / "a.wav", wave, rate, "FLOAT"))
    assert sound.duration_s == 13.0 and sound.rate == rate
    assert len(sound.samples) == 13 * RATE_HZ
    want = 0.5 * np.sin(2 * np.pi * 440.0 * np.arange(13 * RATE_HZ) / RATE_HZ)
    inside = slice(RATE_HZ // 10, -RATE_HZ // 10)
    assert np.abs(sound.samples - want)[inside].max() < 0.005


def refused(path, match, **how):
    with pytest.raises(SoundError, match=match) as told:
        read_loop(path, **how)
    assert told.value.advice


def test_bad_files_are_refused_in_a_sentence(tmp_path):
    refused(tmp_path / "none.wav", "does not exist")
    refused(tmp_path, "is a folder")
    (tmp_path / "text.wav").write_text("no sound at all")
    (tmp_path / "empty.wav").touch()
    refused(tmp_path / "empty.wav", "holds nothing")
    refused(tmp_path / "text.wav", r"cannot be read as a sound \(Format not recognised\)")
    refused(write(tmp_path / "still.wav", np.zeros(RATE)), "is silent")
    refused(write(tmp_path / "dc.wav", np.full(RATE, 0.4)), "constant offset")
    refused(write(tmp_path / "short.wav", np.zeros(RATE // 10)), "too short")
    long = write(tmp_path / "long.wav", chords(120.0))
    refused(long, "hears up to 3 s", longest_s=3.0)
    wave = chords(120.0)
    wave[5000] = np.nan
    refused(write(tmp_path / "nan.wav", wave, RATE, "FLOAT"), "no numbers")
    wave[5000] = 1e300  # more than the 32 bits that are read can hold
    refused(write(tmp_path / "huge.wav", wave, RATE, "DOUBLE"), "far beyond full scale")


@pytest.mark.parametrize("kind", ["wav", "aiff", "ogg"])
def test_a_file_that_is_cut_short_is_refused(tmp_path, kind):
    """Readers take what is left for the whole, and a loop of half its bars accuses right notes."""
    path = tmp_path / f"a.{kind}"
    soundfile.write(path, chords(120.0), RATE)
    assert read_loop(path).duration_s == pytest.approx(8.0, abs=0.1)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    refused(path, "cut short")


@pytest.mark.parametrize("stated", [0, 0x7FFF_F024, 0xFFFF_FFFF])
def test_a_length_that_was_not_known_when_it_was_written_is_none(tmp_path, stated):
    """Writers into a pipe leave the sizes of a WAV file open."""
    path = write(tmp_path / "a.wav", chords(120.0))
    data = bytearray(path.read_bytes())
    data[4:8] = stated.to_bytes(4, "little")
    path.write_bytes(data)
    assert read_loop(path).duration_s == 8.0


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_is_no_file_that_is_missing(tmp_path):
    os.mkfifo(tmp_path / "a.wav")
    refused(tmp_path / "a.wav", "is no ordinary file")


def test_what_a_file_has_to_be_forgiven_is_told(tmp_path):
    loud = np.clip(chords(120.0) * 6.0, -1.0, 1.0)
    assert any("clips" in r for r in read_loop(write(tmp_path / "c.wav", loud)).remarks)
    low = write(tmp_path / "low.wav", chords(120.0), 8_000)
    assert any("8,000 Hz" in r for r in read_loop(low).remarks)
    off = read_loop(write(tmp_path / "off.wav", chords(120.0) * 0.5 + 0.2))
    assert any("offset" in r for r in off.remarks)
    assert abs(float(off.samples.mean())) < 1e-3
    assert read_loop(write(tmp_path / "plain.wav", chords(120.0))).remarks == ()


def test_channels_that_cancel_each_other_out_are_told(tmp_path):
    wave = chords(120.0)
    noise = 0.02 * np.random.default_rng(1).standard_normal((2, len(wave)))
    for name, other, told in (("wide", -wave, True), ("apart", np.roll(wave, RATE), False)):
        both = np.stack((wave + noise[0], other + noise[1]), axis=1) / 2
        remarks = read_loop(write(tmp_path / f"{name}.wav", both)).remarks
        assert any("cancel" in r for r in remarks) == told


def test_channels_are_mixed_and_other_formats_read(tmp_path):
    wave = chords(120.0)
    both = np.stack((wave, wave), axis=1)
    for name in ("a.flac", "a.ogg", "a.aiff"):
        soundfile.write(tmp_path / name, both, RATE)
        sound = read_loop(tmp_path / name)
        assert sound.channels == 2 and sound.duration_s == pytest.approx(8.0, abs=0.1)
