"""What plays on the page: two versions in step, paused and sought, quiet at each opening."""

from __future__ import annotations

from pathlib import Path

from page_opened import Opened
from page_songs import SAMPLES, TEA, beat_report, page_text, reported, write_page


def test_written_and_mended_are_switched_without_a_gap(tea: Opened) -> None:
    """One context plays on; the switch turns gains, the place goes on, Escape ends it."""
    level = tea.page.locator("[name=level][type=range]")
    assert int(level.input_value()) == -12, "the level starts low"
    assert "harms ears and speakers" in tea.page.locator("#caution").inner_text()
    card = tea.page.locator(".finding").nth(1)
    card.locator("[data-side=mended]").click()
    tea.until("document.body.dataset.playing === 'mended' && contexts[0].state === 'running'")
    assert "bars 5–7, as mended" in tea.page.locator(".status").inner_text()
    tea.until("Number(document.querySelector('[name=seek]').value) > 20")
    before = int(tea.page.locator("[name=seek]").input_value())
    card.locator("[data-side=written]").click()
    assert tea.value("document.body.dataset.playing") == "written"
    assert int(tea.page.locator("[name=seek]").input_value()) >= before
    assert tea.value("contexts.length") == 1
    assert card.locator(".mini .cursor").is_visible()
    tea.page.keyboard.press("Escape")
    assert tea.value("document.body.dataset.playing") == ""
    assert tea.page.locator("[data-stop]").is_disabled()
    assert tea.complaints == []


def test_pause_seek_and_loop(tea: Opened) -> None:
    play = tea.page.locator(".finding").nth(1).locator("[data-play]")
    tea.page.locator("[name=loop]").check()
    play.click()
    tea.until("Number(document.querySelector('[name=seek]').value) > 5")
    play.click()
    assert "Paused" in tea.page.locator(".status").inner_text()
    tea.page.wait_for_timeout(150)  # the frame that was under way still draws
    stands = int(tea.page.locator("[name=seek]").input_value())
    tea.page.wait_for_timeout(300)
    assert int(tea.page.locator("[name=seek]").input_value()) == stands
    play.click()
    tea.page.locator("[name=seek]").fill("980")
    tea.until("Number(document.querySelector('[name=seek]').value) > 975")
    tea.until("Number(document.querySelector('[name=seek]').value) < 500")
    assert tea.value("document.body.dataset.playing") == "written", "it begins again"


def test_fifty_plays_leave_no_node_and_no_sample_is_too_loud(tea: Opened) -> None:
    tea.page.locator("[name=level][type=range]").fill("-1")
    tea.page.locator(".dock summary").click()
    tea.page.locator("[name=small]").check()
    tea.value(
        """async () => {
          const wait = (ms) => new Promise((done) => setTimeout(done, ms));
          const cards = [...document.querySelectorAll(".finding")];
          for (let i = 0; i < 50; i++) {
            cards[i % 4].querySelector(`[data-side=${i % 2 ? "mended" : "written"}]`).click();
            await wait(10);
          }
        }"""
    )
    tea.page.locator("[data-stop]").click()
    tea.until("nodes === 1")  # the level of the page
    assert 0.3 < float(tea.value("loudest")) <= 10 ** (-1 / 20)
    assert tea.value("contexts.length") == 1
    assert tea.complaints == []


def test_leaving_and_coming_back_starts_low_again(tea: Opened) -> None:
    tea.page.locator("[name=level][type=range]").fill("-1")
    tea.page.goto("about:blank")
    tea.page.go_back()
    assert tea.page.locator("[name=level][type=range]").input_value() == "-12"


def test_the_whole_song_plays_as_written_and_mended(tea: Opened) -> None:
    tea.page.locator(".whole [data-side=mended]").click()
    tea.until("document.body.dataset.playing === 'mended'")
    assert "bars 1–16, as mended" in tea.page.locator(".status").inner_text()
    tea.until("!document.querySelector('.field .cursor').hidden")


def test_a_clean_song_is_said_to_be_and_plays(opened, tmp_path: Path) -> None:
    clean = reported((SAMPLES / "night-bus.mid").read_bytes(), "night-bus.mid")
    assert not clean.findings
    shown = opened(write_page(tmp_path, clean), waits=True)
    assert shown.page.locator(".todo").inner_text() == "Nothing is off."
    assert shown.page.locator(".field text.chord").count() > 2
    shown.page.locator(".whole [data-play]").click()
    shown.until("document.body.dataset.playing === 'written'")


def test_the_assumed_decay_is_said(opened, tmp_path: Path) -> None:
    shown = opened(write_page(tmp_path, reported(TEA, decay_s=None)))
    assert "1.5 s is assumed" in shown.page.locator(".desk").inner_text()
    assert "is assumed" not in page_text(
        beat_report("decay 2s\nkeys | A3+C4:4 |*4\nsub | A1:4 |*4")
    )
