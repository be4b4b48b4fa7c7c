"""The page's modules on an empty page."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from page_opened import Opened
from page_songs import crowded, data_of, song_of, tea_report, write_page

from basslint.judging.results import FileReport
from basslint.report.formats.page_parts import page_file

SOUNDING = (
    "song", "sampled", "sounds", "voices", "loudness", "player", "pitches", "roll", "midi",
    "examples",
)  # fmt: skip


class Modules:
    """The page's modules on an empty page, without its markup."""

    def __init__(self, browser) -> None:
        self.context = browser.new_context()
        self.page = self.context.new_page()
        self.page.add_script_tag(content="\n".join(page_file(f"{n}.js") for n in SOUNDING))

    def load(self, report: FileReport) -> dict:
        """Read a song into `song`, as the page does; its data."""
        data = data_of(report)
        files = [b64encode(data).decode() for data, _ in song_of(report).carried.sounds]
        self.page.evaluate(
            """async ({ text, files }) => {
                const data = JSON.parse(text);
                window.song = readSong(data);
                window.plan = rollDrawing.prepare(song);
                const read = await sampled.readAll(files.map((textContent) => ({ textContent })),
                  data.sampled.rates);
                if (read.includes(null)) throw new Error("a sound cannot be read");
                window.written = sounds.written(song, read);
            }""",
            {"text": song_of(report).text, "files": files},  # as data it would be slow to hand over
        )
        return data


@pytest.fixture()
def opened(browser) -> Iterator[Callable[..., Opened]]:
    """Opens pages, and closes them after the test."""
    shown: list[Opened] = []

    def open_(path: Path, **how: object) -> Opened:
        shown.append(Opened(browser, path, **how))
        return shown[-1]

    yield open_
    for each in shown:
        each.context.close()


@pytest.fixture(scope="module")
def tea_page(browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    shown = Opened(browser, write_page(tmp_path_factory.mktemp("tea"), tea_report()), waits=True)
    yield shown
    shown.context.close()


@pytest.fixture()
def tea(tea_page: Opened) -> Opened:
    """The sample's page as it is when it is opened: one window for all tests of a file."""
    tea_page.anew()
    return tea_page


@pytest.fixture(scope="module")
def modules(browser) -> Iterator[Modules]:
    made = Modules(browser)
    yield made
    made.context.close()


@pytest.fixture(scope="session")
def long_song() -> FileReport:
    """1,970 bars with more than a thousand findings."""
    report = crowded()
    assert len(report.findings) >= 1000
    return report
