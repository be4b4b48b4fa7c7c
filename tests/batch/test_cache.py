"""The cache answers only what was asked before, survives damage, and stays within its bound."""

from __future__ import annotations

import datetime
import json
import os
import stat
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import basslint.batch.cache
import basslint.batch.run
from basslint.batch.cache import Cache, folder, key_of
from basslint.batch.job import Job, Outcome, check_song
from basslint.cli.main import main
from basslint.cli.options import CHECK_FORMATS
from basslint.cli.parsing import parse
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


def home() -> Path:
    found = folder()
    assert found is not None
    return found


def entries() -> list[Path]:
    """The outcomes that are kept; beside them lies the book."""
    return [p for p in home().rglob("*") if p.is_file() and p.parent.name != "books"]


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
    (entry,) = entries()
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
        job("--without", "off-root"),
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


def test_who_states_a_fact_changes_the_key(song: Path) -> None:
    """A problem of a fact names the file that states it, or the option."""
    by_option = key(song, job("--bass", "Subb"))
    toml('[facts]\nbass = "Subb"')(song)
    assert key(song) != by_option


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
        lambda b: b"0" * 64 + b[64:],
    ],
)
def test_a_damaged_entry_is_ignored_and_written_anew(
    damage: Callable[[bytes], bytes], song: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    main(["check", str(song)])
    told = capfd.readouterr().out
    (entry,) = entries()
    whole = entry.read_bytes()
    entry.write_bytes(damage(whole))
    assert main(["check", str(song)]) == 1
    assert capfd.readouterr() == (told, "")
    assert entry.read_bytes() == whole


def sealed(entry: Path, body: bytes) -> bytes:
    """An entry as somebody writes it who knows how its checksum is made."""
    key = entry.parent.name + entry.name
    return basslint.batch.cache._seal(key, body).encode() + b"\n" + body


def changed(**values: object) -> Callable[[dict[str, Any]], object]:
    """An outcome with values of its section put in the place of others."""
    return lambda outcome: {**outcome, "section": {**outcome["section"], **values}}


FORGED: list[Callable[[dict[str, Any]], object]] = [
    lambda o: [],
    lambda o: {},
    lambda o: o | {"more": 1},
    lambda o: o | {"used": [99]},  # no such waiver
    lambda o: o | {"used": [-1]},
    lambda o: o | {"used": ["0"]},
    lambda o: o | {"used": None},
    changed(text=7),
    changed(text=None),
    changed(path=["a"]),
    changed(tally=[]),
    changed(tally={"error": "1"}),
    changed(tally={"error": 0, "warning": 0, "note": 0, "waived": 0, "failing": "0"}),
    changed(problem={"kind": 1, "message": "", "advice": "", "byte": None}),
    changed(problem={"kind": "damaged", "message": "", "advice": "", "byte": "x"}),
    changed(problem="gone"),
    changed(faults="abc"),
    changed(faults=[1]),
    changed(faults=["off-root failed"]),  # what failed is never kept
    changed(problem={"kind": "given-up", "message": "", "advice": "", "byte": None}),
    changed(unjudged=[{"rule": "a", "start_bar": "1", "end_bar": 2, "reason": ""}]),
    changed(bars=True),
    changed(bars=1.5),
    changed(spoke={"a": 1}),
    changed(entries=[{"rank": None, "lead": "", "rest": ""}]),
    changed(silent=0),
    changed(mendable="yes"),
]


@pytest.mark.parametrize("forge", FORGED)
def test_an_entry_of_another_shape_is_ignored_though_its_checksum_is_right(
    forge: Callable[[dict[str, Any]], object], song: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    main(["check", str(song)])
    told = capfd.readouterr().out
    (entry,) = entries()
    whole = entry.read_bytes()
    body = json.dumps(forge(json.loads(whole.partition(b"\n")[2]))).encode()
    entry.write_bytes(sealed(entry, body))
    assert main(["check", str(song)]) == 1
    assert capfd.readouterr() == (told, "")
    assert entry.read_bytes() == whole


def test_an_entry_nested_without_end_is_ignored(song: Path, tmp_path: Path) -> None:
    cache, name = Cache(tmp_path / "kept"), "a" * 64
    cache.put(name, check_song(job(), song))
    for body in (b"[" * 200_000, b'{"section": ' + b"9" * 5000 + b"}"):
        cache._path(name).write_bytes(sealed(cache._path(name), body))
        assert cache.get(name) is None


def test_an_entry_answers_to_its_own_key_alone(song: Path, tmp_path: Path) -> None:
    cache, names = Cache(tmp_path / "kept"), ("a" * 64, "b" * 64)
    for name in names:
        cache.put(name, check_song(job(), song))
    one, other = (cache._path(name) for name in names)
    one.rename(tmp_path / "aside")
    other.rename(one)
    (tmp_path / "aside").rename(other)
    assert [cache.get(name) for name in names] == [None, None]


@pytest.mark.skipif(os.name != "posix", reason="pipes, devices and modes of POSIX")
def test_what_is_no_file_of_ours_is_not_read(song: Path, tmp_path: Path) -> None:
    cache, name = Cache(tmp_path / "kept"), "a" * 64
    outcome = check_song(job(), song)
    cache.put(name, outcome)
    entry = cache._path(name)
    whole = entry.read_bytes()
    for put in (
        lambda: os.mkfifo(entry),
        lambda: entry.symlink_to("/dev/zero"),
        lambda: entry.write_bytes(whole + b" " * basslint.batch.cache.MOST_ENTRY_BYTES),
        entry.mkdir,
    ):
        entry.unlink()
        put()
        assert cache.get(name) is None
    entry.rmdir()
    cache.put(name, outcome)
    assert cache.get(name) == outcome


@pytest.mark.skipif(os.name != "posix", reason="pipes and devices of POSIX")
@pytest.mark.parametrize("put", [os.mkfifo, lambda path: path.symlink_to("/dev/zero")])
def test_a_loop_that_never_ends_is_not_waited_for(put: Callable[[Path], None], song: Path) -> None:
    put(song.parent / "x.wav")
    assert key(song, job("--loop", str(song.parent / "x.wav"))) != key(song)


@pytest.mark.skipif(os.name != "posix", reason="modes of POSIX")
def test_the_folder_is_the_user_s_alone(
    song: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = tmp_path / "above" / "kept"
    outcome, name = check_song(job(), song), "a" * 64
    Cache(root).put(name, outcome)
    assert stat.S_IMODE(root.stat().st_mode) == 0o700
    root.chmod(0o777)
    assert Cache(root).get(name) == outcome  # it is ours: it is closed
    assert stat.S_IMODE(root.stat().st_mode) == 0o700
    monkeypatch.setattr("os.geteuid", lambda: 12345)  # now it is another user's
    assert Cache(root).get(name) is None
    Cache(root).put("b" * 64, outcome)
    assert len([p for p in root.rglob("*") if p.is_file()]) == 1


@pytest.mark.parametrize("where", ["~", "somewhere"])
def test_who_has_no_home_has_no_cache(
    where: str, song: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", where)
    assert folder() is None
    assert main(["check", str(song)]) == 1
    assert capfd.readouterr().err == ""
    assert [p.name for p in Path.cwd().iterdir()] == ["beats"]


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
