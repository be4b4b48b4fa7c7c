"""What scripts rely on: exit codes, clean output, two plain lines for every mistake."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

import basslint.judging.judge
from basslint.cli.main import main
from basslint.cli.options import CHECK_FORMATS

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "samples"
OFF = SAMPLES / "spilled-tea.mid"  # has errors
CLEAN = SAMPLES / "stairwell.mid"


@pytest.fixture
def beats(tmp_path: Path) -> Path:
    """A folder with a song that has errors, a clean one and a damaged one."""
    folder = tmp_path / "beats"
    folder.mkdir()
    (folder / "b-off.mid").write_bytes(OFF.read_bytes())
    (folder / "c-clean.MID").write_bytes(CLEAN.read_bytes())
    (folder / "a-cut.midi").write_bytes(OFF.read_bytes()[:300])
    (folder / "notes.txt").write_text("no beat")
    return folder


def run(
    *words: str | Path, encoding: str = "utf-8", env: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "basslint", *map(str, words)],
        capture_output=True,
        encoding=encoding,
        env=env,
    )


def is_json(text: str) -> bool:
    return isinstance(json.loads(text), dict)


def is_html(text: str) -> bool:
    return text.startswith("<!doctype html>") and text.rstrip().endswith("</html>")


WHOLE = {
    "json": is_json,
    "sarif": is_json,
    "junit": lambda t: ElementTree.fromstring(t).tag == "testsuites",
    "html": is_html,
    "markdown": lambda t: t.startswith("### basslint: "),
    "text": lambda t: " checked" in t.splitlines()[-1] and "\x1b" not in t,
}


@pytest.mark.parametrize("name", CHECK_FORMATS)
def test_piped_output_is_the_format_and_nothing_else(name: str, beats: Path) -> None:
    done = run("check", beats, "--format", name)
    assert WHOLE[name](done.stdout)
    assert done.stderr == ""
    assert done.returncode == 2  # one file is cut


@pytest.mark.parametrize("name", CHECK_FORMATS)
@pytest.mark.parametrize(
    ("song", "gate", "code"),
    [(CLEAN, "error", 0), (OFF, "error", 1), (OFF, "note", 1), ("cut", "error", 2)],
)
def test_the_exit_code_is_the_same_for_every_format(
    name: str,
    song: Path | str,
    gate: str,
    code: int,
    tmp_path: Path,
    capfd: pytest.CaptureFixture[str],
) -> None:
    if song == "cut":
        song = tmp_path / "cut.mid"
        song.write_bytes(OFF.read_bytes()[:300])
    for _ in range(2):  # fresh, then from the cache
        assert main(["check", str(song), "--format", name, "--gate", gate]) == code
    capfd.readouterr()


@pytest.mark.parametrize("name", CHECK_FORMATS)
def test_a_crashed_rule_is_3_and_the_rest_is_still_reported(
    name: str, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    real = basslint.judging.judge.hits_and_gaps

    def crash(rule, columns):
        if rule.name == "off-root":
            raise KeyError("seven")
        return real(rule, columns)

    monkeypatch.setattr(basslint.judging.judge, "hits_and_gaps", crash)
    for _ in range(2):  # a fault is never cached
        assert main(["check", str(OFF), "--format", name]) == 3
    told = capfd.readouterr().out
    assert "off-root failed" in told and "slide-off-scale" in told


def test_the_gate_of_each_song_s_settings_holds(
    beats: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (beats / "a-cut.midi").unlink()
    settings = beats / "basslint.toml"
    assert main(["check", str(beats)]) == 1
    settings.write_text('[[song]]\nfiles = "b-*"\n[song.rules]\n' + all_off())
    assert main(["check", str(beats)]) == 0
    settings.write_text(all_notes())
    assert main(["check", str(beats)]) == 0
    settings.write_text('gate = "note"\n' + all_notes())
    assert main(["check", str(beats)]) == 1
    assert main(["check", str(beats), "--gate", "error"]) == 0  # the command line wins
    capfd.readouterr()


def families() -> list[str]:
    return sorted(p.name for p in (ROOT / "rules").iterdir() if p.is_dir())


def all_off() -> str:
    return "".join(f"{name} = false\n" for name in families())


def all_notes() -> str:
    return "[rules]\n" + "".join(f'{name} = "note"\n' for name in families())


def test_a_damaged_file_is_listed_and_stops_nothing(
    beats: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(beats), "--format", "json"]) == 2
    files = json.loads(capfd.readouterr().out)["files"]
    assert [Path(f["path"]).name for f in files] == ["a-cut.midi", "b-off.mid", "c-clean.MID"]
    assert [f["status"] for f in files] == ["unreadable", "checked", "checked"]
    assert files[0]["problem"]["message"] and files[1]["findings"]


def test_output_goes_to_the_file_whole(beats: Path, capfd: pytest.CaptureFixture[str]) -> None:
    target = beats / "report.json"
    assert main(["check", str(OFF), "--format", "json", "--output", str(target)]) == 1
    assert capfd.readouterr().out == ""
    assert is_json(target.read_text(encoding="utf-8"))
    assert main(["check", str(OFF), "--output", str(beats / "none" / "x.txt")]) == 2
    assert "could not be written" in capfd.readouterr().err


MISTAKES = [
    (["--gate", "note", "check", OFF], "note", "--help"),
    (["--strict", "check", OFF], "Unknown option --strict", "after the command"),
    (["check", OFF, "--gat", "note"], "Unknown option --gat", "Did you mean --gate?"),
    (["check", OFF, "--format", "sariff"], "sariff", "Did you mean sarif?"),
    (["chek", OFF], "chek", "Did you mean check?"),
    (["check"], "PATH", "--help"),
    (["check", "--verion"], "Unknown option --verion", "Did you mean `basslint --version`?"),
    (["--verion"], "Unknown option --verion", "Did you mean `basslint --version`?"),
    (["waive", OFF, "--reson", "x"], "Unknown option --reson", "Did you mean --reason?"),
    (["mend", OFF, "--output", "-", "--format", "json"], "song or its account", "leave --format"),
    (["chart", OFF, "--guide", "-"], "takes the chart", "Name a file"),
    (
        ["check", OFF, "--only", "off-root,fills"],
        "no rule or family “off-root,fills”",
        "Give the option once for each: `--only RULE --only RULE`.",
    ),
    (["check", OFF, "--only", "off-rot"], "no rule or family “off-rot”", "Did you mean off-root?"),
    (
        ["check", OFF, "--without", "off-rot"],
        "no rule or family “off-rot”",
        "Did you mean off-root?",
    ),
    (["check", OFF, "--bass", "Subb"], "no part “Subb”", "Did you mean “Sub”?"),
    (["check", OFF, "--harmony", "#99"], "no part “#99”", "Its parts: #1"),
    (["check", OFF, "--key", "H"], "is no key", "F# minor"),
    (["check", OFF, "--decay", "600"], "no length of time", "600ms"),
    (["check", OFF, "--bend-range", "nan"], "no range of a bend", "like 12"),
    (["check", OFF, "--sound", "no.wav"], "no.wav", ""),
    (["check", OFF, "--settings", "no.toml"], "no.toml cannot be read", "Check the path"),
    (["check", OFF, "--shard", "3/2"], "no share of the songs", "2/5"),
    (["check", OFF, "--jobs", "0"], "“0” is no number of processes", "--help"),
    *(
        (words, "A path is empty", "unset")
        for words in (
            ["check", ""],
            ["check", OFF, ""],
            ["chart", ""],
            ["audition", ""],
            ["merge", ""],
            ["watch", ""],
            ["explain", "off-root", ""],
            ["waive", "", "off-root", "--reason", "x"],
        )
    ),
    (["audition", "/"], "holds no MIDI files", "Name a folder"),
    (["check", "-"], "Standard input is not read", "Name a file"),
    (["check", "no.mid"], "no.mid does not exist", "spelling"),
    (["check", ROOT / "rules"], "No MIDI file was found", "Give a .mid file"),
    (["chart", OFF, OFF], "one word too many", "basslint chart --help"),
    (["explain", "off-rot"], "no rule “off-rot”", "Did you mean off-root?"),
    (["explain", "off-root", "--bass", "Sub"], "--bass is for songs", "Name one after the rule"),
    (["merge", OFF], "no report of", "basslint-report/1"),
    (["waive", OFF, "off-rot", "--reason", "x"], "no rule “off-rot”", "off-root"),
    (["waive", OFF, "off-root"], "--reason", "--help"),
    (["check", OFF, "--bass", "3"], "has no part “3”", "Did you mean “#3”?"),
    (["check", OFF, "--bend-range", "12st"], "“12st” is no number of semitones", "--help"),
    (["chart", OFF, "--bpm", "fast"], "“fast” is no tempo", "--help"),
    (["audition", OFF, "--octaves-up", "3"], "“3” is none of 0, 1, 2", "--help"),
    (["waive", OFF, "off-root", "--reason", " "], "--reason is empty", "Say why"),
    (["accept", OFF, "--reason", "x", "--until", "soon"], "is no date", "2027-01-31"),
]


@pytest.mark.parametrize(("words", "what", "next_step"), MISTAKES)
def test_a_mistake_is_told_in_two_plain_lines(
    words: list[str | Path],
    what: str,
    next_step: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([str(w) for w in words]) == 2
    out, err = capfd.readouterr()
    assert out == ""
    lines = err.splitlines()
    assert 1 <= len(lines) <= 2
    assert lines[0].startswith("basslint: ") and what in lines[0]
    assert next_step in lines[-1]
    assert not list(tmp_path.glob("*.toml"))


def test_who_says_nothing_is_greeted_with_commands_that_work(
    capfd: pytest.CaptureFixture[str],
) -> None:
    assert main([]) == 2
    out, err = capfd.readouterr()
    shown = [line.split() for line in err.splitlines() if line.startswith("  basslint ")]
    assert out == "" and len(err.splitlines()) < 12 and "basslint --help" in err
    assert [words[1] for words in shown] == ["check", "mend", "explain"]
    for _, command, operand, *_ in shown:
        song = {"beat.mid": str(OFF)}.get(operand, operand)
        words = [command, song] if command != "mend" else [command, song, "--dry-run"]
        assert main(words) in (0, 1)


@pytest.mark.parametrize("command", ["chart", "mend", "audition"])
@pytest.mark.parametrize(
    ("data", "told"),
    [
        (OFF.read_bytes()[:300], "could not be read: Track"),
        (b"hello, this is no music", "could not be read: This is not a MIDI file"),
    ],
)
def test_a_file_that_cannot_be_read_is_named_by_every_command(
    command: str,
    data: bytes,
    told: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("half.mid").write_bytes(data)
    assert main([command, "half.mid"]) == 2
    out, err = capfd.readouterr()
    assert err.startswith(f"basslint: half.mid {told}") and "(At byte" in err
    assert out == "" and len(list(tmp_path.iterdir())) == 1


def test_a_mistake_in_the_settings_is_told_in_two_plain_lines(
    beats: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (beats / "basslint.toml").write_text("[facts]\ndeacy = '1s'\n")
    assert main(["check", str(beats)]) == 2
    out, err = capfd.readouterr()
    assert out == "" and len(err.splitlines()) == 2
    assert "unknown key `facts.deacy`" in err and "Did you mean `facts.decay`?" in err


def test_a_part_that_one_song_lacks_stops_no_other_song(
    beats: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (beats / "a-cut.midi").unlink()
    (beats / "basslint.toml").write_text('[[song]]\nfiles = "c-*"\nfacts = { bass = "Nope" }\n')
    assert main(["check", str(beats), "--format", "json"]) == 2
    files = json.loads(capfd.readouterr().out)["files"]
    assert files[0]["findings"] and files[1]["problem"]["kind"] == "usage"
    assert main(["check", str(beats)]) == 2
    assert "could not be checked:" in capfd.readouterr().out


def test_a_fault_of_its_own_gives_a_traceback_only_with_debug(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise KeyError("seven")

    monkeypatch.setattr("basslint.batch.discovery.look_for_songs", broken)
    assert main(["check", str(OFF)]) == 3
    err = capfd.readouterr().err
    assert len(err.splitlines()) == 2 and "--debug" in err and "Traceback" not in err
    assert main(["check", str(OFF), "--debug"]) == 3
    assert "KeyError" in capfd.readouterr().err


@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_a_poor_stream_spoils_no_format(encoding: str, beats: Path) -> None:
    (beats / "a-cut.midi").rename(beats / "ünder♭.mid")
    env = {**os.environ, "PYTHONIOENCODING": encoding}
    for name in CHECK_FORMATS:
        spoken = encoding if name == "text" else "utf-8"  # machines are spoken to in UTF-8
        done = run("check", beats, "--format", name, encoding=spoken, env=env)
        assert done.returncode == 2 and done.stderr == ""
        assert WHOLE[name](done.stdout)


def test_show_settings_says_what_holds_and_from_where(
    beats: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (beats / "basslint.toml").write_text('gate = "note"\n')
    assert main(["check", "--show-settings", str(beats / "b-off.mid"), "--decay", "1s"]) == 0
    out = capfd.readouterr().out
    assert f"settings from {beats / 'basslint.toml'}" in out
    assert "the command line" in out and '"1000ms"' in out
