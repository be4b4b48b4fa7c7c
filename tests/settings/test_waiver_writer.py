"""Waiving for real: what is let stand outlasts other exports of the song, and nothing else does."""

from __future__ import annotations

import json
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from exports import with_bars_in_front, with_division, with_parts_turned

import basslint
from basslint.api import check
from basslint.checking import one_file
from basslint.cli.main import main
from basslint.rulebook.notation import compile_beat

SAMPLES = Path(__file__).parents[2] / "samples"

# Four bars that are played twice as they are, then twice a whole tone higher; a wrong note in each.
LOOP = """
tempo 140
keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 | B3+D4+F#4:4 | G3+B3+D4:4 | D4+F#4+A4:4 | A3+C#4+E4:4 | B3+D4+F#4:4 | G3+B3+D4:4 | D4+F#4+A4:4 | A3+C#4+E4:4 |
sub  | A1:4 | F#1:4 | C2:4 | G1:4 | A1:4 | F#1:4 | C2:4 | G1:4 | B1:4 | G#1:4 | D2:4 | A1:4 | B1:4 | G#1:4 | D2:4 | A1:4 |
"""  # noqa: E501  # a line of the notation is a part


@pytest.fixture
def repo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A repository of beats, in which the tests stand."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    folder = tmp_path / "repo"
    (folder / "beats").mkdir(parents=True)
    (folder / "beats" / "tea.mid").write_bytes((SAMPLES / "spilled-tea.mid").read_bytes())
    (folder / "beats" / "loop.mid").write_bytes(compile_beat(LOOP).data)
    (folder / "basslint.toml").write_text('# ours\n[facts]\ndecay = "1500ms"  # long\n')
    monkeypatch.chdir(folder)
    return folder


def off_root(song: str) -> dict[int, bool]:
    """Bars with an off-root finding, and whether it is waived."""
    found = check(song).files[0].findings
    return {f.where.bar: f.waived is not None for f in found if f.rule == "off-root"}


def test_the_loop_has_a_fault_in_each_of_its_copies(repo: Path) -> None:
    assert off_root("beats/loop.mid") == dict.fromkeys((2, 6, 10, 14), False)


def test_all_that_stands_is_accepted_and_only_new_findings_fail(
    repo: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", "beats", "--gate", "note"]) == 1
    assert main(["accept", "beats", "--gate", "note", "--reason", "Stood when we began"]) == 0
    assert "waivers added" in capfd.readouterr().out
    assert main(["check", "beats", "--gate", "note"]) == 0
    assert main(["accept", "beats", "--gate", "note", "--reason", "again"]) == 0
    assert "0 waivers added" in capfd.readouterr().out
    worse = LOOP.replace("sub  | A1:4", "sub  | D#2:4")
    (repo / "beats" / "loop.mid").write_bytes(compile_beat(worse).data)
    assert main(["check", "beats", "--gate", "note"]) == 1
    capfd.readouterr()


def levels(path: str, waived: bool) -> set[str]:
    """The levels of what is waived, or is not."""
    return {f.level for f in check(path).files[0].findings if (f.waived is not None) == waived}


@pytest.mark.parametrize(
    ("gate", "asked", "taken", "left"),
    [
        ("error", [], {"error", "warning"}, {"note"}),
        ("warning", [], {"error", "warning"}, {"note"}),
        ("note", [], {"error", "warning", "note"}, set()),
        ("error", ["--gate", "note"], {"error", "warning", "note"}, set()),
        ("error", ["--gate", "error"], {"error"}, {"warning", "note"}),
    ],
)
def test_notes_are_accepted_where_they_fail_a_run_or_are_asked_for(
    gate: str,
    asked: list[str],
    taken: set[str],
    left: set[str],
    repo: Path,
    capfd: pytest.CaptureFixture[str],
) -> None:
    settings = f'gate = "{gate}"\nrules = {{ slide-off-scale = "note" }}\n'
    (repo / "basslint.toml").write_text(settings, encoding="utf-8")
    assert levels("beats/tea.mid", False) == {"error", "warning", "note"}
    assert main(["accept", "beats/tea.mid", "--reason", "Stood", *asked]) == 0
    assert ("milder left out; --gate note" in capfd.readouterr().out) == bool(left)
    assert levels("beats/tea.mid", True) == taken and levels("beats/tea.mid", False) == left


def test_the_accepted_list_is_text_for_people_and_keeps_what_was_there(
    repo: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    main(["accept", "beats", "--reason", "Stood when we began", "--until", "2099-01-31"])
    text = (repo / "basslint.toml").read_text(encoding="utf-8")
    assert text.startswith('# ours\n[facts]\ndecay = "1500ms"  # long\n')
    waivers = tomllib.loads(text)["waive"]
    mine = next(w for w in waivers if w["rule"] == "off-root" and w["song"] == "beats/loop.mid")
    assert mine["part"] == "sub" and mine["reason"] == "Stood when we began"
    assert mine["heard"].startswith("bars 2, 6: F#1 holds")
    assert mine["until"].isoformat() == "2099-01-31" and len(mine["sounds"]) == 4
    capfd.readouterr()


EXPORTS: list[Callable[[bytes], bytes]] = [
    lambda data: with_division(data, 960),
    lambda data: with_division(data, 192),
    with_parts_turned,
    with_bars_in_front,
    lambda data: with_bars_in_front(data, 4),
    lambda data: with_parts_turned(with_division(with_bars_in_front(data, 2), 120)),
]


@pytest.mark.parametrize("export", EXPORTS)
@pytest.mark.parametrize("song", ["beats/loop.mid", "beats/tea.mid"])
def test_waivers_outlast_another_export(
    export: Callable[[bytes], bytes],
    song: str,
    repo: Path,
    capfd: pytest.CaptureFixture[str],
) -> None:
    main(["accept", "beats", "--gate", "note", "--reason", "Stood when we began"])
    before = check(song).files[0].findings
    path = repo / song
    path.write_bytes(export(path.read_bytes()))
    after = check(song).files[0].findings
    standing = [f.message for f in after if f.waived is None]
    assert standing == [] and len(after) == len(before) > 0
    assert {f.fingerprint for f in after} == {f.fingerprint for f in before}
    assert check("beats").remarks == ()
    capfd.readouterr()


@pytest.mark.parametrize(("bar", "kept"), [(2, {2}), (6, {6}), (10, {10}), (14, {14})])
def test_a_copy_of_the_loop_transposed_or_not_is_another_finding(
    bar: int, kept: set[int], repo: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    words = ["waive", "beats/loop.mid", "off-root", "--bar", str(bar), "--reason", "It is meant"]
    assert main(words) == 0
    assert {b for b, waived in off_root("beats/loop.mid").items() if waived} == kept
    capfd.readouterr()


def test_a_waived_finding_is_a_suppression_with_its_reason(
    repo: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    main(["waive", "beats/loop.mid", "off-root", "--reason", "It is meant"])
    capfd.readouterr()
    main(["check", "beats/loop.mid", "--format", "sarif"])
    results = json.loads(capfd.readouterr().out)["runs"][0]["results"]
    told = [r["suppressions"] for r in results if r["ruleId"] == "off-root"]
    assert len(told) == 4
    assert all(s[0]["justification"] == "It is meant" for s in told)


def test_mending_leaves_waived_findings_alone(
    repo: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    main(["waive", "beats/loop.mid", "off-root", "--bar", "2", "--reason", "It is meant"])
    main(["mend", "beats/loop.mid", "--by-ear", "--only", "off-root", "--format", "json"])
    told = json.loads(capfd.readouterr().out.split("added.\n")[1])
    assert sorted(a["finding"]["where"]["bar"] for a in told["applied"]) == [6, 10, 14]
    assert off_root("beats/loop.mended.mid") == {2: False}  # a song of another name


def test_waivers_out_of_use_are_told_where_their_song_was_checked(
    repo: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    with (repo / "basslint.toml").open("a") as file:
        file.write(
            '[[waive]]\nrule = "too-low"\nsong = "beats/loop.mid"\nreason = "x"\n'
            '[[waive]]\nrule = "off-root"\nsong = "loop.mid"\nreason = "y"\nuntil = 2020-01-31\n'
            '[[waive]]\nrule = "too-high"\nsong = "beats/*.mid"\nreason = "z"\n'
        )
    gone, over, unused = "too-low in beats/loop.mid", "ended on 2020-01-31", "too-high in beats/*"

    def told(*words: str) -> list[bool]:
        main(["check", *words])
        text = " ".join(capfd.readouterr().out.split())
        return [what in text for what in (gone, over, unused)]

    assert told(".") == [True, True, True]
    assert told("beats") == [True, True, False]  # other songs below the settings were not seen
    assert told("beats/loop.mid") == [True, True, False]
    assert told("beats/tea.mid") == [False, False, False]
    assert told(".", "--shard", "1/2") == [True, True, False]
    assert told(".", "--only", "off-root") == [False, True, False]
    assert not off_root("beats/loop.mid")[2]  # its last day is over


def test_each_waiver_goes_into_the_settings_of_its_song(
    repo: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    inner = repo / "beats" / "pack"
    inner.mkdir()
    (inner / "loop.mid").write_bytes(compile_beat(LOOP).data)
    (inner / "basslint.toml").write_text("")
    (inner / "cut.mid").write_bytes(b"MThd")
    assert main(["accept", "beats", "--reason", "Stood when we began"]) == 2
    assert "cut.mid" in capfd.readouterr().err  # left out, and the others accepted
    songs = {w["song"] for w in tomllib.loads((inner / "basslint.toml").read_text())["waive"]}
    assert songs == {"loop.mid"}
    outer = {w["song"] for w in tomllib.loads((repo / "basslint.toml").read_text())["waive"]}
    assert outer == {"beats/loop.mid", "beats/tea.mid"}


def test_without_settings_a_file_is_made_where_one_stands(
    repo: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (repo / "basslint.toml").unlink()
    assert main(["waive", "beats/loop.mid", "off-root", "--reason", "It is meant"]) == 0
    assert set(off_root("beats/loop.mid").values()) == {True}
    assert (repo / "basslint.toml").exists()
    assert main(["waive", "beats/loop.mid", "off-root", "--reason", "It is meant"]) == 2
    assert "already waived" in capfd.readouterr().err


@pytest.mark.parametrize("before", ["", "# ours", "# ours\n", "# ours\n\n", 'gate = "note"\n'])
def test_each_waiver_stands_apart_by_one_blank_line(repo: Path, before: str) -> None:
    (repo / "basslint.toml").write_text(before)
    assert main(["waive", "beats/tea.mid", "OFF-ROOT", "--reason", "one"]) == 0
    assert main(["accept", "beats/tea.mid", "--reason", "the others"]) == 0
    lines = (repo / "basslint.toml").read_text().splitlines()
    heads = [i for i, line in enumerate(lines) if line == "[[waive]]"]
    assert len(heads) >= 2
    for head in heads[0 if before else 1 :]:
        assert lines[head - 1] == "" and lines[head - 2] != ""


def test_what_is_waived_already_is_said_so(repo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["waive", "beats/tea.mid", "off-root", "--reason", "A pedal"]
    assert main(words) == 0
    assert main([*words, "--bar", "6"]) == 2
    told = capsys.readouterr().err
    assert "off-root is already waived in bar 6." in told and "A pedal" in told
    assert main(words) == 2
    assert "off-root is already waived." in capsys.readouterr().err


def test_a_song_that_takes_too_long_is_left_out_and_the_others_are_accepted(
    repo: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    real = one_file.read_bytes

    def read_bytes(path: Path, settings: basslint.Settings) -> bytes:
        while path.stem == "loop":
            time.sleep(0.01)
        return real(path, settings)

    monkeypatch.setattr(one_file, "read_bytes", read_bytes)
    (repo / "basslint.toml").write_text("[limits]\nmax_seconds = 1\n")
    assert main(["accept", "beats", "--reason", "Stood when we began"]) == 2
    out, err = capfd.readouterr()
    assert "waivers added" in out and "0 waivers" not in out
    assert "loop.mid: It was given up: it took longer than 1 s (limit `max_seconds`)." in err
