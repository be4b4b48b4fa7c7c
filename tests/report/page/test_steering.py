"""The page is steered by keys and pointer: findings, the roll, the overview, filters."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_opened import Opened
from page_songs import beat_report, tea_report, write_page


def test_keys_step_through_findings_and_give_the_focus_back(tea: Opened) -> None:
    tea.page.locator("[data-zoom='0']").focus()
    focused = "document.activeElement.querySelector('.message')?.textContent || ''"
    heard = []
    for key in "jjjjk":
        tea.page.keyboard.press(key)
        heard.append(str(tea.value(focused))[:9])
    assert heard[0].startswith("Slides") and heard[1].startswith("F#1 holds")
    assert heard[2] == heard[4] and len(set(heard[:4])) == 4
    tea.page.keyboard.press("Escape")
    assert tea.value("document.activeElement.dataset.zoom") == "0"


def test_single_keys_can_be_switched_off(tea: Opened) -> None:
    tea.page.locator(".dock summary").click()
    tea.page.locator("[name=single]").uncheck()
    tea.page.locator(".roll").focus()
    tea.page.keyboard.press("j")
    assert tea.page.locator(".finding.chosen").count() == 0


def test_the_roll_is_walked_note_by_note(tea: Opened) -> None:
    tea.page.locator(".roll").focus()
    told = tea.page.locator(".readout")
    lines = []
    for key in ("ArrowRight", "ArrowRight", "ArrowRight", "ArrowDown"):
        tea.page.keyboard.press(key)
        lines.append(told.inner_text())
    assert lines[0].startswith("A1 · Sub · bar 1, beat 1 · 2.5 beats")
    assert "chord Am" in lines[0]
    assert lines[2].startswith("F1 · Sub · bar 2, beat 1")
    assert "Sub" not in lines[3]
    assert told.get_attribute("aria-live") == "polite"


def test_enter_on_a_note_at_fault_goes_to_its_finding(tea: Opened) -> None:
    tea.page.locator(".roll").focus()
    for _ in range(60):
        tea.page.keyboard.press("ArrowRight")
        if "off-root" in tea.page.locator(".readout").inner_text():
            break
    tea.page.keyboard.press("Enter")
    assert "F#1 holds" in str(tea.value("document.activeElement.textContent"))
    tea.page.keyboard.press("Escape")
    assert tea.value("document.activeElement.className") == "roll"


def test_the_note_under_the_pointer_is_told(tea: Opened) -> None:
    tea.page.locator(".field path.wrong").first.wait_for(state="attached")
    box = tea.page.locator(".field path.wrong.error").bounding_box()
    tea.page.mouse.move(box["x"] + 6, box["y"] + box["height"] - 2)
    field = tea.page.locator(".field").bounding_box()
    for dy in range(0, int(box["height"]) + 1, 3):
        tea.page.mouse.move(box["x"] + 10, box["y"] + dy)
        if "error" in tea.page.locator(".readout").inner_text():
            break
    assert "error: slide-off-scale" in tea.page.locator(".readout").inner_text()
    tea.page.mouse.move(field["x"] + 5, field["y"] + 60)
    assert "error" not in tea.page.locator(".readout").inner_text()


# a step is drawn in the frame after it, however long that one takes to come
DRAWN = "new Promise((d) => requestAnimationFrame(() => requestAnimationFrame(() => d(null))))"


def window_of(tea: Opened) -> tuple[float, float]:
    tea.page.evaluate(DRAWN)
    roll = tea.page.locator(".roll")
    return float(roll.get_attribute("data-from")), float(roll.get_attribute("data-to"))


def test_keys_zoom_and_the_overview_moves_the_window(tea: Opened) -> None:
    start, end = window_of(tea)
    tea.page.locator(".roll").focus()
    for _ in range(6):
        tea.page.keyboard.press("+")
    close, far = window_of(tea)
    assert far - close < 0.2 * (end - start)
    box = tea.page.locator(".overview").bounding_box()
    tea.page.mouse.move(box["x"] + box["width"] * 0.2, box["y"] + 10)
    tea.page.mouse.down()
    tea.page.mouse.move(box["x"] + box["width"] * 0.8, box["y"] + 10, steps=4)
    tea.page.mouse.up()
    moved, until = window_of(tea)
    assert moved + until == pytest.approx(2 * 0.8 * 16 * 4 * 480, rel=0.02)
    tea.page.locator(".overview").focus()
    tea.page.keyboard.press("ArrowLeft")
    assert window_of(tea)[0] == pytest.approx(moved - 4 * 480, abs=2)
    bar = int(tea.page.locator(".overview").get_attribute("aria-valuenow"))
    assert bar == int(window_of(tea)[0] // (4 * 480)) + 1
    tea.page.locator(".roll").focus()
    tea.page.keyboard.press("0")
    assert window_of(tea) == (0, 16 * 4 * 480)


def test_filters_and_order(tea: Opened) -> None:
    cards = tea.page.locator(".finding:visible")
    tea.page.locator("[name=level][value=error]").uncheck()
    assert cards.count() == 1 and "warning" in cards.first.text_content()
    assert tea.page.locator(".filters .count").inner_text() == "1 of 4 shown"
    assert tea.page.locator(".overview path.error").count() == 0
    tea.page.locator("[name=level][value=error]").check()
    tea.page.locator("[name=rule]").select_option("off-root")
    assert cards.count() == 1 and "F#1" in cards.first.text_content()
    tea.page.locator("[name=rule]").select_option("")
    tea.page.locator("[name=order]").select_option("worst")
    levels = [c.split()[1] for c in tea.page.locator(".finding h3").all_inner_texts()]
    assert levels == ["error", "error", "error", "warning"]


def test_only_what_can_be_mended(opened, tmp_path: Path) -> None:
    report = tea_report()
    shown = opened(write_page(tmp_path, report))
    mended = sum(f.fix is not None for f in report.findings)
    shown.page.locator("[name=mendable]").check()
    assert shown.page.locator(".finding:visible").count() == mended


def test_a_link_to_a_finding_opens_there(opened, tmp_path: Path) -> None:
    path = write_page(tmp_path, tea_report())
    shown = opened(path, width=360)
    ident = shown.page.locator(".finding").nth(2).get_attribute("id")
    again = opened(write_page(tmp_path, tea_report()), width=360, address=f"#{ident}")
    card = again.page.locator(".finding").nth(2)
    again.page.wait_for_timeout(700)
    assert card.get_attribute("id") == ident, "the same from run to run"
    top = card.locator("h3").bounding_box()["y"]
    dock = again.page.locator(".dock").bounding_box()["y"]
    assert 0 <= top < dock, "its heading is in sight"


def test_the_roll_is_a_table_too(tea: Opened) -> None:
    tea.page.locator(".as-table summary").click()
    rows = tea.page.locator(".as-table tbody tr")
    rows.nth(15).wait_for()  # it is laid out once it is opened
    assert rows.count() == 16
    assert (
        "F#1 on 1" in rows.nth(5).text_content() and "error off-root" in rows.nth(5).text_content()
    )


def test_few_cards_are_drawn_before_they_come_into_sight(opened, tmp_path: Path) -> None:
    """None grows under the pointer: they are as high as they will be once the desk stands."""
    page = opened(write_page(tmp_path, tea_report()), waits=True).page
    page.set_viewport_size({"width": 1000, "height": 300})
    page.wait_for_selector(".roll[data-to]")
    heights = "[...document.querySelectorAll('.finding')].map((c) => c.offsetHeight)"
    before = page.evaluate(heights)
    assert page.locator(".finding .mini[data-done] svg > *").count() > len(before) > 2
    assert page.locator(".finding").last.bounding_box()["y"] > 600
    for n in range(len(before)):
        page.locator(".finding").nth(n).scroll_into_view_if_needed()
    assert page.evaluate(heights) == before


LATE = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*24\nsub | "


def test_the_roll_opens_where_the_gravest_finding_is(opened, tmp_path: Path) -> None:
    """It opened at bar 1, with bar 50 in a corner of the overview."""
    bars = ["A1:4", "F1:4", "C2:4", "G1:4"] * 24
    bars[49] = "F#1:4"
    late = opened(write_page(tmp_path, beat_report(f"{LATE}{' | '.join(bars)} |")))
    start, end = window_of(late)
    assert start == 48 * 4 * 480 and end < 96 * 4 * 480
    assert late.page.locator(".field path.wrong.error").count() == 1
