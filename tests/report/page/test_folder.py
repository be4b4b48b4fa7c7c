"""Folders of pages: an index that opens at once, a page for each song, one file up to a size."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from page_opened import stopwatch
from page_songs import SAMPLES, reported

from basslint.cli.main import main
from basslint.judging.results import Problem
from basslint.report.formats import html as page_module
from basslint.report.formats.html import assemble, section
from basslint.report.formats.html_folder import page_name, pages
from basslint.report.formats.page_parts import packed
from basslint.report.section import Run, Section, Sheet, Tally
from basslint.rulebook.loader import read_book


def test_a_folder_has_an_index_and_a_page_for_each_song(browser, tmp_path: Path) -> None:
    songs = tmp_path / "songs"
    songs.mkdir()
    for name in ("spilled-tea", "night-bus"):
        shutil.copy(SAMPLES / f"{name}.mid", songs)
    (songs / "broken.mid").write_bytes(b"MThd no")
    target = tmp_path / "pages"
    assert main(["check", str(songs), "--format", "html", "--output", f"{target}/"]) == 2
    names = sorted(p.name for p in target.iterdir())
    assert len(names) == 3 and "index.html" in names
    page = browser.new_page()
    complaints: list[str] = []
    page.on("console", lambda m: complaints.append(m.text))
    page.on("request", lambda r: r.url.startswith("file:") or complaints.append(r.url))
    page.goto((target / "index.html").as_uri())
    rows = page.locator("table.songs tbody tr")
    assert (
        "spilled-tea" in rows.first.inner_text() and "could not be read" in rows.nth(1).inner_text()
    )
    assert rows.nth(1).locator("td").all_inner_texts() == ["–"] * 4  # nobody counted there
    assert page.locator("li").all_inner_texts()[0].endswith("night-bus.mid")
    rows.first.locator("a").click()
    assert page.locator(".finding").count() >= 3
    page.locator("a", has_text="all songs").click()
    page.locator("li a").click()
    assert page.locator(".todo").inner_text() == "Nothing is off."
    assert complaints == []
    page.close()


def test_only_what_was_judged_is_called_clean() -> None:
    """A song without bass, one with hardly a root, one with a remark of the reader alone."""
    sections = [
        Section(path="off.mid", text=packed("x"), tally=Tally(note=1)),
        Section(path="let-stand.mid", text=packed("x"), tally=Tally(waived=1)),
        Section(path="boat.mid", text=packed("x"), tally=Tally(), silent=True, bassless=25),
        Section(path="rootless.mid", text=packed("x"), tally=Tally(), silent=True, rootless="why"),
        Section(path="remark.mid", text=packed("x"), tally=Tally(), silent=False),
        Section(path="fine.mid", text=packed("x"), tally=Tally(), silent=True),
    ]
    *_, (_, index) = pages(sections, Run())
    told, unjudged, clean = index.split("<h2>")[1:]
    assert told.startswith("Songs with something to look at")
    assert unjudged.startswith("2 songs not judged, or hardly") and clean.startswith("2 clean")
    places = [(told, ("off", "let-stand")), (unjudged, ("boat", "rootless"))]
    for place, names in [*places, (clean, ("remark", "fine"))]:
        assert place.count("<a ") == len(names)
        assert all(f">{name}.mid</a>" in place for name in names)
    assert "boat.mid</a> <em>no bass part was found</em>" in unjudged
    assert "rootless.mid</a> <em>why</em>" in unjudged
    broken = Section(path="broken.mid", text=packed("x"), tally=Tally(), problem=Problem("a", "b"))
    one = "".join(assemble([*sections, broken], Run()))
    assert one.count('<td class="number">–</td>') == 3  # where nobody counted
    assert one.count("<em>clean</em>") == 1 and "<em>no bass part was found</em>" in one


def test_the_heads_of_the_index_stay_whole_on_a_phone(browser, tmp_path: Path) -> None:
    path = "a folder/with a song of a rather long name.mid"
    *_, (name, text) = pages([Section(path=path, text=packed("x"), tally=Tally(error=1))], Run())
    (tmp_path / name).write_text(text, encoding="utf-8")
    page = browser.new_page(viewport={"width": 360, "height": 640})
    page.goto((tmp_path / name).as_uri())
    drawn = page.locator("thead th").evaluate_all(
        "all => all.map(e => { const r = document.createRange(); r.selectNodeContents(e);"
        " return r.getClientRects().length; })"
    )
    assert drawn == [1] * 5  # lines of each head
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.close()


def test_pages_of_one_name_in_two_folders_are_two(tmp_path: Path) -> None:
    assert page_name("a/beat.mid") != page_name("b/beat.mid")
    assert page_name("a/../<x> 'é.mid").startswith("x-")
    assert "/" not in page_name("../../etc/pass wd.mid")


def test_one_file_holds_the_gravest_and_names_the_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    book = read_book()
    tea = (SAMPLES / "spilled-tea.mid").read_bytes()
    bus = (SAMPLES / "night-bus.mid").read_bytes()
    reports = [reported(bus, "a-clean.mid"), reported(tea, "b-faulty.mid")]
    sections = [section(r, book, Sheet()) for r in reports]
    whole = "".join(assemble(sections, Run(book)))
    assert whole.count('<section class="song"') == 2 and "left out" not in whole
    monkeypatch.setattr(page_module, "MOST_BYTES", 10_000)
    cut = "".join(assemble(sections, Run(book)))
    assert cut.count('<section class="song"') == 1
    assert "<strong>1 song of 2 left out:</strong>" in cut
    assert "a-clean.mid <em>left out</em>" in cut and 'class="finding error"' in cut


def test_an_index_of_929_songs_loads_in_a_second(browser, tmp_path: Path) -> None:
    sections = [
        Section(
            path=f"songs/{n:03}.mid",
            text=packed("x"),
            tally=Tally(error=n % 3),
            silent=n % 3 == 0,
        )
        for n in range(929)
    ]
    *_, (name, text) = pages(sections, Run())
    assert name == "index.html" and len(text) < 400_000
    (tmp_path / name).write_text(text, encoding="utf-8")
    page = browser.new_context().new_page()
    spent = stopwatch(page)
    page.goto((tmp_path / name).as_uri())
    assert page.locator("table.songs tbody tr").count() + page.locator("li").count() == 929
    assert spent() < 1.0
    page.context.close()
