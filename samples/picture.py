"""Takes follow.png, the picture of the followed page in README.md, anew.

Run ``python samples/picture.py`` after the page has changed its looks (it needs the test extra and
a browser, see .ci/browser). A song is followed with one of its faults mended, then exported with
all of them.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "tests"))

from watch_runs import Shown, Watching, moved  # noqa: E402 (tests are no package)

NAME = "spilled-tea.mid"
WIDTH, HEIGHT = 1180, 1240


def take(target: Path) -> None:
    """Write the picture."""
    with tempfile.TemporaryDirectory() as home, sync_playwright() as play:
        run = Watching(Path(home), "--decay", "1500ms")
        run.save(moved(30, 29), NAME)
        browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        shown = Shown(browser, run.address, WIDTH)
        shown.page.set_viewport_size({"width": WIDTH, "height": HEIGHT})
        shown.later(0, NAME)
        run.save((HERE / NAME).read_bytes(), NAME)
        shown.later(shown.version(NAME), NAME)
        shown.song(NAME).locator(".field path.bass").wait_for(state="attached")
        shown.page.evaluate("scrollTo(0, 0)")
        shown.page.wait_for_timeout(500)
        shown.page.screenshot(path=target)
        browser.close()
        run.end()


if __name__ == "__main__":
    take(HERE / "follow.png")
