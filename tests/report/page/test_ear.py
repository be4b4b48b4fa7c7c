"""Ear training on the page: a whole round by keyboard alone, told in words, and true."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from page_songs import beat_report, data_of, reported, write_page
from playwright.sync_api import expect

from basslint.hear.facts import StatedLoop
from basslint.judging.results import FileReport
from basslint.rulebook.notation import compile_beat

# two slides that land in A minor and one that does not, one late F# (off-root), sixteen sure bars
SONG = (
    "tempo 140\ndecay 2s\nglide 60ms\nkey A minor\n"
    "keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
    "sub | A1:1~.25 E2:2 .:1 | F1:3.5 .:.5 | C2:1~.25 G1:2 .:1 | G1:3.5 .:.5 ||"
    " A1:1~.25 D#2:2 .:1 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 ||"
    " A1:3.5 .:.5 | F#1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 || A1:3.5 | F1:3.5 | C2:3.5 | G1:3.5 |"
)
TONES = {"C": 0, "C#": 1, "D": 2, "D#": 3, "Eb": 3, "E": 4, "F": 5, "F#": 6, "G": 7, "G#": 8,
         "Ab": 8, "A": 9, "A#": 10, "Bb": 10, "B": 11}  # fmt: skip
ROOTS = [9, 5, 0, 7]  # of the four bars, by their lowest keys: A, F, C, G


@pytest.fixture(scope="module")
def report() -> FileReport:
    return beat_report(SONG)


def test_only_what_is_sure_is_asked_and_the_answers_are_right(report: FileReport) -> None:
    data = data_of(report)
    starts = [n * 4 * 480 for n in range(16)]
    asked = {start: root for start, _, root, *_ in data["asked"]["roots"]}
    assert len(asked) >= 12
    assert all(root == ROOTS[starts.index(start) % 4] for start, root in asked.items())
    assert all(sure >= 0.87 for *_, sure, _ in data["asked"]["roots"])
    landings = {start: bool(inside) for start, _, inside, *_ in data["asked"]["landings"]}
    # E and G are of A minor, D# is not
    assert landings == {starts[0]: True, starts[2]: True, starts[4]: False}


def test_a_song_without_harmony_asks_for_no_root() -> None:
    alone = beat_report("tempo 140\nsub | A1:3.5 | F1:3.5 | C2:3.5 | G1:3.5 |*4")
    assert data_of(alone)["asked"] == {"roots": [], "landings": []}


@pytest.fixture()
def page(browser, report: FileReport, tmp_path: Path) -> Iterator[object]:
    made = browser.new_page()
    complaints: list[str] = []
    made.on("pageerror", lambda e: complaints.append(str(e)))
    made.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    made.goto(write_page(tmp_path, report).as_uri())
    made.locator(".field path.bass").wait_for(state="attached")
    made.locator(".ear summary").focus()
    made.keyboard.press("Enter")
    yield made
    assert complaints == []
    made.close()


def press(page, name: str) -> None:
    """Go by Tab to a button of a name, as a screen reader tells it, and press Enter."""
    button = page.get_by_role("button", name=name, exact=True)
    for _ in range(60):
        if button.evaluate("e => e === document.activeElement"):
            page.keyboard.press("Enter")
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{name} is not reached by Tab")


def test_a_round_of_roots_by_keyboard_alone(page, report: FileReport) -> None:
    """Three questions: one answered by its letter, one by the key drawn, one wrongly."""
    roots = {
        start // (4 * 480) + 1: root for start, _, root, *_ in data_of(report)["asked"]["roots"]
    }
    names = {9: "a", 5: "f", 0: "c", 7: "g"}
    told = page.locator(".ear .verdict")
    press(page, "guess the root")
    for turn in range(3):
        ask = page.evaluate("document.activeElement.textContent")  # where focus is, it is read out
        root = roots[int(re.search(r"Bar (\d+)", ask)[1])]
        if turn == 0:
            page.keyboard.press(names[root])
        elif turn == 1:
            press(page, names[root].upper())
        else:
            page.keyboard.press("d" if names[root] != "d" else "e")
        expect(told).not_to_be_empty()
        words = told.inner_text()
        assert f"{names[root].upper()}; basslint is 9" in words and "% sure" in words
        assert words.startswith("Right") is (turn < 2)
        if turn < 2:
            assert page.evaluate("document.activeElement.textContent") == "next question"
            page.keyboard.press("Enter")
    up = (2 - root) % 12
    interval = {5: "a fourth too high", 9: "a minor third too low", 2: "a whole tone too high",
                7: "a fifth too high"}[up]  # fmt: skip
    assert told.inner_text().endswith(f"You answered D: {interval}.")
    tally = page.locator(".tally").inner_text()
    assert tally == f"2 of 3 right · streak 0, best 2 · {interval}, once"
    page.keyboard.press("Shift+Tab")
    assert "root, then your answer" in page.evaluate("document.activeElement.textContent")
    page.keyboard.press("Enter")
    expect(page.locator(".dock .status")).to_contain_text("the root, then your answer")
    assert page.evaluate("localStorage.length + sessionStorage.length") == 0


def test_the_two_versions_are_blind_and_drawn_anew(page) -> None:
    first = set()
    press(page, "which of the two is written?")
    for _ in range(10):
        page.keyboard.press("a")
        expect(page.locator(".ear .verdict")).not_to_be_empty()
        words = page.locator(".ear .verdict").inner_text()
        first.add(re.search(r"([AB]) is as written", words)[1])
        assert words.startswith("Right") is ("A is as written" in words)
        page.keyboard.press("Enter")
        status = page.locator(".dock .status").inner_text()
        assert "written" not in status and "mended" not in status
    assert first == {"A", "B"}  # by chance alone they would be one in 512


def test_landings_are_judged(page, report: FileReport) -> None:
    inside = {
        start // (4 * 480) + 1: yes for start, _, yes, *_ in data_of(report)["asked"]["landings"]
    }
    press(page, "does it land?")
    bars = set()
    for turn in range(3):
        bar = int(re.search(r"bar (\d+)", page.locator(".ear .ask").inner_text())[1])
        bars.add(bar)
        press(page, "in the scale")
        expect(page.locator(".ear .verdict")).to_contain_text("A minor")
        words = page.locator(".ear .verdict").inner_text()
        assert words.startswith("Right" if inside[bar] else "No"), bar
        assert turn == 2 or page.keyboard.press("Enter") is None
    assert bars == set(inside), "each once before one comes again"


def test_axe_finds_nothing_in_a_question(browser, report: FileReport, tmp_path: Path) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    context = browser.new_context(bypass_csp=True, viewport={"width": 360, "height": 900})
    page = context.new_page()
    page.goto(write_page(tmp_path, report).as_uri())
    page.locator(".field path.bass").wait_for(state="attached")
    page.locator(".ear summary").click()
    page.get_by_role("button", name="guess the root").click()
    for answered, dress in ((False, "light"), (True, "dark")):
        if answered:
            page.keyboard.press("c")
        page.emulate_media(color_scheme=dress)
        found = axe.run(page, context=".ear")
        assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.body.scrollWidth <= innerWidth")
    context.close()


def test_the_note_names_are_read_out_as_words(page) -> None:
    press(page, "guess the root")
    keys = page.locator(".octave button")
    assert keys.count() == 12
    for name in keys.evaluate_all("all => all.map((k) => k.getAttribute('aria-label'))"):
        assert re.fullmatch(r"[A-G]( sharp| flat)?", name)
    assert [TONES[t] for t in keys.all_inner_texts()] == list(range(12))


def test_on_a_sampled_loop_the_sample_itself_is_asked(browser, tmp_path: Path) -> None:
    """Four bars of triads as sound, a bass in the file: what is heard can only be the loop."""
    rate = 32_000
    time = np.arange(2 * rate) / rate
    chords = [[220.0, 261.63, 329.63, 440.0], [174.61, 220.0, 261.63, 349.23],
              [130.81, 164.81, 196.0, 261.63], [196.0, 246.94, 293.66, 392.0]]  # fmt: skip
    sound = [sum(np.sin(2 * np.pi * f * k * time) / k for f in those for k in (1, 2, 3))
             * np.exp(-time) for those in chords]  # fmt: skip
    soundfile.write(tmp_path / "loop.wav", 0.08 * np.concatenate(sound), rate)
    beat = compile_beat("tempo 120\nsub | A1:3.5 | F1:3.5 | C2:3.5 | G1:3.5 |*4")
    loops = (StatedLoop(file=str(tmp_path / "loop.wav"), bars=4, begins_s=0.0),)
    song = reported(beat.data, "beat.mid", loops=loops)
    asked = {start // (4 * 480): root for start, _, root, *_ in data_of(song)["asked"]["roots"]}
    assert len(asked) >= 8 and all(root == ROOTS[bar % 4] for bar, root in asked.items())
    page = browser.new_page()
    page.add_init_script(
        """window.loudest = 0;
        const copy = AudioBuffer.prototype.copyToChannel;
        AudioBuffer.prototype.copyToChannel = function (samples, channel) {
          for (const x of samples) window.loudest = Math.max(window.loudest, Math.abs(x));
          return copy.call(this, samples, channel);
        };"""
    )
    page.goto(write_page(tmp_path, song).as_uri())
    page.locator(".field path.bass").wait_for(state="attached")
    page.locator(".ear summary").click()
    page.get_by_role("button", name="guess the root").click()
    expect(page.locator(".ear .ask")).to_contain_text("as the sample sounds")
    assert not page.locator(".ear [name=height]").is_visible()
    expect(page.locator(".dock .status")).to_contain_text("Playing")
    assert page.evaluate("window.loudest") > 0.3
    page.close()
