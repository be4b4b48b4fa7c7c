"""The report page in a real browser: it loads cleanly, can be reached by keyboard, plays, stops."""

from __future__ import annotations

import io
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import mido
import pytest

import basslint
from basslint.audition.compare import compare
from basslint.report.formats.html import html
from basslint.rulebook.loader import read_book

SAMPLES = Path(__file__).parents[3] / "samples"
CHROMIUM = shutil.which("chromium")
HOSTILE = (
    "<script>document.title='pwned'</script>\"'><img src=x onerror=alert(1)>\x1b[31m" + "A" * 9_900
)

# Records every audio graph that the page makes, so that a test can ask for its state.
SPY = """
window.graphs = [];
const Real = window.AudioContext;
window.AudioContext = class extends Real { constructor() { super(); window.graphs.push(this); } };
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("CI must have chromium; see .ci/browser")
        pytest.skip("no chromium here; Debian's package `chromium` brings it")
    api = pytest.importorskip("playwright.sync_api")
    with api.sync_playwright() as engine:
        chromium = engine.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"]
        )
        yield chromium
        chromium.close()


def page_of(data: bytes, name: str, folder: Path) -> Path:
    from basslint.checking.one_file import check_bytes

    settings = basslint.Settings().with_facts(decay_s=1.5)
    book = settings.choose(read_book())
    report = basslint.Report((check_bytes(data, name, settings, book),))
    path = folder / "report.html"
    path.write_text(html(report, book, compare), encoding="utf-8")
    return path


class Opened:
    """A page that was opened, with every complaint of the browser."""

    def __init__(
        self, browser, path: Path, script: bool = True, width: int = 1280, waits: bool = False
    ) -> None:
        # waiting for a condition evaluates text in the page, which its own policy forbids
        self.context = browser.new_context(
            java_script_enabled=script, viewport={"width": width, "height": 900}, bypass_csp=waits
        )
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))
        self.page.on("dialog", lambda d: (self.complaints.append("a dialog"), d.dismiss()))
        self.page.on(
            "console",
            lambda m: self.complaints.append(m.text) if m.type in ("error", "warning") else None,
        )
        self.page.on(
            "request",
            lambda r: None if r.url.startswith("file:") else self.complaints.append(r.url),
        )
        self.page.add_init_script(SPY)
        self.page.goto(path.as_uri())


@pytest.fixture()
def tea(browser, tmp_path: Path) -> Iterator[Opened]:
    data = (SAMPLES / "spilled-tea.mid").read_bytes()
    opened = Opened(browser, page_of(data, "spilled-tea.mid", tmp_path), waits=True)
    yield opened
    opened.context.close()


def test_it_loads_without_a_complaint_and_asks_nobody(tea: Opened) -> None:
    assert tea.page.title() == "Bass line report: spilled-tea.mid"
    assert tea.page.locator(".finding").count() >= 4
    assert tea.complaints == []


def test_a_finding_is_reached_by_keyboard(tea: Opened) -> None:
    tea.page.locator(".roll").focus()
    tea.page.keyboard.press("Tab")
    label = tea.page.evaluate("document.activeElement.getAttribute('aria-label')")
    assert label.startswith("error, bar 3, beat 2")
    tea.page.keyboard.press("Enter")
    tea.page.wait_for_function("document.activeElement.classList.contains('finding')")
    assert "C#2" in tea.page.evaluate("document.activeElement.textContent")


def test_keys_zoom_the_roll(tea: Opened) -> None:
    wide = "document.querySelector('.sheet').offsetWidth"
    before = tea.page.evaluate(wide)
    tea.page.locator(".roll").focus()
    for _ in range(4):
        tea.page.keyboard.press("+")
    assert tea.page.evaluate(wide) > 2 * before
    tea.page.keyboard.press("0")
    assert tea.page.evaluate(wide) <= before + 2


def test_play_starts_a_graph_and_escape_ends_it(tea: Opened) -> None:
    level = tea.page.locator("#level")
    assert int(level.input_value()) <= 20, "the level must start low"
    assert "harms ears and speakers" in tea.page.locator("#caution").inner_text()
    tea.page.locator("[data-play=mended]").first.click()
    tea.page.wait_for_function("graphs.length === 1 && graphs[0].state === 'running'")
    assert "mended" in tea.page.locator("#playing").inner_text()
    tea.page.keyboard.press("Escape")
    tea.page.wait_for_function("graphs[0].state === 'closed'")
    assert tea.page.locator("#stop").is_disabled()
    tea.page.locator("[data-play=written]").first.click()
    tea.page.wait_for_function("graphs.length === 2 && graphs[1].state === 'running'")
    tea.page.locator("#stop").click()
    tea.page.wait_for_function("graphs[1].state === 'closed'")
    assert tea.complaints == []


def test_it_reads_without_scripts(browser, tmp_path: Path) -> None:
    data = (SAMPLES / "spilled-tea.mid").read_bytes()
    opened = Opened(browser, page_of(data, "spilled-tea.mid", tmp_path), script=False)
    assert opened.page.locator(".finding").first.is_visible()
    assert opened.page.locator(".spot").count() >= 4
    assert not opened.page.locator(".play").first.is_visible()
    opened.context.close()


def test_a_phone_never_scrolls_sideways(browser, tmp_path: Path) -> None:
    data = (SAMPLES / "spilled-tea.mid").read_bytes()
    opened = Opened(browser, page_of(data, "spilled-tea.mid", tmp_path), width=360)
    width = opened.page.evaluate("document.documentElement.scrollWidth")
    assert width <= 360
    opened.context.close()


def test_a_hostile_name_is_inert(browser, tmp_path: Path) -> None:
    midi = mido.MidiFile(file=io.BytesIO((SAMPLES / "spilled-tea.mid").read_bytes()))
    for track in midi.tracks:
        for i, message in enumerate(track):
            if message.type == "track_name":
                track[i] = message.copy(name=HOSTILE)
    midi.tracks[0].insert(0, mido.MetaMessage("marker", text=HOSTILE))
    file = io.BytesIO()
    midi.save(file=file)
    opened = Opened(browser, page_of(file.getvalue(), f"{HOSTILE[:60]}.mid", tmp_path))
    assert opened.complaints == []
    assert "pwned" not in opened.page.title().replace("document.title='pwned'", "")
    assert opened.page.locator("img").count() == 0
    assert opened.page.locator("script").count() == 1
    assert "\x1b" not in opened.page.content()
    opened.context.close()


def test_a_page_of_64_bars_opens_in_under_two_seconds_of_script(browser, tmp_path: Path) -> None:
    midi = mido.MidiFile(file=io.BytesIO((SAMPLES / "spilled-tea.mid").read_bytes()))
    bars16 = 16 * 4 * midi.ticks_per_beat
    for track in midi.tracks:
        body = [m for m in track if m.type != "end_of_track" and not m.is_meta]
        length = sum(m.time for m in body)
        for _ in range(3):
            again = [m.copy() for m in body]
            if again:
                again[0] = again[0].copy(time=again[0].time + bars16 - length)
                track[-1:] = [*again, track[-1]]
    file = io.BytesIO()
    midi.save(file=file)
    path = page_of(file.getvalue(), "long.mid", tmp_path)
    opened = Opened(browser, path)
    assert opened.page.locator(".lane.bar span").count() == 64
    session = opened.context.new_cdp_session(opened.page)
    session.send("Performance.enable")
    metrics = {m["name"]: m["value"] for m in session.send("Performance.getMetrics")["metrics"]}
    assert metrics["ScriptDuration"] < 2.0
    opened.context.close()
