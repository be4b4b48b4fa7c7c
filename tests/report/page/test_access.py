"""The page is open to all: axe finds nothing, at three widths, in every dress, and on paper."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_songs import TEA, reported, write_page

from basslint.rulebook.loader import read_book

PLAIN = {"color_scheme": "light", "forced_colors": "none", "media": "screen"}
DRESSES = ({}, {"color_scheme": "dark"}, {"forced_colors": "active"}, {"media": "print"})


def test_axe_finds_nothing(browser, tmp_path: Path) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    path = write_page(tmp_path, reported(TEA, decay_s=None))
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    page.goto(path.as_uri())
    page.locator(".field path.bass").first.wait_for(state="attached")
    for opened in (
        ".as-table",
        ".finding details",
        ".weighed",
        ".rules details",
    ):  # one of each kind
        page.locator(f"{opened} > summary").first.click()
    for width in (360, 768, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        for dress in DRESSES:
            page.emulate_media(**(PLAIN | dress))
            found = axe.run(page)
            assert found.violations_count == 0, f"{width}, {dress}: {found.generate_report()}"
    page.goto(write_page(tmp_path, reported(TEA), reported(TEA, "again.mid")).as_uri())
    found = axe.run(page)
    assert found.violations_count == 0, found.generate_report()
    context.close()


def test_what_is_focused_can_be_seen_and_few_stops_lead_to_the_first_card(
    browser, tmp_path: Path
) -> None:
    path = write_page(tmp_path, reported(TEA))
    page = browser.new_page()
    page.goto(path.as_uri())
    page.locator(".field path.bass").wait_for(state="attached")
    stops = []
    for _ in range(40):
        page.keyboard.press("Tab")
        stops.append(page.evaluate("document.activeElement.closest('.finding') !== null"))
    assert stops.index(True) < 25
    page.close()


def test_paper_shows_the_song_in_systems(browser, tmp_path: Path) -> None:
    path = write_page(tmp_path, reported(TEA))
    page = browser.new_page()
    page.goto(path.as_uri())
    page.locator(".field path.bass").wait_for(state="attached")
    page.pdf(path=str(tmp_path / "page.pdf"))
    systems = page.locator(".paper .system")
    assert systems.count() == 2, "16 bars, eight in each"
    page.emulate_media(media="print")
    assert systems.first.is_visible() and not page.locator(".desk").is_visible()
    assert page.locator(".strip").first.is_visible()
    page.close()


def test_images_of_a_house_page_are_dropped(tmp_path: Path) -> None:
    from dataclasses import replace

    import basslint
    from basslint.report.formats.html import html

    report = reported(TEA)
    book = [
        replace(r, body=r.body + "\n![a <b>picture](https://example.org/x.png)\n")
        for r in read_book()
    ]
    text = html(basslint.Report((report,)), book)
    assert "<img" not in text and "example.org" not in text
    assert "a &lt;b&gt;picture" in text
