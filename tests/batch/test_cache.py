"""The cache answers only what was asked before, survives damage, and stays within its bound."""

from __future__ import annotations

import datetime
import json
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import basslint.batch.cache
import basslint.batch.run
from basslint.batch.cache import Cache, folder, key_of
from basslint.batch.job import Job, Outcome, check_song
from basslint.cli.main import main
from basslint.cli.options import CHECK_FORMATS, parse
from basslint.cli.stated import run_options
from basslint.report.section import Sheet

SAMPLE = Path(__file__).parents[2] / "samples" / "spilled-tea.mid"


@pytest.fixture
def song(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)
    copy = tmp_path / "beats" / "a.mid"
    copy.parent.mkdir()
    copy.write_bytes(SAMPLE.read_bytes())
    return copy


def job(*words: str, name: str = "text", **sheet: object) -> Job:
    options = run_options(parse(["check", "x.mid", "--format", name, *words]))
    return Job(options=options, format=name, sheet=replace(Sheet(), **sheet))


def key(song: Path, asked: Job | None = None) -> str | None:
    asked = asked or job()
    return key_of(asked, asked.order(song), song)


@pytest.mark.parametrize("name", CHECK_FORMATS)
def test_an_outcome_is_kept_as_it_is(name: str, song: Path, tmp_path: Path) -> None:
    cache, asked = Cache(tmp_path / "kept"), job(name=name)
    for path in (song, song.with_name("cut.mid")):
        path.write_bytes(SAMPLE.read_bytes() if path == song else b"MThd")
        outcome = check_song(asked, path)
        cache.put(str(key(path, asked)), outcome)
        assert cache.get(str(key(path, asked))) == outcome


def test_entries_are_a_checksum_and_json(song: Path) -> None:
    main(["check", str(song)])
    (entry,) = (p for p in folder().rglob("*") if p.is_file())
    checksum, body = entry.read_text(encoding="ascii").split("\n")
    assert len(checksum) == 64
    assert json.loads(body)["section"]["path"] == str(song)


def toml(text: str) -> Callable[[Path], None]:
    def write(song: Path) -> None:
        (song.parent / "basslint.toml").write_text(text)

    return write


def other_bytes(song: Path) -> None:
    song.write_bytes(song.read_bytes() + b"\0")


@pytest.mark.parametrize(
    "change",
    [
        other_bytes,
        toml('gate = "note"'),
        toml('middle_c = "C3"'),
        toml('[facts]\nkey = "C major"'),
        toml("[limits]\nmax_bars = 3"),
        toml("[rules]\noff-root = false"),
        toml('[rules]\noff-root = "note"'),
        toml('[[waive]]\nrule = "off-root"\nsong = "a.mid"\nreason = "x"'),
        toml('[[song]]\nfiles = "a.mid"\nfacts = { decay = "1s" }'),
        toml('[facts]\nsounds = { Sub = "a.mid" }'),  # no sound, but there
    ],
)
def test_what_the_outcome_depends_on_changes_the_key(
    change: Callable[[Path], None], song: Path
) -> None:
    before = key(song)
    change(song)
    assert key(song) != before


@pytest.mark.parametrize(
    "asked",
    [
        job(name="json"),
        job("--only", "off-root"),
        job("--except", "off-root"),
        job("--gate", "note"),
        job("--decay", "1s"),
        job(width=40),
        job(encoding="ascii"),
        job(terminal=True),
        job(index=("off-root",)),
    ],
)
def test_what_was_asked_changes_the_key(asked: Job, song: Path) -> None:
    assert key(song, asked) != key(song)


def test_only_what_matters_changes_the_key(song: Path) -> None:
    toml('[[waive]]\nrule = "off-root"\nsong = "b.mid"\nreason = "x"')(song)
    before = key(song)
    toml('[[waive]]\nrule = "off-root"\nsong = "c.mid"\nreason = "y"\n')(song)
    assert key(song) == before  # other songs' waivers
    os.utime(song, (1, 1))
    assert key(song) == before


def test_a_page_of_a_house_rule_changes_the_key(song: Path) -> None:
    toml("")(song)
    (song.parent / "rules").mkdir()
    page = song.parent / "rules" / "r.md"
    built_in = Path(__file__).parents[2] / "rules" / "harmony" / "off-root.md"
    page.write_text(built_in.read_text(encoding="utf-8"), encoding="utf-8")
    before = key(song)
    page.write_text(page.read_text(encoding="utf-8") + "\nMore.\n", encoding="utf-8")
    assert key(song) != before


def test_a_named_sound_and_the_version_change_the_key(
    song: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (song.parent / "x.wav").write_bytes(b"1")
    toml('[facts]\nsound = "x.wav"')(song)
    before = key(song)
    (song.parent / "x.wav").write_bytes(b"22")
    after = key(song)
    assert after != before
    monkeypatch.setattr(basslint.batch.cache, "__version__", "0.0.0")
    assert key(song) != after


def test_the_last_day_of_a_waiver_changes_the_key(song: Path) -> None:
    toml('[[waive]]\nrule = "off-root"\nsong = "a.mid"\nreason = "x"\nuntil = 2031-05-04')(song)
    days = [datetime.date(2031, 5, d) for d in (3, 4, 5)]
    keys = [key(song, replace(job(), today=day)) for day in days]
    assert keys[0] == keys[1] != keys[2]


def test_a_second_run_checks_nothing(
    song: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    first = main(["check", str(song)])
    told = capfd.readouterr().out

    def refuse(*_: object) -> Outcome:
        raise AssertionError("checked again")

    monkeypatch.setattr(basslint.batch.run, "check_song", refuse)
    assert main(["check", str(song)]) == first
    assert capfd.readouterr().out == told
    assert main(["check", str(song), "--no-cache"]) == 3


@pytest.mark.parametrize(
    "damage",
    [
        lambda b: b"",
        lambda b: b[:-10],
        lambda b: b.replace(b"off-root", b"off-rood"),
        lambda b: b[65:],
        lambda b: b"\xff\xfe" + b,
        lambda b: basslint.batch.cache._digest(b"[1]").encode() + b"\n[1]",
        lambda b: basslint.batch.cache._digest(b"{}").encode() + b"\n{}",
        lambda b: basslint.batch.cache._digest(b"[" * 200_000).encode() + b"\n" + b"[" * 200_000,
    ],
)
def test_a_damaged_entry_is_ignored_and_written_anew(
    damage: Callable[[bytes], bytes], song: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    main(["check", str(song)])
    told = capfd.readouterr().out
    (entry,) = (p for p in folder().rglob("*") if p.is_file())
    whole = entry.read_bytes()
    entry.write_bytes(damage(whole))
    assert main(["check", str(song)]) == 1
    assert capfd.readouterr() == (told, "")
    assert entry.read_bytes() == whole


def test_a_cache_that_cannot_be_written_is_no_hindrance(
    song: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    blocked = song.parent / "file"
    blocked.write_text("no folder")
    monkeypatch.setenv("XDG_CACHE_HOME", str(blocked))
    assert main(["check", str(song)]) == 1
    assert capfd.readouterr().err == ""


def test_what_was_used_longest_ago_goes_first(song: Path, tmp_path: Path) -> None:
    outcome = check_song(job(), song)
    size = len(json.dumps(str(outcome)))
    cache = Cache(tmp_path / "kept", most_bytes=5 * size)
    keys = [f"{n:02d}{'0' * 62}" for n in range(20)]
    for n, name in enumerate(keys):
        cache.put(name, outcome)
        os.utime(cache._path(name), (n, n))
    assert cache.get(keys[0]) == outcome  # used now
    cache.trim()
    kept = [p for p in (tmp_path / "kept").rglob("*") if p.is_file()]
    assert 1 < len(kept) < 20
    assert sum(p.stat().st_size for p in kept) <= cache.most_bytes
    assert cache.get(keys[0]) == outcome and cache.get(keys[-1]) == outcome
    assert cache.get(keys[1]) is None


def test_without_a_named_folder_it_lies_in_the_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setenv("HOME", "/home/x")
    assert folder() == Path("/home/x/.cache/basslint")
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")  # the standard: ignore what is not absolute
    assert folder() == Path("/home/x/.cache/basslint")


@pytest.mark.parametrize("system", ["darwin", "win32"])
def test_other_systems_are_asked_where_they_keep_caches(
    system: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr("sys.platform", system)
    monkeypatch.setattr("platformdirs.user_cache_path", lambda name, appauthor: tmp_path / name)
    assert folder() == tmp_path / "basslint"
    monkeypatch.setenv("XDG_CACHE_HOME", "/named")
    assert folder() == Path("/named/basslint")
