"""How is the sampler's tuning stated: on the command line, in the settings, by the sound itself?"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from basslint.api import chart, check
from basslint.cli.main import main
from basslint.errors import SettingsError, UsageError
from basslint.hear.facts import parse_pitch
from basslint.rulebook.notation import compile_beat
from basslint.settings.display import settings_text
from basslint.settings.run_options import RunOptions

RATE = 44_100
BEAT = """tempo 140
keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*2
sub  | A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |*2
"""


def with_key(sound: Path, unity: int, fraction: float = 0.0) -> None:
    """Give a WAVE file a sampler chunk that states a root key."""
    part = round(fraction * 2**32).to_bytes(4, "little")
    body = bytes(12) + unity.to_bytes(4, "little") + part + bytes(16)
    raw = sound.read_bytes() + b"smpl" + len(body).to_bytes(4, "little") + body
    sound.write_bytes(raw[:4] + (len(raw) - 8).to_bytes(4, "little") + raw[8:])


def kit(folder: Path, facts: str = "", unity: int | None = None, fraction: float = 0.0) -> Path:
    """A song, a one-shot that sounds F#1, and settings that name it."""
    time = np.arange(RATE) / RATE
    wave = 0.9 * np.sin(2 * np.pi * 46.249 * time) * 10 ** (-3 * time)  # F#1, ISO 16
    soundfile.write(str(folder / "sub.wav"), wave, RATE)
    if unity is not None:
        with_key(folder / "sub.wav", unity, fraction)
    (folder / "basslint.toml").write_text(f'[facts]\nsound = "sub.wav"\n{facts}', "utf-8")
    (folder / "beat.mid").write_bytes(compile_beat(BEAT).data)
    return folder / "beat.mid"


def told(song: Path) -> dict[str, str]:
    return {f.rule: f.level for f in check(song).files[0].findings}


@pytest.mark.parametrize(
    ("facts", "unity", "level"),
    [
        ('root_key = "F#1"', None, None),
        ('root_key = "C3"', None, "error"),
        ('root_key = "C1"\ntranspose = -6', None, None),
        ('root_key = "F#3"', None, "warning"),
        ("", 30, None),
        ("", 36, "error"),
        ("", 60, "warning"),
        ('root_key = "F#1"', 60, None),
        ("", None, "note"),
    ],
)
def test_a_sampler_off_its_key_is_told_as_surely_as_the_key_is_known(
    tmp_path: Path, facts: str, unity: int | None, level: str | None
) -> None:
    found = told(kit(tmp_path, facts, unity))
    assert found.get("sampler-off-key") == level
    assert not set(found) - {"sampler-off-key"}


@pytest.mark.parametrize(
    ("facts", "level"),
    [
        ('sounds = { Sub = { file = "sub.wav", root_key = "F#1" } }', None),
        ('sounds = { Sub = { file = "sub.wav", root_key = "C3" } }', "error"),
        ('root_key = "C3"\nsounds = { Sub = { file = "sub.wav", root_key = "F#1" } }', None),
        ('root_key = "F#1"\nsounds = { Sub = "sub.wav" }', None),
    ],
)
def test_a_sound_of_a_part_has_a_root_key_of_its_own(
    tmp_path: Path, facts: str, level: str | None
) -> None:
    """It wins over the one for all and over the file's; without one, theirs hold."""
    song = kit(tmp_path, facts, unity=60)
    assert told(song).get("sampler-off-key") == level
    shown = settings_text(song, RunOptions().settings_of(song), ())
    assert ('root_key = "C3" }' in shown) == (level == "error")


def test_a_root_key_on_the_command_line_wins_over_that_of_a_sound(tmp_path: Path) -> None:
    song = kit(tmp_path, 'sounds = { Sub = { file = "sub.wav", root_key = "C3" } }')
    settings = RunOptions(root_key="F#1").settings_of(song)
    assert chart(song, settings).tuning.off == 0


def test_the_command_line_wins_and_speaks_of_the_same_middle_c(tmp_path: Path) -> None:
    song = kit(tmp_path, 'root_key = "C3"')
    settings = RunOptions(root_key="F#1").settings_of(song)
    assert chart(song, settings).tuning.off == 0
    (tmp_path / "basslint.toml").write_text('middle_c = "C3"\n[facts]\nroot_key = "C3"\n', "utf-8")
    assert RunOptions().settings_of(song).facts.root_key == 60
    assert RunOptions(root_key="F#0").settings_of(song).facts.root_key == 30


def test_what_a_sound_gives_to_paste_means_its_own_pitch_by_any_middle_c(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    song = kit(tmp_path)
    for middle_c, own in (("C4", "F#1"), ("C3", "F#0")):
        named = f'middle_c = "{middle_c}"\n'
        (tmp_path / "basslint.toml").write_text(named, "utf-8")
        assert main(["sound", str(tmp_path / "sub.wav")]) == 0
        (line,) = (x for x in capsys.readouterr().out.split("\n") if "root_key" in x)
        assert line.split() == ["root_key", "=", f'"{own}"']
        (tmp_path / "basslint.toml").write_text(f"{named}[facts]\n{line}\n", "utf-8")
        assert RunOptions().settings_of(song).facts.root_key == 30


def swell(folder: Path, seconds: float | None = None) -> None:
    """Noise in place of the one-shot: it never falls, or by 60 dB in so many seconds."""
    time = np.arange(RATE) / RATE
    wave = np.random.default_rng(7).normal(size=RATE) * 0.2
    wave *= 1.0 if seconds is None else 10 ** (-3 * time / seconds)
    soundfile.write(str(folder / "sub.wav"), wave, RATE)


@pytest.mark.parametrize(
    ("facts", "seconds", "says"),
    [
        ("", None, "Neither pitch nor decay could be measured in sub.wav"),
        ('decay = "2s"', None, "No pitch could be measured in sub.wav"),
        ("", 0.5, "No pitch could be measured in sub.wav"),
        ('root_key = "C3"', 0.5, "the root key says nothing"),
    ],
)
def test_a_sound_that_says_nothing_is_told(
    tmp_path: Path, facts: str, seconds: float | None, says: str
) -> None:
    song = kit(tmp_path, facts)
    assert check(song).files[0].warnings == ()
    swell(tmp_path, seconds)
    (warning,) = check(song).files[0].warnings
    assert says in warning and "`basslint sound" in warning


def test_a_root_key_without_a_sound_is_told(tmp_path: Path) -> None:
    song = kit(tmp_path)
    (tmp_path / "basslint.toml").write_text('[facts]\nroot_key = "C3"\n', "utf-8")
    (warning,) = check(song).files[0].warnings
    assert "A root key is stated and no sound" in warning


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ('sounds = { Reese = "sub.wav" }', "no part of this song is called Reese"),
        ('sounds = { keys = "sub.wav" }', "keys is not heard as bass"),
        ('sounds = { Reese = "sub.wav", keys = "sub.wav" }', "keys is not heard as bass"),
        ('root_key = "C3"\nsounds = { Reese = "sub.wav" }', "no part of this song is called"),
        ('sounds = { Reese = "sub.wav", sub = "sub.wav" }', None),  # one is another song's
        ('sounds = { "#2" = "sub.wav" }', None),
    ],
)
def test_a_sound_named_for_no_bass_of_the_song_is_told(
    tmp_path: Path, facts: str, says: str | None
) -> None:
    song = kit(tmp_path)
    (tmp_path / "basslint.toml").write_text(f"[facts]\n{facts}\n", "utf-8")
    warnings = check(song).files[0].warnings
    if says is None:
        assert warnings == ()
        return
    (warning,) = warnings
    assert says in warning and "Its bass is sub" in warning and "facts.sounds" in warning


def test_advice_that_was_taken_is_not_given_again(tmp_path: Path) -> None:
    """A slide asks for the decay: a sound without one was named already."""
    song = kit(tmp_path)
    slid = BEAT.replace("A1:3.5 .:.5 | F1", "A1:4~.5 | F1", 1)
    song.write_bytes(compile_beat(slid).data)
    swell(tmp_path)
    unjudged = check(song).files[0].unjudged
    (said,) = {u.reason for u in unjudged if u.rule == "slide-after-decay"}
    assert "no decay could be measured in sub.wav" in said
    assert said.endswith("state it with --decay")


def test_the_sound_carries_its_cents(tmp_path: Path) -> None:
    facts = chart(kit(tmp_path, "cents = 14")).facts
    assert facts.sound_pitch == pytest.approx(30, abs=0.03)
    assert facts.sound_cents == pytest.approx(14, abs=3)


def test_a_root_key_between_two_keys_takes_the_cents_from_the_sound(tmp_path: Path) -> None:
    """A one-shot 30 cents sharp whose file says so plays in tune."""
    song = kit(tmp_path, unity=30, fraction=0.3)
    time = np.arange(RATE) / RATE
    wave = 0.9 * np.sin(2 * np.pi * 46.249 * 2 ** (0.3 / 12) * time) * 10 ** (-3 * time)
    assert chart(song).facts.sound_cents == pytest.approx(-30, abs=1)
    soundfile.write(str(tmp_path / "sub.wav"), wave, RATE)
    assert chart(song).facts.sound_cents == pytest.approx(30, abs=1)
    with_key(tmp_path / "sub.wav", 30, 0.3)
    assert chart(song).facts.sound_cents == pytest.approx(0, abs=1)
    assert not told(song)


def test_cents_that_are_not_sure_are_judged_by_no_rule(tmp_path: Path) -> None:
    """A drop that goes on as the sound dies tells its note and not its cents."""
    song = kit(tmp_path, 'root_key = "F#1"')
    time = np.arange(int(0.35 * RATE)) / RATE
    hz = 46.249 * 2 ** (0.2 / 12) * 2 ** (1.2 * np.exp(-time / 0.06))
    wave = 0.9 * np.sin(2 * np.pi * np.cumsum(hz) / RATE) * 10 ** (-3 * time / 0.25)
    soundfile.write(str(tmp_path / "sub.wav"), wave, RATE)
    facts = chart(song).facts
    assert facts.sound_pitch == pytest.approx(30.2, abs=0.2)
    assert facts.sound_cents is None and facts.sound_is_rough
    file = check(song).files[0]
    assert "sound-off-pitch" not in {f.rule for f in file.findings}
    (reason,) = {u.reason for u in file.unjudged if u.rule == "sound-off-pitch"}
    assert "cents" in reason


@pytest.mark.parametrize(
    "facts",
    ['root_key = "H2"', "root_key = 30", "transpose = 100", 'cents = "10"', 'root_key = "C99"'],
)  # fmt: skip
def test_what_is_no_tuning_is_refused(tmp_path: Path, facts: str) -> None:
    song = kit(tmp_path, facts)
    with pytest.raises(SettingsError) as caught:
        check(song)
    assert "facts." in caught.value.message


@pytest.mark.parametrize(
    ("text", "middle_c", "pitch"), [("C4", 4, 60), ("C3", 3, 60), ("F#1", 4, 30), ("Bb0", 4, 22)]
)
def test_a_key_is_read(text: str, middle_c: int, pitch: int) -> None:
    assert parse_pitch(text, "--root-key", middle_c) == pitch


@pytest.mark.parametrize("text", ["", "H1", "C", "C-9", "G9#", "C10"])
def test_what_is_no_key_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="--root-key"):
        parse_pitch(text, "--root-key")
