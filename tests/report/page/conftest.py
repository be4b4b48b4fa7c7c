"""A real browser for the page's tests, and the page's modules on an empty page."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator

import pytest
from page_songs import data_of, many, reported

from basslint.judging.results import FileReport
from basslint.report.formats.page_parts import page_file

CHROMIUM = shutil.which("chromium")
SOUNDING = (
    "song", "sounds", "voices", "loudness", "player", "pitches", "roll", "midi", "examples",
)  # fmt: skip


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("CI must have chromium; see .ci/browser")
        pytest.skip("no chromium here; Debian's package `chromium` brings it")
    api = pytest.importorskip("playwright.sync_api")
    with api.sync_playwright() as engine:
        chromium = engine.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-gpu", "--autoplay-policy=no-user-gesture-required"],
        )
        yield chromium
        chromium.close()


class Modules:
    """The page's modules on an empty page, without its markup."""

    def __init__(self, browser) -> None:
        self.context = browser.new_context()
        self.page = self.context.new_page()
        self.page.add_script_tag(content="\n".join(page_file(f"{n}.js") for n in SOUNDING))

    def load(self, report: FileReport) -> dict:
        """Read a song into `song`, as the page does; its data."""
        data = data_of(report)
        self.page.evaluate(
            """data => {
                window.song = readSong(data);
                window.plan = rollDrawing.prepare(song);
                window.written = sounds.written(song);
            }""",
            data,
        )
        return data


@pytest.fixture(scope="module")
def modules(browser) -> Iterator[Modules]:
    made = Modules(browser)
    yield made
    made.context.close()


@pytest.fixture(scope="session")
def long_song() -> FileReport:
    """1,970 bars with about a thousand things that are off."""
    return reported(many(1970, 1000), "long.mid")
