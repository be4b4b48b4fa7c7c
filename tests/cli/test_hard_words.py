"""What a strict maintainer tries: odd numbers, names, streams and files. Each ends in a sentence
of basslint's own and exit code 2, never in a fault."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from basslint.api import check
from basslint.cli.main import main

SAMPLES = Path(__file__).parents[2] / "samples"
DIGITS = "1" * 5000


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with one song, in which the tests stand."""
    folder = tmp_path / "here"
    folder.mkdir()
    (folder / "a.mid").write_bytes((SAMPLES / "spilled-tea.mid").read_bytes())
    monkeypatch.chdir(folder)
    return folder


def told(capfd: pytest.CaptureFixture[str], words: list[str], code: int = 2) -> str:
    """What the command complains of; it must do so in two short lines."""
    assert main(words) == code, capfd.readouterr()
    err = capfd.readouterr().err
    assert err.startswith("basslint: ") and len(err.splitlines()) == 2 and len(err) < 1000, err
    return err


@pytest.mark.parametrize("number", ["²", "5-²", DIGITS, f"1-{DIGITS}", "#²", "-1", "8-5", "0"])
@pytest.mark.parametrize(
    "words",
    [
        ["audition", "a.mid", "--output", "o.wav", "--bars"],
        ["check", "a.mid", "--jobs"],
        ["check", "a.mid", "--shard"],
        ["waive", "a.mid", "off-root", "--reason", "x", "--bar"],
        ["chart", "a.wav", "--bars"],
        ["check", "a.mid", "--bass"],
        ["check", "a.mid", "--root-key"],
        ["check", "a.mid", "--chords"],
    ],
)
def test_odd_numbers_are_refused(
    words: list[str], number: str, here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    told(capfd, [*words[:-1], f"{words[-1]}={number}"])


@pytest.mark.parametrize("number", ["#²", f"#{DIGITS}", "#0"])
def test_no_part_has_an_odd_number(
    number: str, here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert "has no part" in told(capfd, ["check", "a.mid", "--bass", number])


@pytest.mark.parametrize("option", ["--decay", "--glide-time"])
@pytest.mark.parametrize("time", [f"{DIGITS}ms", "3601s", "²s", "0s"])
def test_a_time_is_one_that_sounds_can_last(
    option: str, time: str, here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert option in told(capfd, ["check", "a.mid", option, time])


SETTINGS = [
    f"[limits]\nmax_bytes = {DIGITS}",
    f"[limits]\nmax_bytes = 0x{'f' * 5000}",
    "[limits]\nmax_seconds = 1e400",
    f"[facts]\ncents = {DIGITS}",
    f'[facts]\nbass = "#{DIGITS}"',
    '[facts]\nbass = "#²"',
    f'[facts]\nkey = "{DIGITS}"',
    f'[[waive]]\nrule = "off-root"\nsong = "a.mid"\nreason = "x"\nbars = "{DIGITS}"',
    '[[waive]]\nrule = "off-root"\nsong = "a.mid"\nreason = "x"\nbars = "²"',
    '[[waive]]\nrule = "off-root"\nsong = "a.mid"\nreason = "x"\nbars = "3-²"',
    "[" + "a." * 300_000 + "a]",
    "x = " + "[" * 300_000,
    "x = " + "{a = " * 100_000,
    f"{'k' * 300_000} = 1",
    "[rules]\nslide-after-decay = { floor_db = 0.0 }",
    "[rules]\nslide-after-decay = { floor_db = 12 }",
    "gate = \x00",
    'gate = "error"' + "\n#" * 600_000,
]


@pytest.mark.parametrize("text", SETTINGS)
def test_odd_settings_are_refused(text: str, here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (here / "basslint.toml").write_text(text, encoding="utf-8")
    told(capfd, ["check", "a.mid"])


def test_a_house_page_whose_floor_is_not_below_zero_is_refused(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    page = (SAMPLES.parent / "rules" / "slides" / "slide-after-decay.md").read_text("utf-8")
    (here / "rules").mkdir()
    (here / "basslint.toml").write_text("")
    house = here / "rules" / "slide-after-decay.md"
    for floor in ("0", "3.5"):
        house.write_text(page.replace("default = -24.0", f"default = {floor}"), encoding="utf-8")
        assert house.read_text("utf-8") != page
        assert "`floor_db` lies below 0" in told(capfd, ["check", "a.mid"])


RATE = 44_100
SOUNDS = {
    "constant": np.full(RATE, 0.5),
    "huge": np.full(RATE, 3e38),
    "beyond": np.full(RATE, 1.7e308),
    "loud": 1e30 * np.sin(np.arange(RATE) / 100),
}


@pytest.mark.parametrize("name", SOUNDS)
@pytest.mark.parametrize("command", ["sound", "chart", "check", "audition"])
def test_sounds_that_are_none_are_refused(
    command: str, name: str, here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    subtype = "DOUBLE" if name == "beyond" else "FLOAT"
    soundfile.write(here / "s.wav", SOUNDS[name], RATE, subtype=subtype)
    if command == "audition":
        words = ["audition", "a.mid", "--output", "o.wav", "--sound", "s.wav"]
    else:
        words = ["check", "a.mid", "--sound", "s.wav"] if command == "check" else [command, "s.wav"]
    err = told(capfd, words)
    assert "silent" in err if name == "constant" else "full scale" in err


def test_more_channels_than_interfaces_have_are_not_read(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    soundfile.write(here / "s.wav", np.zeros((4000, 200)), 8000)
    assert "200 channels" in told(capfd, ["sound", "s.wav"])


LONG = "n" * 256


@pytest.mark.parametrize(
    "words",
    [
        ["check", "a.mid", "--output", LONG],
        ["check", "a.mid", "--output", f"{LONG}/"],
        ["check", f"{LONG}.mid"],
        ["check", "a.mid", "--settings", LONG],
        ["check", "a.mid", "--sound", LONG],
        ["check", "a.mid", "--loop", LONG],
        ["check", "a.mid", "--output", f"no/{LONG}"],
        ["chart", LONG],
        ["mend", "a.mid", "--output", LONG],
        ["sound", LONG],
        ["merge", LONG],
        ["chart", "a.mid", "--guide", "\ud800.mid"],
        ["check", "\ud800.mid"],
    ],
)
def test_names_that_no_system_takes_are_refused(
    words: list[str], here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    told(capfd, words)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="names of any bytes")
def test_a_name_that_is_not_utf8_is_left_out_and_stops_no_other_song(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    odd = os.fsdecode(b"b\xff.mid")
    (here / odd).write_bytes((here / "a.mid").read_bytes())
    err = told(capfd, ["waive", odd, "off-root", "--reason", "x"])
    assert "not UTF-8" in err and r"b\udcff.mid" in err
    assert main(["accept", ".", "--reason", "x"]) == 2
    out, err = capfd.readouterr()
    assert "waivers added" in out and r"b\udcff.mid: its name is not UTF-8" in err
    assert 'song = "a.mid"' in (here / "basslint.toml").read_text("utf-8")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="names of any bytes")
def test_a_song_whose_name_is_not_utf8_is_mended_and_told_as_json(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    odd = os.fsdecode(b"b\xff.mid")
    (here / "a.mid").rename(here / odd)
    assert main(["mend", odd, "--format", "json"]) == 0
    told_of = json.loads(capfd.readouterr().out)
    assert (told_of["path"], told_of["written"]) == (odd, os.fsdecode(b"b\xff.mended.mid"))
    assert (here / told_of["written"]).is_file()


def process(words: list[str], **streams: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "basslint", *words]
    buffered = {k: v for k, v in os.environ.items() if k != "PYTHONUNBUFFERED"}
    streams = {"env": buffered, "stderr": subprocess.PIPE, **streams}
    return subprocess.run(command, text=True, check=False, **streams)  # type: ignore[call-overload]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
@pytest.mark.parametrize(
    "words",
    [
        ["check", "a.mid"],
        ["check", "a.mid", "--format", "json"],
        ["rules"],
        ["--help"],
        ["check", "--help"],
        ["--version"],
    ],
)
def test_a_report_that_cannot_be_written_is_no_success(words: list[str], here: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = process(words, stdout=full)
    assert done.returncode == 2
    assert done.stderr.startswith("basslint: Standard output cannot be used: No space left")
    assert len(done.stderr.splitlines()) == 2


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
@pytest.mark.parametrize(
    "words",
    [["check", "nope.mid"], ["check", "nope.mid", "--debug"], ["chek"], ["check", "--no-such"]],
)
def test_wrong_use_is_told_by_the_exit_code_where_nothing_can_be_said(
    words: list[str], here: Path
) -> None:
    with Path("/dev/full").open("w") as full:
        assert process(words, stderr=full).returncode == 2


@pytest.mark.skipif(os.name != "posix", reason="descriptors of POSIX")
def test_streams_that_are_closed(here: Path) -> None:
    done = process(["check", "a.mid"], preexec_fn=lambda: os.close(1))
    assert done.returncode == 2 and "Standard output cannot be used: it is closed" in done.stderr
    assert process(["--help"], preexec_fn=lambda: os.close(1)).returncode == 2
    assert process(["check", "a.mid"], preexec_fn=lambda: os.closerange(1, 3)).returncode == 2
    done = process(["check", "a.mid", "--output", "r.txt"], preexec_fn=lambda: os.close(1))
    assert done.returncode == 1 and "a.mid" in (here / "r.txt").read_text("utf-8")


def test_a_byte_order_mark_and_line_ends_of_windows_are_kept(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    before = b'\xef\xbb\xbf# ours\r\ngate = "warning"\r\n'
    (here / "basslint.toml").write_bytes(before)
    assert main(["waive", "a.mid", "off-root", "--reason", "x"]) == 0
    after = (here / "basslint.toml").read_bytes()
    assert after.startswith(before + b"\r\n[[waive]]\r\n")
    assert after.count(b"\n") == after.count(b"\r\n")
    assert main(["check", "a.mid", "--only", "off-root"]) == 0
    capfd.readouterr()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[rules]\noff-rot = false", "other.toml: [rules.off-rot] names no rule"),
        ("[rules]\noff-root = { most = 1 }", "other.toml: off-root has no parameter “most”"),
        ('[[waive]]\nrule = "x"\nsong = "a.mid"\nreason = "b"', "other.toml: a waiver of “x”"),
        ('[rules]\noff-root = "eror"', "error, warning, note, not “eror”.\nDid you mean error?"),
    ],
)
def test_settings_are_called_by_their_name(
    text: str, said: str, here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (here / "other.toml").write_text(text, encoding="utf-8")
    err = told(capfd, ["check", "a.mid", "--settings", "other.toml"])
    assert said in err and "basslint.toml" not in err


def test_settings_that_are_shown_come_from_the_file_that_was_named(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (here / "other.toml").write_text('gate = "note"')
    (here / "basslint.toml").write_text('gate = "error"')
    assert main(["check", "a.mid", "--settings", "other.toml", "--show-settings"]) == 0
    out = capfd.readouterr().out
    assert "settings from other.toml" in out and "basslint.toml" not in out


@pytest.mark.parametrize(
    ("glob", "told"),
    [
        ("drafts/*.mid", (".", "beats", "a.mid")),  # no such folder, whichever songs are in the run
        ("beats/y.mid", (".", "beats", "a.mid")),
        ("beats/y*.mid", (".",)),  # others below the folder may be called so
        ("y.mid", (".",)),
        ("*drafts/*.mid", ()),
        ("beats/drafts/*.mid", ()),
        ("x.mid", ()),
    ],
)
def test_a_table_of_songs_that_names_none_is_told(
    glob: str, told: tuple[str, ...], here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    deep = here / "beats" / "drafts"
    deep.mkdir(parents=True)
    (deep / "x.mid").write_bytes((here / "a.mid").read_bytes())
    (here / "basslint.toml").write_text(f'[[song]]\nfiles = ["{glob}"]\ngate = "warning"\n')
    for path in (".", "beats", "a.mid"):
        for _ in range(2):  # anew, and from the cache
            main(["check", path, "--format", "json"])
            remarks = json.loads(capfd.readouterr().out)["remarks"]
            said = any(f"files = {glob} names no song" in remark for remark in remarks)
            assert said == (path in told)


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ('[[waive]]\nrule = "off-root"\nreason = "x"\nsong = "xx.mid"', "Did you mean “x.mid”?"),
        (
            '[[waive]]\nrule = "off-root"\nreason = "x"\nsong = "nix/*.mid"',
            "[[waive]] song = “nix/*",
        ),
        (
            '[[waive]]\nrule = "too-low"\nreason = "x"\nsong = "drafts/y.mid"',
            "mean “drafts/x.mid”?",
        ),
        ('[[waive]]\nrule = "off-root"\nreason = "x"\nsong = "x.mid"', ""),
        ('together = ["nix/*.mid"]', "together = “nix/*.mid” names none"),
        ('together = ["x.mid"]', "together = “x.mid” names none"),  # its path is drafts/x.mid
        ('together = ["drafts/*.mid"]\nbegins = { "x.mid" = "bar 2" }', ""),
        ('begins = { "y.mid" = "bar 2" }', "begins = “y.mid” names none"),
    ],
)
def test_what_speaks_of_no_song_is_told_once_all_were_checked(
    table: str, says: str, here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (here / "drafts").mkdir()
    (here / "drafts" / "x.mid").write_bytes((here / "a.mid").read_bytes())
    (here / "basslint.toml").write_text(table + "\n")
    for words, whole in ((["check", "."], True), (["check", "drafts"], False)):
        main([*words, "--format", "json"])
        remarks = json.loads(capfd.readouterr().out)["remarks"]
        told = [remark for remark in remarks if "names none of the songs" in remark]
        assert len(told) == (whole and bool(says))
        assert all(says in remark for remark in told)
    said = [r for r in check(".").remarks if "names none of the songs" in r]
    assert len(said) == bool(says)


def test_a_waiver_that_would_be_over_is_not_written(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    err = told(capfd, ["waive", "a.mid", "off-root", "--reason", "x", "--until", "2020-01-31"])
    assert "--until: 2020-01-31 has passed" in err
    assert not (here / "basslint.toml").exists()


def test_a_lesson_on_a_file_takes_what_is_stated_of_it(
    here: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    words = ["explain", "off-root", "a.mid", "--bass", "Sub", "--key", "A minor", "--decay", "1s"]
    assert main(words) == 0
    assert "--bass" in told(capfd, [*words[:3], "--bass", "Tuba"])
