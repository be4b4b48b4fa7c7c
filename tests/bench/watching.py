"""What following a folder costs: seconds from an export to the page, and memory over many of them.

    python tests/bench/watching.py [UPDATES] [--beside FOLDER SONGS] [--used]

A typical song is exported over and over, every tenth time as it never was before; memory is that of
the server, of the process that checks, and of the page's own objects, after the first tenth of the
updates and at the end. ``--beside``: so many songs of a folder stand on the page with it.
``--used``: at every fifth update the note of a finding is moved, and its lesson looked at.
"""

from __future__ import annotations

import argparse
import io
import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

import mido
from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))
from watch_runs import SAMPLES, Shown, Watching, moved, until

CHROMIUM = "/usr/bin/chromium"
VERSION = """[...document.querySelectorAll(".song")].find(
  (s) => s.querySelector("h2").textContent.includes("tea.mid")).dataset.version"""


def never_before(n: int) -> bytes:
    """Spilled tea with a text event that makes it another file, and one pitch of a slide moved."""
    midi = mido.MidiFile(file=io.BytesIO(moved(30, 29 + n % 12)))
    midi.tracks[0].insert(0, mido.MetaMessage("text", text=f"export {n}"))
    out = io.BytesIO()
    midi.save(file=out)
    return out.getvalue()


def resident(pid: int) -> int:
    """Bytes of a process that are in memory and are its own."""
    rows = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    return 1024 * sum(int(row.split()[1]) for row in rows if row.startswith("Private_"))


def children(pid: int) -> list[int]:
    return [int(p) for p in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def heap(shown: Shown) -> int:
    """Bytes of the page's objects after a collection."""
    session = shown.context.new_cdp_session(shown.page)
    session.send("HeapProfiler.enable")
    session.send("HeapProfiler.collectGarbage")
    return int(session.send("Runtime.getHeapUsage")["usedSize"])


def memory(watching: Watching, shown: Shown) -> dict[str, int]:
    pid = watching.process.pid
    checks = max((resident(child) for child in children(pid)), default=0)
    return {"server": resident(pid), "checks": checks, "page": heap(shown)}


def use(shown: Shown) -> None:
    """Open a finding's moves and wait for them; look at its lesson in another tab."""
    card = shown.song().locator(".finding", has=shown.page.locator(".nudging")).first
    nudging = card.locator(".nudging")
    if nudging.get_attribute("open") is None:
        nudging.locator("summary").press("Enter")
    until(lambda: "as written" in card.locator(".nudge").inner_text(), "the moves", 120)
    read = card.locator("details", has_text="What was read")
    if read.get_attribute("open") is None:  # the link is made when this is opened
        read.locator("summary").press("Enter")
    tab = shown.context.new_page()
    tab.goto(card.locator("a", has_text="Its lesson").evaluate("a => a.href"))
    tab.locator(".lesson").first.wait_for(state="attached", timeout=120_000)
    tab.close()


def main(updates: int, beside: list[str], used: bool) -> None:
    home = Path(tempfile.mkdtemp())
    (home / "beats").mkdir()
    if beside:
        songs = sorted(Path(beside[0]).rglob("*.mid"), key=lambda p: p.stat().st_size)
        step = max(1, len(songs) // int(beside[1]))  # short ones and long ones
        for n, song in enumerate(songs[::step][: int(beside[1])]):
            shutil.copy(song, home / "beats" / f"beside-{n}.mid")
    print(f"load {os.getloadavg()[0]:.1f}")
    watching = Watching(home, "--decay", "1500ms")
    fresh, known, before = [], [], {}
    versions = [moved(30, note) for note in range(26, 35)]
    with sync_playwright() as engine:
        browser = engine.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        shown = Shown(browser, watching.address)
        watching.save((SAMPLES / "spilled-tea.mid").read_bytes())
        until(lambda: shown.version() > 0, "the song", 600)
        for n in range(updates):
            new = n % 10 == 0
            data = never_before(n) if new else versions[n % 9]
            version = shown.page.evaluate(VERSION)
            at = time.monotonic()
            watching.save(data)
            while shown.page.evaluate(VERSION) == version:
                time.sleep(0.02)
            (fresh if new else known).append(time.monotonic() - at)
            if used and n % 5 == 0:
                use(shown)
            if n == updates // 10:
                before = memory(watching, shown)
            if n % 100 == 0:
                print(n, memory(watching, shown), flush=True)
        after = memory(watching, shown)
        browser.close()
    watching.end()
    for name, took in (("never seen before", fresh), ("known to the cache", known)):
        ranked = sorted(took)
        print(
            f"{name}: {len(took)} exports, median {statistics.median(took):.2f} s, "
            f"19 of 20 within {ranked[int(0.95 * len(ranked))]:.2f} s"
        )
    for name, size in after.items():
        grown = size / before[name]
        print(f"{name}: {before[name] / 1e6:.1f} MB → {size / 1e6:.1f} MB ({grown:.3f})")


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("updates", type=int, nargs="?", default=1000)
    asked.add_argument("--beside", nargs=2, default=[])
    asked.add_argument("--used", action="store_true")
    main(**vars(asked.parse_args()))
