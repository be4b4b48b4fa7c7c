"""Bass sounds synthesised with known pitch and decay, and files that are none.

The truth is in the formula that makes them: A·10^(−3t/T60)·sin φ(t), with 60 dB of fall in T60 (ISO
3382), pitches from ISO 16 and equal temperament.
"""

from __future__ import annotations

import io
import json
import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile
from jsonschema import Draft202012Validator
from numpy.typing import NDArray

from basslint.errors import SoundError
from basslint.report.formats.json_values import schema
from basslint.report.formats.sound_json import sound_json
from basslint.report.formats.sound_text import print_sound
from basslint.sound.one_shot import SoundReport, measure_samples, measure_sound

RATE = 44_100
E1, F1, A1 = 41.203, 43.654, 55.000  # Hz, ISO 16


def struck(
    hz: float,
    t60: float,
    *,
    seconds: float | None = None,
    octaves: float = 0.0,
    noise_db: float | None = None,
    drive_db: float = 0.0,
    overtones: float = 0.0,
    rate: int = RATE,
    falls: float = 0.03,
) -> NDArray[np.float64]:
    """A struck tone [n, 1]: it begins ``octaves`` too high and falls with a time constant."""
    time = np.arange(int((seconds or 1.3 * t60) * rate)) / rate
    phase = 2 * np.pi * np.cumsum(hz * 2 ** (octaves * np.exp(-time / falls))) / rate
    wave = sum(overtones**k * np.sin((k + 1) * phase) for k in range(5))
    wave = 0.9 * wave / np.abs(wave).max() * 10 ** (-3 * time / t60)
    if noise_db is not None:
        wave = wave + np.random.default_rng(5).standard_normal(len(time)) * 10 ** (noise_db / 20)
    wave = np.clip(wave * 10 ** (drive_db / 20), -1, 1)
    return np.round(wave * 32767)[:, None] / 32767


def cents(report: SoundReport, hz: float) -> float:
    assert report.pitch_hz is not None
    return float(1200 * np.log2(report.pitch_hz / hz))


CASES = [
    (hz, t60, kind, options)
    for hz in (32.703, E1, A1, 98.0)
    for t60 in (0.35, 0.8, 2.0)
    for kind, options in {
        "plain": {},
        "overtones": {"overtones": 0.5},
        "noise": {"noise_db": -50.0},
        "clipping": {"drive_db": 12.0},
        "cut short": {"seconds": 0.6 * t60},
    }.items()
] + [
    (hz, t60, kind, options)
    for hz in (32.703, E1, A1, 98.0)
    for t60 in (0.8, 2.0)
    for kind, options in {
        "drop": {"octaves": 2.0},
        "drop with overtones and noise": {"octaves": 3.0, "overtones": 0.4, "noise_db": -55.0},
        "drop, clipped": {"octaves": 1.5, "drive_db": 9.0},
        "slow drop": {"octaves": 1.0, "falls": 0.06},
    }.items()
]


@pytest.mark.parametrize(("hz", "t60", "kind", "options"), CASES)
def test_pitch_and_decay(hz: float, t60: float, kind: str, options: dict[str, float]) -> None:
    report = measure_samples(struck(hz, t60, **options), RATE)
    assert report.t60_s == pytest.approx(t60, rel=0.05)
    assert abs(cents(report, hz)) <= 3.0
    assert report.clipped == ("drive_db" in options)
    assert not report.loops


@pytest.mark.parametrize("rate", [8_000, 22_050, 48_000, 96_000])
def test_every_sample_rate_gives_the_same(rate: int) -> None:
    report = measure_samples(struck(F1, 0.7, rate=rate), rate)
    assert report.t60_s == pytest.approx(0.7, rel=0.02)
    assert abs(cents(report, F1)) <= 1.0


def test_note_and_cents_off() -> None:
    report = measure_samples(struck(F1 * 2 ** (17 / 1200), 0.8), RATE)
    assert report.note == 29
    assert report.cents_off == pytest.approx(17, abs=1.5)


def test_the_moment_at_which_a_drop_has_settled() -> None:
    # two octaves too high, time constant 30 ms: within 5 cents after 30·ln(2400/5) = 185 ms
    report = measure_samples(struck(A1, 1.5, octaves=2.0), RATE)
    assert report.settled_s == pytest.approx(0.185, abs=0.05)
    assert measure_samples(struck(A1, 1.5), RATE).settled_s == pytest.approx(0.0, abs=0.03)


def test_a_pitch_that_never_settles_is_called_rough() -> None:
    report = measure_samples(struck(A1, 0.15, octaves=3.0, falls=0.1, seconds=0.3), RATE)
    assert report.settled_s is None
    assert any("take it as rough" in r or "No steady pitch" in r for r in report.remarks)


def test_stereo_out_of_phase_is_measured_all_the_same() -> None:
    mono = struck(A1, 0.8)
    report = measure_samples(np.hstack((mono, -mono)), RATE)
    assert report.channels == 2
    assert abs(cents(report, A1)) <= 3.0
    assert report.t60_s == pytest.approx(0.8, rel=0.05)


def test_a_constant_offset_is_no_noise() -> None:
    report = measure_samples(struck(A1, 0.5, seconds=1.0) * 0.9 + 0.05, RATE)
    assert report.t60_s == pytest.approx(0.5, rel=0.05)


def test_noise_is_measured() -> None:
    # white noise of −40 dB, of which the band below 1 kHz holds about 1,250 of 22,050 Hz; the peak
    # of the tone's power is that of a sine of 0.9: −3.9 dB
    report = measure_samples(struck(A1, 0.5, noise_db=-40.0, seconds=2.0), RATE)
    assert report.noise_db == pytest.approx(-40 - 12.5 + 3.9, abs=1.5)


def test_a_steady_sound_loops() -> None:
    time = np.arange(RATE) / RATE
    report = measure_samples(0.5 * np.sin(2 * np.pi * A1 * time)[:, None], RATE)
    assert report.loops
    assert report.t60_s is None
    assert not report.clipped
    assert abs(cents(report, A1)) <= 1.0


@pytest.mark.parametrize("hz", [25.0, 41.2, 110.0])
def test_a_sine_at_full_scale_does_not_clip(hz: float) -> None:
    time = np.arange(RATE) / RATE
    wave = np.round(32767 * np.sin(2 * np.pi * hz * time)) / 32767
    assert not measure_samples(wave[:, None], RATE).clipped
    assert measure_samples(np.clip(1.06 * wave, -1, 1)[:, None], RATE).clipped


def test_float_samples_over_full_scale_will_clip() -> None:
    report = measure_samples(struck(A1, 0.8) * 1.6, RATE)
    assert report.clipped
    assert any("passes full scale" in r for r in report.remarks)


def test_noise_has_no_pitch() -> None:
    noise = np.random.default_rng(1).standard_normal((RATE, 1)) * 0.1
    report = measure_samples(noise, RATE)
    assert report.pitch_hz is None
    assert report.note is None


# --- files ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "subtype"),
    [("a.wav", "PCM_16"), ("a.wav", "FLOAT"), ("a.flac", "PCM_24"), ("a.aiff", "PCM_16"),
     ("a.ogg", "VORBIS")],
)  # fmt: skip
def test_every_format_of_sound_is_measured_alike(tmp_path: Path, name: str, subtype: str) -> None:
    file = tmp_path / name
    soundfile.write(str(file), struck(F1, 0.8), RATE, subtype=subtype)
    report = measure_sound(file)
    assert report.t60_s == pytest.approx(0.8, rel=0.05)
    assert abs(cents(report, F1)) <= 3.0
    assert report.path == str(file)


def sampler_chunk(loops: int) -> bytes:
    """The 36 bytes of a WAVE sampler chunk's head, its count of loops at byte 28."""
    body = bytes(28) + loops.to_bytes(4, "little") + bytes(4) + bytes(24 * loops)
    return b"smpl" + len(body).to_bytes(4, "little") + body


@pytest.mark.parametrize("loops", [0, 1])
def test_loop_points_of_a_wav(tmp_path: Path, loops: int) -> None:
    file = tmp_path / "a.wav"
    soundfile.write(str(file), struck(F1, 0.8), RATE)
    raw = file.read_bytes() + sampler_chunk(loops)
    file.write_bytes(raw[:4] + (len(raw) - 8).to_bytes(4, "little") + raw[8:])
    assert measure_sound(file).loops == bool(loops)


def wrong_files() -> dict[str, bytes | None]:
    silent, short, long = io.BytesIO(), io.BytesIO(), io.BytesIO()
    soundfile.write(silent, np.zeros(RATE), RATE, format="WAV")
    soundfile.write(short, np.full(500, 0.5), RATE, format="WAV")
    soundfile.write(long, np.zeros(61 * 1000), 1000, format="WAV")
    return {
        "missing.wav": None,
        "empty.wav": b"",
        "midi.wav": b"MThd\0\0\0\6\0\1\0\1\1\xe0",
        "text.wav": b"hello",
        "silent.wav": silent.getvalue(),
        "short.wav": short.getvalue(),
        "long.wav": long.getvalue(),
        "header.wav": silent.getvalue()[:30],
    }


@pytest.mark.parametrize("name", list(wrong_files()))
def test_a_wrong_file_is_one_clear_error(tmp_path: Path, name: str) -> None:
    body, file = wrong_files()[name], tmp_path / name
    if body is not None:
        file.write_bytes(body)
    with pytest.raises(SoundError) as caught:
        measure_sound(file)
    assert name in caught.value.message
    assert caught.value.advice
    assert "\n" not in caught.value.message


def test_a_folder_is_no_sound(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match="is a folder"):
        measure_sound(tmp_path)


# --- reports -------------------------------------------------------------------------------------


def sounds() -> list[SoundReport]:
    time = np.arange(RATE) / RATE
    steady = 0.5 * np.sin(2 * np.pi * A1 * time)[:, None]
    noise = np.random.default_rng(1).standard_normal((RATE, 1)) * 0.1
    waves = [struck(F1, 0.8, octaves=2.0, drive_db=6.0), steady, noise, struck(A1, 0.15)]
    return [measure_samples(wave, RATE, "kits/sub.wav") for wave in waves]


@pytest.mark.parametrize("sound", sounds(), ids=["struck", "steady", "noise", "short"])
def test_json_fits_its_schema(sound: SoundReport) -> None:
    rules = schema("sound")
    Draft202012Validator.check_schema(rules)
    value = json.loads(sound_json(sound))
    Draft202012Validator(rules).validate(value)
    assert value["schema"] == "basslint-sound/1"
    assert (value["decay"] is None) == (sound.t60_s is None)
    assert len(value["level"]["time_s"]) == len(value["level"]["db"]) > 10


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
@pytest.mark.parametrize("sound", sounds(), ids=["struck", "steady", "noise", "short"])
def test_text_fits_a_pipe_in_any_encoding(sound: SoundReport, encoding: str) -> None:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding)
    print_sound(sound, stream)
    stream.flush()
    lines = raw.getvalue().decode(encoding).splitlines()
    assert lines[0] == "kits/sub.wav"
    assert max(map(len, lines)) <= 80
    text = "\n".join(lines)
    if sound.t60_s is not None:
        assert f"{round(sound.t60_s * 1000)} ms to fall by 60 dB" in " ".join(text.split())
        assert f'decay = "{round(sound.t60_s * 1000)}ms"' in text
    assert "0 dB" in text


def test_a_sound_that_says_nothing_is_not_to_be_pasted() -> None:
    noise = np.random.default_rng(7).normal(size=(RATE, 1)) * 0.2
    out = io.StringIO()
    print_sound(measure_samples(noise, RATE, "kits/hiss.wav"), out)
    text = " ".join(out.getvalue().split())
    assert "pitch none found decay none found" in text
    assert "sound =" not in text and "cannot be judged by this sound" in text


def test_text_names_note_cents_and_what_is_wrong() -> None:
    out = io.StringIO()
    print_sound(sounds()[0], out)
    text = " ".join(out.getvalue().split())
    assert "= F1, in tune" in text
    assert "clips" in text
    assert "settled after" in text


def test_cents_that_are_not_sure_are_no_number_to_paste() -> None:
    dying = struck(F1, 0.25, seconds=0.35, octaves=1.2, falls=0.06)
    out = io.StringIO()
    print_sound(measure_samples(dying, RATE, "kits/sub.wav"), out)
    text = " ".join(out.getvalue().split())
    assert "= F1, its cents not sure, 95 % sure of the note" in text
    assert "# how far off it is is not sure: tune it by ear cents = 0" in text


@pytest.mark.parametrize("width", [30, 40, 80])
def test_what_is_to_be_pasted_is_toml_however_narrow_the_terminal(width: int) -> None:
    """Remarks beside the values were broken into lines of their own, and were none."""
    out, path = io.StringIO(), "kits/a sub with quite a long name (final).wav"
    samples = struck(F1, 0.25, seconds=0.35, octaves=1.2, falls=0.06)
    print_sound(measure_samples(samples, RATE, path), out, width=width)
    pasted = out.getvalue().partition("[facts]")[2]
    assert tomllib.loads(pasted)["sound"] == path
    assert "# or -5, octaves aside," in " ".join(pasted.split())
