"""Chords as the settings and the command line state them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from basslint.cli.main import main
from basslint.errors import SettingsError
from basslint.report.formats.json_values import schema
from basslint.rulebook.notation import compile_beat
from basslint.settings.discovery import settings_for

SONG = "tempo 140\nkick | C2:1x4 |*8\nsub | D1:3.5 .:.5 | A#1:3.5 .:.5 |*4\n"


@pytest.fixture
def song(tmp_path: Path) -> Path:
    path = tmp_path / "beat.mid"
    path.write_bytes(compile_beat(SONG).data)
    return path


def stated(song: Path, toml: str) -> list[str]:
    (song.parent / "basslint.toml").write_text(toml, encoding="utf-8")
    return [str(line) for line in settings_for(song).facts.chords]


@pytest.mark.parametrize(
    ("toml", "expected"),
    [
        ('[facts]\nchords = "Dm Bb*2 C*1/2"', ["Dm Bb*2 C*1/2"]),
        ('[facts]\nchords = { from = "bar 5", chords = "Dm" }', ["from bar 5: Dm"]),
        ('[facts]\nchords = ["Dm Bb", { from = "bar 9", chords = "Gm" }]',
         ["Dm Bb", "from bar 9: Gm"]),
        ('[facts]\nchords = "C"\n[[song]]\nfiles = "*.mid"\nchords = "Dm Bb"', ["Dm Bb"]),
        ('[facts]\nchords = "C"\n[[song]]\nfiles = "*.mid"\nfacts = { chords = "Dm" }', ["Dm"]),
        ('[facts]\nchords = "C"\n[[song]]\nfiles = "other.mid"\nchords = "Dm Bb"', ["C"]),
    ],
)  # fmt: skip
def test_chords_of_a_settings_file(song: Path, toml: str, expected: list[str]) -> None:
    assert stated(song, toml) == expected


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ('"Dm H7 C"', "facts.chords: “H7”, chord 2 of 3, is no chord symbol"),
        ('["Dm", { from = "bar 9", chords = "Dm Xm" }]', "stretch 2: “Xm”, chord 2 of 2,"),
        ('{ from = "5", chords = "Dm" }', "“5” is no bar"),
        ('{ from = "bar 0", chords = "Dm" }', "“bar 0” is no bar"),
        ('["Dm", "Bb"]', "two stretches begin in bar 1"),
        ('{ form = "bar 5", chords = "Dm" }', "unknown key `form`"),
        ("7", "facts.chords is no line of chords"),
        ("[]", "states no chords"),
    ],
)
def test_a_chord_that_cannot_be_read_is_one_error_with_its_place(
    song: Path, value: str, said: str
) -> None:
    with pytest.raises(SettingsError) as caught:
        stated(song, f"[facts]\nchords = {value}\n")
    assert said in caught.value.message
    assert "basslint.toml" in caught.value.message
    assert caught.value.advice


def test_bar_lines_between_chords_are_not_needed(song: Path) -> None:
    with pytest.raises(SettingsError, match="Leave the bar lines out"):
        stated(song, '[facts]\nchords = "Dm | Bb"\n')


def test_chords_of_a_song_are_stated_once(song: Path) -> None:
    with pytest.raises(SettingsError, match="stated twice"):
        stated(song, '[[song]]\nfiles = "*.mid"\nchords = "D"\nfacts = { chords = "Dm" }\n')


def chart_of(song: Path, capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    assert main(["chart", str(song), "--format", "json", *words]) == 0
    told = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema("chart")).validate(told)
    return told


def test_the_command_line_wins_and_json_names_the_source(
    song: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (song.parent / "basslint.toml").write_text('[facts]\nchords = "C"\n', encoding="utf-8")
    told = chart_of(song, capsys, "--chords", "D Bb")
    assert [r["root"] for r in told["roots"]] == ["D", "Bb"] * 4
    assert {r["source"] for r in told["roots"]} == {"stated"}
    assert {r["quality"] for r in told["roots"]} == {None}
    assert {k["source"] for k in told["keys"]} == {"stated"}
    told = chart_of(song, capsys, "--chords", "Dm Bb")
    assert [r["quality"] for r in told["roots"]] == ["minor", "major"] * 4


def test_a_wrong_chord_on_the_command_line_is_wrong_use(
    song: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for command in ("check", "chart", "mend", "audition"):
        assert main([command, str(song), "--chords", "Dm H7"]) == 2
        assert "--chords: “H7”, chord 2 of 2," in capsys.readouterr().err


def test_settings_in_force_name_the_chords(song: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(song), "--show-settings", "--chords", "Dm Bb*2"]) == 0
    line = next(x for x in capsys.readouterr().out.splitlines() if "facts.chords" in x)
    assert '"Dm Bb*2"' in line and "the command line" in line


def test_chords_that_begin_after_the_song_are_told(
    song: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The song has eight bars: who stated chords is not told to state some as if they had not."""
    settings = song.parent / "basslint.toml"
    for first, told in ((9, True), (8, False)):
        line = f'[facts]\nchords = [{{ from = "bar {first}", chords = "Dm" }}]\n'
        settings.write_text(line, encoding="utf-8")
        main(["check", str(song)])
        printed = " ".join(capsys.readouterr().out.split())
        sentence = "the chords are stated from bar 9 on, and the song has 8 bars: none of them is"
        assert (sentence in printed) == told
