"""A book of rules that an earlier run has read is the book, or is not used."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import basslint.batch.cache
import basslint.rulebook.loader
from basslint.batch.cache import Cache, folder
from basslint.cli.main import main
from basslint.errors import RuleError
from basslint.rulebook.loader import read_book
from basslint.rulebook.pages import Page, built_in_folder, pages_of
from basslint.rulebook.stored import book_from
from basslint.util.records import fields_of, replace

SAMPLES = Path(__file__).parents[2] / "samples"


@pytest.fixture
def song(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    copy = tmp_path / "beats" / "a.mid"
    copy.parent.mkdir()
    shutil.copy(SAMPLES / "spilled-tea.mid", copy)
    return copy


@pytest.fixture
def unread(monkeypatch: pytest.MonkeyPatch) -> None:
    """No book is known in this process, as in one that has just been started."""
    monkeypatch.setattr(basslint.batch.cache, "book_of", basslint.rulebook.loader.bound)


def refuse(*_: object) -> None:
    raise AssertionError("pages were read")


def kept(root: Path | None = None) -> Path:
    """The only book in a cache."""
    home = root or folder()
    assert home is not None
    (book,) = (home / "books").iterdir()
    return book


def sealed(entry: Path, body: bytes) -> bytes:
    """An entry as somebody writes it who knows how its checksum is made."""
    return basslint.batch.cache._seal(entry.name, body).encode() + b"\n" + body


@pytest.mark.usefixtures("unread")
def test_a_book_is_kept_as_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pages = pages_of()
    assert Cache(tmp_path).book_of(pages) == read_book()
    monkeypatch.setattr(basslint.batch.cache, "book_of", refuse)
    again = Cache(tmp_path).book_of(pages)
    assert again == read_book()
    assert repr(again) == repr(read_book())  # 1 is not 1.0 there
    assert again[0].examples == read_book()[0].examples


def other_text(pages: tuple[Page, ...]) -> tuple[Page, ...]:
    return (*pages[:-1], replace(pages[-1], text=pages[-1].text + "\nMore.\n"))


def other_origin(pages: tuple[Page, ...]) -> tuple[Page, ...]:
    return tuple(replace(page, origin="house") for page in pages)


def other_place(pages: tuple[Page, ...]) -> tuple[Page, ...]:
    return (*pages[:-1], replace(pages[-1], path=f"x/{pages[-1].path}"))


def other_family(pages: tuple[Page, ...]) -> tuple[Page, ...]:
    return (*pages[:-1], replace(pages[-1], family="house"))


def without_one(pages: tuple[Page, ...]) -> tuple[Page, ...]:
    return tuple(page for page in pages if Path(page.path).stem != "no-tempo")


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize(
    "change", [other_text, other_origin, other_place, other_family, without_one]
)
def test_other_pages_are_another_book(
    change: Callable[[tuple[Page, ...]], tuple[Page, ...]], tmp_path: Path
) -> None:
    cache, pages = Cache(tmp_path), pages_of()
    cache.book_of(pages)
    other = change(pages)
    assert cache.book_of(other) == basslint.rulebook.loader.bound(other)
    assert len(list((tmp_path / "books").iterdir())) == 2


@pytest.mark.usefixtures("unread")
def test_another_build_reads_the_pages_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Cache(tmp_path).book_of(pages_of())
    monkeypatch.setattr(basslint.batch.cache, "__version__", "0.0.0")
    Cache(tmp_path).book_of(pages_of())
    monkeypatch.setattr(basslint.batch.cache, "_code", lambda: "other files")
    Cache(tmp_path).book_of(pages_of())
    assert len(list((tmp_path / "books").iterdir())) == 3


@pytest.mark.usefixtures("unread")
def test_a_page_with_a_fault_is_refused_each_time(tmp_path: Path) -> None:
    pages = pages_of()
    wrong = (*pages[:-1], replace(pages[-1], text="no head"))
    for _ in range(2):
        with pytest.raises(RuleError, match="line 1"):
            Cache(tmp_path).book_of(wrong)
    assert not (tmp_path / "books").exists()


@pytest.mark.usefixtures("unread")
def test_where_a_plug_in_was_loaded_no_book_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("basslint.rulebook.pages._plugged", {"night-rules"})
    Cache(tmp_path).book_of(pages_of())
    assert not (tmp_path / "books").exists()


def first(**values: object) -> Callable[[list[dict[str, Any]]], object]:
    """A book whose first rule has values put in the place of others."""
    return lambda book: [{**book[0], **values}, *book[1:]]


def first_of(part: str, **values: object) -> Callable[[list[dict[str, Any]]], object]:
    """The same of the first case, or parameter, of the first rule that has one."""

    def change(book: list[dict[str, Any]]) -> object:
        rule = next(r for r in book if r[part])
        rule[part][0] |= values
        return book

    return change


FORGED: list[Callable[[list[dict[str, Any]]], object]] = [
    lambda b: {},
    lambda b: None,
    lambda b: [],
    lambda b: [None],
    lambda b: [{**b[0], "more": 1}],
    lambda b: [{}],
    first(name=1),
    first(body=None),
    first(level="loud"),
    first(judges="tune"),
    first(needs={"root": 1}),
    first(needs=[["root"]]),
    first(needs=[["root", "sure"]]),
    first(needs=[[1, None]]),
    first(because="off-root"),
    first(because=[1]),
    first(per_part=1),
    first(lesson=["roots"]),
    first(lesson=["dances", 1]),
    first(lesson=["roots", "1"]),
    first(lesson=["roots", True]),
    first(cases="all"),
    first_of("cases", level=1),
    first_of("cases", message=None),
    first_of("cases", fix=1),
    first_of("cases", sure=[]),
    first_of("cases", conditions=[["pitch", "is"]]),
    first_of("cases", conditions=[["pitch", "like", [1]]]),
    first_of("cases", conditions=[[1, "is", [1]]]),
    first_of("cases", conditions=[["pitch", "is", [[]]]]),
    first_of("cases", conditions=[["pitch", "is", 1]]),
    first_of("parameters", default="1"),
    first_of("parameters", default=True),
    first_of("parameters", name=1),
    first_of("parameters", unit=None),
]


@pytest.mark.parametrize("forge", FORGED)
def test_a_book_of_another_shape_is_none(
    forge: Callable[[list[dict[str, Any]]], object],
) -> None:
    plain = json.loads(json.dumps(read_book(), default=fields_of))
    assert book_from(plain) == read_book()
    with pytest.raises((TypeError, ValueError)):
        book_from(forge(plain))


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize(
    "damage",
    [
        lambda entry, whole: entry.write_bytes(whole[:-10]),
        lambda entry, whole: entry.write_bytes(whole.replace(b"off-root", b"off-rood")),
        lambda entry, whole: entry.write_bytes(sealed(entry, b'[{"name": 1}]')),
        lambda entry, whole: entry.write_bytes(sealed(entry, b"[" * 200_000)),
        lambda entry, whole: entry.write_bytes(
            whole + b" " * basslint.batch.cache.MOST_ENTRY_BYTES
        ),
        lambda entry, whole: (entry.unlink(), entry.symlink_to("/dev/zero")),
        lambda entry, whole: (entry.unlink(), os.mkfifo(entry)),
    ],
)
@pytest.mark.skipif(os.name != "posix", reason="pipes and devices of POSIX")
def test_what_is_no_whole_book_is_ignored_and_written_anew(
    damage: Callable[[Path, bytes], object], tmp_path: Path
) -> None:
    Cache(tmp_path).book_of(pages_of())
    entry = kept(tmp_path)
    whole = entry.read_bytes()
    damage(entry, whole)
    assert Cache(tmp_path).book_of(pages_of()) == read_book()
    assert entry.read_bytes() == whole
    assert not entry.is_symlink()


@pytest.mark.usefixtures("unread")
def test_a_book_answers_to_its_own_key_alone(tmp_path: Path) -> None:
    pages = pages_of()
    cache = Cache(tmp_path)
    alone = next(page for page in pages if "\nbecause = " not in page.text)  # needs no other
    fewer = cache.book_of((alone,))
    (entry,) = (tmp_path / "books").iterdir()
    cache.book_of(pages)
    (other,) = set((tmp_path / "books").iterdir()) - {entry}
    entry.replace(other)
    assert cache.book_of(pages) == read_book() != fewer


@pytest.mark.parametrize(
    ("at", "other"),
    [
        (("cases", 0, "conditions", 0, 0), "nobody_knows"),
        (("cases", 0, "conditions", 0, 1), "between"),
        (("cases", 0, "conditions", 0, 2), []),
        (("needs", 0, 0), "nobody_knows"),
        (("parameters", 0, "name"), "nobody_knows"),
        (("judges",), "fill"),
    ],
)
def test_a_book_that_names_what_is_not_there_is_read_anew(
    at: tuple[str | int, ...], other: object, song: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    main(["check", str(song), "--no-cache"])
    told = capfd.readouterr()
    main(["check", str(song)])
    entry = kept()
    whole = entry.read_bytes()
    book = json.loads(whole.partition(b"\n")[2])
    rule: Any = next(r for r in book if r["name"] == "slide-off-scale")
    *way, last = at
    for step in way:
        rule = rule[step]
    rule[last] = other
    for known in entry.parents[1].glob("??/*"):
        known.unlink()
    entry.write_bytes(sealed(entry, json.dumps(book, separators=(",", ":")).encode()))
    capfd.readouterr()
    for _ in range(2):
        assert main(["check", str(song)]) == 1
        assert capfd.readouterr() == told
    assert not entry.exists() or entry.read_bytes() == whole


def test_without_the_cache_no_book_is_kept_nor_used(song: Path) -> None:
    main(["check", str(song), "--no-cache"])
    home = folder()
    assert home is not None and not home.exists()
    main(["check", str(song)])
    entry = kept()
    entry.write_bytes(sealed(entry, b"[]"))
    forged = entry.read_bytes()
    assert main(["check", str(song), "--no-cache"]) == 1
    assert entry.read_bytes() == forged


@pytest.mark.usefixtures("unread")
def test_a_book_unused_for_longest_goes_first(tmp_path: Path) -> None:
    cache = Cache(tmp_path, most_bytes=1)
    cache.book_of(pages_of())
    old = kept(tmp_path)
    os.utime(old, (1, 1))
    Cache(tmp_path, most_bytes=10**9).book_of(pages_of())
    assert old.stat().st_mtime > 1  # used today
    cache.trim()
    assert not old.exists()


def test_books_that_are_written_at_once_are_whole(song: Path) -> None:
    words = [sys.executable, "-m", "basslint", "check", str(song)]
    runs = [
        subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(4)
    ]
    told = {(run.communicate(), run.returncode) for run in runs}
    assert len(told) == 1
    entry = kept()
    checksum, body = entry.read_bytes().split(b"\n")
    assert sealed(entry, body).startswith(checksum)
    assert book_from(json.loads(body)) == read_book()


def test_house_rules_and_choices_hold_from_a_kept_book_too(
    song: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    page = (built_in_folder() / "harmony" / "off-root.md").read_text("utf-8")
    (song.parent / "rules").mkdir()
    (song.parent / "rules" / "own.md").write_text(page.replace('"off-root"', '"own"', 1), "utf-8")
    (song.parent / "basslint.toml").write_text('[rules]\noff-root = false\nown = "note"\n')
    told = []
    for words in ((), (), ("--no-cache",), ("--only", "own"), ("--without", "own")):
        code = main(["check", str(song), *words])
        told.append((code, capfd.readouterr().out))
    assert told[0] == told[1] == told[2]
    assert "note  bar 6, beat 1 · own" in told[0][1]
    assert told[3] != told[0] and " own " in told[3][1]
    assert " own " not in told[4][1]
