"""The shipped pages are read once: what is kept of them is what they say, or is not used."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from basslint.rulebook import compiled
from basslint.rulebook.loader import bound
from basslint.rulebook.model import Rule
from basslint.rulebook.pages import Page, pages_of
from basslint.util.records import replace

PAGES = pages_of()


@pytest.fixture(scope="module")
def book() -> tuple[Rule, ...]:
    return bound(PAGES)


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of bytecode that is empty, and may be written to."""
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path))
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    return tmp_path


def entry(place: Path) -> Path:
    (found,) = (p for p in place.rglob("*") if p.is_file())
    return found


def test_what_is_kept_is_the_book(place: Path, book: tuple[Rule, ...]) -> None:
    assert compiled.kept(PAGES) is None
    compiled.keep(PAGES, book)
    again = compiled.kept(PAGES)
    assert again == book
    assert repr(again) == repr(book)  # of the same kinds, down to each number
    assert entry(place).suffix == ".book"


def other_text(pages: tuple[Page, ...]) -> tuple[Page, ...]:
    return replace(pages[0], text=pages[0].text.replace("bass", "base")), *pages[1:]


def another_place(pages: tuple[Page, ...]) -> tuple[Page, ...]:
    return tuple(replace(page, path=page.path + "x") for page in pages)


@pytest.mark.parametrize("change", [other_text, another_place, lambda pages: pages[1:]])
def test_other_pages_are_read(change, place: Path, book: tuple[Rule, ...]) -> None:  # type: ignore[no-untyped-def]
    compiled.keep(PAGES, book)
    assert compiled.kept(change(PAGES)) is None


def test_other_code_reads_them_anew(
    place: Path, book: tuple[Rule, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    compiled.keep(PAGES, book)
    monkeypatch.setattr(compiled, "_MADE_BY", (*compiled._MADE_BY, "theory"))
    assert compiled.kept(PAGES) is None


@pytest.mark.parametrize(
    "damage", [lambda b: b[:-1], lambda b: b"", lambda b: b[:99] + b"?" + b[100:]]
)
def test_what_is_damaged_is_not_used(damage, place: Path, book: tuple[Rule, ...]) -> None:  # type: ignore[no-untyped-def]
    compiled.keep(PAGES, book)
    whole = entry(place).read_bytes()
    entry(place).write_bytes(damage(whole))
    assert compiled.kept(PAGES) is None
    entry(place).write_bytes(whole)
    assert compiled.kept(PAGES) == book


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="a system without pipes in folders")
def test_a_pipe_in_its_place_is_not_waited_for(place: Path, book: tuple[Rule, ...]) -> None:
    compiled.keep(PAGES, book)
    found = entry(place)
    found.unlink()
    os.mkfifo(found)
    assert compiled.kept(PAGES) is None


def test_pages_of_a_house_are_not_kept(place: Path, book: tuple[Rule, ...]) -> None:
    pages = (*PAGES, replace(PAGES[0], origin="house", folder="elsewhere"))
    compiled.keep(pages, book)
    assert compiled.kept(pages) is None
    assert not list(place.rglob("*"))


def test_where_no_bytecode_is_written_no_book_is(
    place: Path, book: tuple[Rule, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    compiled.keep(PAGES, book)
    assert not list(place.rglob("*"))


def test_a_folder_that_is_closed_to_us_is_no_fault(
    place: Path, book: tuple[Rule, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    (place / "file").write_bytes(b"")
    monkeypatch.setattr(sys, "pycache_prefix", str(place / "file"))
    compiled.keep(PAGES, book)
    assert compiled.kept(PAGES) is None


READ = """
import sys
from basslint.checking.book import book_for
from basslint.readings.base import SUBJECTS, registered
from basslint.settings.model import Settings
known = [registered(subject) for subject in SUBJECTS]  # with numpy, whose bytecode lies where it is
sys.pycache_prefix, sys.dont_write_bytecode = sys.argv[1], False
print(len(book_for(Settings())), "tomllib" in sys.modules)
"""


def test_the_second_process_reads_no_toml(tmp_path: Path, book: tuple[Rule, ...]) -> None:
    said = [
        subprocess.run(
            [sys.executable, "-c", READ, tmp_path], capture_output=True, text=True, check=True
        ).stdout.split()
        for _ in range(2)
    ]
    assert said == [[str(len(book)), "True"], [str(len(book)), "False"]]
