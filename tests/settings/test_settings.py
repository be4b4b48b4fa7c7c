"""What holds for a song: found above it, overridden by glob, checked, and said with its source."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
import soundfile
from settled import settled

from basslint.api import chart, check
from basslint.cli.main import main
from basslint.rulebook.loader import read_book
from basslint.settings.discovery import settings_for
from basslint.settings.display import settings_text
from basslint.settings.model import PartSound, Settings
from basslint.smf.chunks import Limits
from basslint.util.records import replace

BOOK = read_book()
SAMPLES = Path(__file__).parents[2] / "samples"

PAGE = """+++
name = "house-no-a"
level = "note"
judges = "bass-note"
summary = "A bass note is an A"
message = "{note_name} is an A."

[[when]]
note_name = "A1"
+++
## What you hear
An A.
"""


def test_without_a_file_the_defaults_hold(tmp_path: Path) -> None:
    assert settings_for(tmp_path / "a.mid") == Settings()


def test_the_nearest_file_above_holds(tmp_path: Path) -> None:
    inner = tmp_path / "beats"
    inner.mkdir()
    settled(tmp_path, 'gate = "note"')
    (inner / "basslint.toml").write_text('gate = "warning"')
    assert settings_for(inner / "deep" / "a.mid").gate == "warning"
    assert settings_for(tmp_path / "b.mid").gate == "note"


def test_everything_can_be_stated(tmp_path: Path) -> None:
    (tmp_path / "kits").mkdir()
    (tmp_path / "kits" / "sub.wav").touch()
    held = settled(
        tmp_path,
        """
        gate = "warning"
        middle_c = "C3"
        [facts]
        bass = "Sub"
        harmony = ["Keys", "#3"]
        key = "F# minor"
        decay = "600ms"
        bend_range = 12
        glide_time = "0.2s"
        one_shot = true
        sounds = { Sub = "kits/sub.wav" }
        [limits]
        max_bars = 400
        [rules]
        low-end = false
        too-low = { level = "note", on = true }
        """,
    )
    facts = held.facts
    assert (held.gate, held.middle_c, held.limits.max_bars) == ("warning", 3, 400)
    assert (facts.bass, facts.harmony) == (("Sub",), ("Keys", "#3"))
    assert (facts.decay_s, facts.bend_range, facts.glide_time_s) == (0.6, 12.0, 0.2)
    assert facts.key is not None and (facts.key.tonic, facts.key.mode) == (6, "minor")
    assert facts.one_shot
    assert held.part_sounds == (PartSound("Sub", str(tmp_path / "kits/sub.wav")),)


def test_songs_override_by_glob_in_order(tmp_path: Path) -> None:
    text = """
    gate = "error"
    [facts]
    decay = "600ms"
    key = "C major"
    [[song]]
    files = "beats/*.mid"
    facts = { decay = "2s" }
    [[song]]
    files = ["a.mid", "z*.mid"]
    gate = "note"
    facts = { decay = "3s" }
    """
    a, b = settled(tmp_path, text), settled(tmp_path, text, "beats/b.mid")
    other = settled(tmp_path, text, "old/b.mid")
    assert (a.gate, a.facts.decay_s) == ("note", 3.0)
    assert (b.gate, b.facts.decay_s) == ("error", 2.0)
    assert (other.gate, other.facts.decay_s) == ("error", 0.6)
    assert a.facts.key == other.facts.key is not None  # what is not overridden stays


def on(settings: Settings) -> dict[str, str]:
    return {rule.name: rule.level for rule in settings.choose(BOOK)}


def test_rules_are_turned_off_and_set_and_a_rule_beats_its_family(tmp_path: Path) -> None:
    rules = on(
        settled(
            tmp_path,
            """
            [rules]
            slide-off-scale = "note"   # said before its family, and holds all the same
            slides = false
            off-root = { level = "warning" }
            """,
        )
    )
    assert "slide-after-decay" not in rules
    assert rules["slide-off-scale"] == "note"
    assert rules["off-root"] == "warning"
    on_again = on(settled(tmp_path, "[rules]\nslide-off-scale = true\nslides = false\n"))
    assert "slide-off-scale" in on_again and "slide-after-decay" not in on_again
    assert on_again["slide-off-scale"] == on(Settings())["slide-off-scale"]  # its page's level


def test_a_rule_s_numbers_are_set(tmp_path: Path) -> None:
    rule = next(r for r in BOOK if r.parameters)
    name = rule.parameters[0].name
    held = settled(tmp_path, f"[rules]\n{rule.name} = {{ {name} = 0.125 }}\n")
    assert next(r for r in held.choose(BOOK) if r.name == rule.name).numbers[name] == 0.125


def test_an_edited_file_is_read_again(tmp_path: Path) -> None:
    assert settled(tmp_path, 'gate = "note"').gate == "note"
    assert settled(tmp_path, 'gate = "warning"').gate == "warning"


def test_house_rules_beside_the_settings_are_run(tmp_path: Path) -> None:
    (tmp_path / "rules").mkdir()
    (tmp_path / "rules" / "no-a.md").write_text(PAGE, encoding="utf-8")
    (tmp_path / "basslint.toml").write_text("")
    song = tmp_path / "a.mid"
    song.write_bytes((SAMPLES / "spilled-tea.mid").read_bytes())
    found = {f.rule: f for f in check(song).files[0].findings}
    assert found["house-no-a"].family == "house"


def test_waivers_reach_only_the_songs_they_speak_of(tmp_path: Path) -> None:
    text = "".join(
        f'[[waive]]\nrule = "off-root"\nsong = "{song}"\nreason = "{n}"\n'
        for n, song in enumerate(("beats/a.mid", "a.mid", "*.mid", "b.mid", "old/a.mid", "old/*"))
    )
    assert [w.reason for w in settled(tmp_path, text).waivers] == ["0", "1", "2"]
    assert [w.reason for w in settled(tmp_path, text, "c.mid").waivers] == ["2"]
    assert [w.reason for w in settled(tmp_path, text, "a.mid").waivers] == ["1", "2"]  # once each
    assert [w.reason for w in settled(tmp_path, text, "old/z.mid").waivers] == ["2", "5"]


def write_sound(path: Path, t60_s: float) -> None:
    """A sine of 55 Hz (A1) that falls by 60 dB in ``t60_s`` seconds: 10^(-3 t / T60)."""
    rate = 48_000
    time = np.arange(int(1.5 * rate)) / rate
    soundfile.write(path, 0.8 * np.sin(2 * np.pi * 55 * time) * 10 ** (-3 * time / t60_s), rate)


@pytest.mark.parametrize(
    ("facts", "decay"),
    [
        ('sound = "short.wav"', 0.5),
        ('sound = "short.wav"\ndecay = "3s"', 3.0),
        ('sound = "short.wav"\nsounds = { Sub = "long.wav" }', 1.0),
        ('sound = "short.wav"\nsounds = { Keys = "long.wav" }', 0.5),  # no bass part's
        ('decay = "3s"\nsounds = { sub = "long.wav" }', 1.0),
        ('sounds = { "Other" = "long.wav" }', None),
    ],
)
def test_the_sound_that_is_named_for_the_bass_part_wins(
    tmp_path: Path, facts: str, decay: float | None
) -> None:
    write_sound(tmp_path / "short.wav", 0.5)
    write_sound(tmp_path / "long.wav", 1.0)
    (tmp_path / "basslint.toml").write_text(f"[facts]\n{facts}\n")
    song = tmp_path / "a.mid"
    song.write_bytes((SAMPLES / "spilled-tea.mid").read_bytes())
    heard = chart(song).facts.decay_s
    assert heard == (decay if decay is None else pytest.approx(decay, rel=0.05))


def test_what_is_stated_later_overrules_sounds_stated_before(tmp_path: Path) -> None:
    (tmp_path / "x.wav").touch()
    sub = '{ file = "x.wav", root_key = "C3" }'
    held = settled(tmp_path, f'[facts]\ndecay = "3s"\nsounds = {{ Sub = {sub} }}\n')
    assert held.with_facts(decay_s=0.5).part_sounds == ()
    louder = held.with_facts(sound="y.wav")
    assert (louder.part_sounds, louder.facts.decay_s) == ((), None)
    assert held.with_facts(bend_range=12.0).part_sounds == held.part_sounds
    (kept,) = held.with_facts(root_key="C2").part_sounds
    assert (kept.part, kept.root_key) == ("Sub", None)


def test_settings_are_shown_with_their_sources(tmp_path: Path) -> None:
    held = settled(
        tmp_path,
        """
        gate = "warning"
        [facts]
        decay = "600ms"
        [[song]]
        files = "beats/*.mid"
        facts = { key = "A minor" }
        [[waive]]
        rule = "off-root"
        song = "a.mid"
        reason = "It is a pedal."
        """,
    ).with_facts(decay_s=0.9)
    song = tmp_path / "beats/a.mid"
    lines = settings_text(song, held, held.choose(BOOK)).splitlines()
    told = {line.split("=")[0].strip(): line for line in lines if "=" in line}
    file = str(tmp_path / "basslint.toml")
    assert f"settings from {file}" in lines[1]
    assert '"warning"' in told["gate"] and told["gate"].endswith(file)
    assert '"900ms"' in told["facts.decay"] and told["facts.decay"].endswith("the command line")
    assert told["facts.key"].endswith(f"{file}, song beats/*.mid")
    assert re.search(r"= not stated +default$", told["facts.bass"])
    assert any("It is a pedal." in line for line in lines)
    assert any("off-root" in line and "rules run on it" in line for line in lines)


def test_what_nobody_stated_is_shown_as_such_in_columns(tmp_path: Path) -> None:
    plain = Settings()
    lines = settings_text(tmp_path / "a.mid", plain, plain.choose(BOOK)[:1]).splitlines()
    assert lines[1] == "  no settings file above it"
    assert lines[-1].startswith("  1 rule runs on it: ")
    rows = [line for line in lines if " = " in line]
    assert {line.split(" = ")[0].strip(): line.split(" = ")[1].split("  ")[0] for line in rows}[
        "facts.transpose"
    ] == "not stated"
    assert len({line.index(" = ") for line in rows}) == 1
    assert len({line.rindex("default") for line in rows}) == 1
    strict = settings_text(tmp_path / "a.mid", replace(plain, most_unjudged=0.25), ())
    assert re.search(r"strict += \{ most_unjudged = 0.25 \}", strict)
    assert re.search(r"strict += false", "\n".join(lines))


def test_the_settings_that_the_readme_shows_are_valid(tmp_path: Path) -> None:
    readme = (SAMPLES.parent / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r"^```toml\n(.*?)^```", readme, re.M | re.S)
    whole = next(text for text in shown if text.startswith("gate"))
    (tmp_path / "kits").mkdir()
    for sound in set(re.findall(r"kits/\w+\.wav", whole)):
        (tmp_path / sound).touch()
    held = settled(tmp_path, whole, "drafts/a.mid")
    assert held.gate == "warning" and held.facts.decay_s == 2.0
    rules = {rule.name: rule for rule in held.choose(BOOK)}
    assert "no-tempo" in rules and "no-meter" not in rules
    assert (
        rules["late-change"].level == "error" and rules["late-change"].numbers["most_late"] == 0.75
    )
    waiver = next(text for text in shown if text.startswith("[[waive]]"))
    assert settled(tmp_path, waiver, "beats/night-bus.mid").waivers[0].part == "Sub"


@pytest.mark.parametrize("key", [f.name for f in fields(Limits)])
def test_a_limit_may_be_as_high_as_one_likes(
    key: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    song = tmp_path / "a.mid"
    song.write_bytes((SAMPLES / "spilled-tea.mid").read_bytes())
    said = []
    for text in ("", f"[limits]\n{key} = {2**70}\n"):
        (tmp_path / "basslint.toml").write_text(text)
        assert main(["check", str(song)]) == 1
        assert main(["mend", "--dry-run", str(song)]) == 0
        said.append(capsys.readouterr())
    assert said[0] == said[1]


def test_the_limits_in_force_are_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.mid").write_bytes((SAMPLES / "spilled-tea.mid").read_bytes())
    (tmp_path / "basslint.toml").write_text("[limits]\nmax_bars = 77\n")
    assert main(["check", "--show-settings", "--only", "off-root", str(tmp_path / "a.mid")]) == 0
    told = capsys.readouterr().out
    lines = {x.split("=")[0].strip(): x for x in told.splitlines() if "=" in x}
    assert "77" in lines["limits.max_bars"] and "basslint.toml" in lines["limits.max_bars"]
    assert lines["limits.max_events"].endswith("default")
    assert "1 rule runs on it: off-root" in told
