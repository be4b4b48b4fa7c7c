"""Is every example of every rule heard, three ways, and do the ways differ where they should?
Does axe find anything in the whole book, all of it opened?

Run by hand: `PYTHONPATH=.:tests python tests/bench/lessons.py`. It needs Chromium.
"""

from __future__ import annotations

import shutil
import sys

import numpy as np
from axe_playwright_python.sync_playwright import Axe
from lesson_sounds import apart_db, played
from playwright.sync_api import Browser, sync_playwright

from basslint.report.formats.book import book_html
from basslint.report.formats.page_parts import page_file
from basslint.report.formats.plates import FLAGGED, plates_of
from basslint.rulebook.loader import read_book

MODULES = ("song", "sampled", "sounds", "voices", "loudness", "player", "examples")
AUDIBLE = -40.0  # dBFS
PLAIN = {"color_scheme": "light", "forced_colors": "none", "media": "screen"}
DRESSES: tuple[tuple[int, dict[str, str]], ...] = (
    (360, {}),
    (1440, {}),
    (360, {"color_scheme": "dark"}),
    (768, {"forced_colors": "active"}),
    (768, {"media": "print"}),
)


def main() -> int:
    """Print how far the sides of each example lie apart; how many do not differ as they should."""
    wrong = 0
    with sync_playwright() as engine:
        browser = engine.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page()
        page.add_script_tag(content="\n".join(page_file(f"{name}.js") for name in MODULES))
        for plate in (p for rule in read_book() for p in plates_of(rule)):
            heard = played(page, plate)
            told = []
            for side, samples in heard.items():
                if not np.any(np.abs(samples) > 0.01):
                    wrong += 1
                    told.append(f"{side} is silent")
                if side == FLAGGED:
                    continue
                apart = apart_db(heard[FLAGGED], samples)
                fine = apart < -100 if side in plate.alike else apart > AUDIBLE
                wrong += not fine
                alike = " (alike)" if side in plate.alike else ""
                told.append(f"{side} {apart:.1f} dB{alike}{'' if fine else ' WRONG'}")
            print(f"{plate.id:28} {', '.join(told)}")
        wrong += access(browser)
        browser.close()
    print(f"{wrong} wrong")
    return int(wrong > 0)


def access(browser: Browser) -> int:
    """Print what axe finds in the book with all its lessons open, in each dress; how much."""
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    page.set_content(book_html(read_book()))
    page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
    for plate in page.locator(".plate").all():  # drawn when it comes into sight
        plate.scroll_into_view_if_needed()
    wrong = 0
    for width, dress in DRESSES:
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(**(PLAIN | dress))
        found = Axe().run(page)
        wrong += found.violations_count
        print(f"axe, {width} pixels, {dress}: {found.violations_count} violations")
        if found.violations_count:
            print(found.generate_report())
    return wrong


if __name__ == "__main__":
    sys.exit(main())
