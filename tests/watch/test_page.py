"""From a file that is saved to the page that is up to date, in a real browser."""

from __future__ import annotations

import signal
import time
from pathlib import Path

import pytest
from playwright.sync_api import expect
from watch_runs import LONGEST_S, SAMPLES, Shown, Watching, busy, moved, quieter, until

from basslint.settings.run_options import RunOptions
from basslint.watch.checker import answers
from basslint.watch.follow import LONGEST_LOOK_S
from basslint.watch.orders import Scan

TEA = (SAMPLES / "spilled-tea.mid").read_bytes()
LONG_MS = 1000 * LONGEST_S
LATEST_S = 1.0  # from an export to the page that shows it, where others leave a core for that


@pytest.fixture
def tea(watching: Watching, shown: Shown) -> Shown:
    """The page with spilled tea as it is, and no other song."""
    for path in watching.folder.glob("*"):
        if path.name != "tea.mid":
            path.unlink()
    before = shown.version()
    watching.save(moved(30, 28))
    shown.later(before)
    before = shown.version()
    watching.save(TEA)
    shown.later(before)
    until(lambda: shown.page.locator(".song").count() == 1, "one song alone")
    return shown


def test_an_export_is_on_the_page_with_what_is_new_and_gone(watching: Watching, tea: Shown) -> None:
    version = tea.version()
    off = tea.rules()
    assert "off-root" in off
    watching.save(moved(30, 29))  # F#1 under F, mended by hand
    tea.later(version)
    since = tea.song().locator(".since")
    assert "0 new, 1 gone, 3 stand" in since.inner_text()
    since.locator("summary").click()
    assert "off-root: F#1" in since.inner_text()
    assert tea.rules() == [rule for rule in off if rule != "off-root"]
    version = tea.version()
    watching.save(TEA)
    tea.later(version)
    assert "1 new, 0 gone, 3 stand" in since.inner_text()
    fresh = tea.song().locator(".finding", has=tea.page.locator(".fresh"))
    assert fresh.count() == 1 and "off-root" in fresh.text_content()
    told = [line for line in watching.lines if "tea.mid" in line][-2:]
    assert [line.partition("(")[2] for line in told] == [
        "0 new, 1 gone, 3 stand)", "1 new, 0 gone, 3 stand)",
    ]  # fmt: skip


def test_an_export_is_seen_within_a_second(watching: Watching, tea: Shown) -> None:
    took = []
    for note in (25, 26, 27, 31, 33):  # never seen before: nothing comes from the cache
        version, slow = tea.version(), busy()
        at = watching.save(moved(30, note))
        tea.later(version)
        took.append((time.monotonic() - at) / min(slow, busy()))
    assert min(took) < LATEST_S, took  # others work on the same cores


def at_rest(card) -> float:
    """Where a card stands once the scrolling has come to rest."""
    seen: list[float] = []

    def still() -> bool:
        card.page.wait_for_timeout(100)
        seen.append(card.bounding_box()["y"])
        return len(seen) > 4 and len(set(seen[-4:])) == 1

    until(still, "the page at rest")
    return seen[-1]


def test_what_is_scrolled_filtered_opened_and_chosen_stays(watching: Watching, tea: Shown) -> None:
    page, song = tea.page, tea.song()
    song.locator("[name=level][value=warning]").uncheck()
    song.locator("[name=order]").select_option("worst")
    song.get_by_text("The roll as a table").click()
    page.keyboard.press("j")
    page.keyboard.press("j")
    chosen = page.locator(".finding.chosen").get_attribute("id")
    card = page.locator(f"#{chosen}")
    top = at_rest(card)
    song.locator(".roll").evaluate("r => r.focus({preventScroll: true})")
    frame = song.locator(".roll").evaluate("r => [r.dataset.from, r.dataset.to]")
    version = tea.version()
    watching.save(quieter())
    tea.later(version)
    assert not song.locator("[name=level][value=warning]").is_checked()
    assert song.locator("[name=order]").input_value() == "worst"
    assert song.locator("details.as-table").get_attribute("open") is not None
    assert page.locator(".finding.chosen").get_attribute("id") == chosen
    assert at_rest(card) == pytest.approx(top, abs=2)
    assert page.evaluate("document.activeElement.className") == "roll"
    assert song.locator(".roll").evaluate("r => [r.dataset.from, r.dataset.to]") == frame


def test_what_plays_goes_on(watching: Watching, tea: Shown) -> None:
    page, song = tea.page, tea.song()
    song.locator(".whole [data-play]").click()
    until(lambda: "Playing" in page.locator(".dock .status").inner_text(), "it plays")
    until(lambda: int(page.locator("[name=seek]").input_value()) > 5, "it goes on")
    at = int(page.locator("[name=seek]").input_value())
    version = tea.version()
    watching.save(moved(30, 34))
    tea.later(version)
    assert "Playing" in page.locator(".dock .status").inner_text()
    assert "Pause" in song.locator(".whole [data-play]").inner_text()
    until(lambda: int(page.locator("[name=seek]").input_value()) > at, "it goes on from there")
    page.keyboard.press("Escape")
    assert page.locator(".dock .status").inner_text() == ""


def test_two_hundred_rapid_saves_are_a_few_checks_and_the_last_one_wins(
    watching: Watching, shown: Shown
) -> None:
    watching.save(TEA, "rapid.mid")
    until(lambda: shown.version("rapid.mid") > 0, "the song")
    said = len(watching.lines)
    version = shown.version("rapid.mid")
    mended, began = moved(30, 29), time.monotonic()
    for n in range(200):
        (watching.folder / "rapid.mid").write_bytes(mended if n % 2 else TEA)
        time.sleep(0.003)
    looks = 3 + (time.monotonic() - began) / LONGEST_LOOK_S  # a busy machine saves less rapidly
    shown.later(version, "rapid.mid")
    until(lambda: "off-root" not in shown.rules("rapid.mid"), "the last save")
    time.sleep(0.5)
    checks = [line for line in watching.lines[said:] if "rapid.mid" in line]
    assert 1 <= len(checks) <= looks, checks
    assert "2 errors, 1 warning" in checks[-1]


def test_half_an_export_is_waited_for(watching: Watching, shown: Shown) -> None:
    path = watching.folder / "slow.mid"
    path.write_bytes(TEA[: len(TEA) // 2])
    state = shown.page.locator(".follow .state")
    until(lambda: "slow.mid is not whole yet" in state.inner_text(), "it is waited for")
    with path.open("ab") as file:
        file.write(TEA[len(TEA) // 2 :])
    until(lambda: shown.version("slow.mid") > 0, "the whole song")
    assert not any("slow.mid: is" in line or "slow.mid: cannot" in line for line in watching.lines)
    assert shown.song("slow.mid").locator("> .problem").count() == 0


def test_a_file_that_stays_damaged_is_told_and_one_that_goes_is_taken_off(
    watching: Watching, shown: Shown
) -> None:
    path = watching.folder / "torn.mid"
    path.write_bytes(TEA[:400])
    until(lambda: shown.song("torn.mid").locator("> .problem").count(), "the damage")
    path.unlink()
    until(lambda: not shown.song("torn.mid").count(), "no song any more")


def test_settings_of_the_folder_hold_at_once(watching: Watching, tea: Shown) -> None:
    version = tea.version()
    settings = watching.folder / "basslint.toml"
    settings.write_text("[rules]\noff-root = false\n")
    tea.later(version)
    assert "off-root" not in tea.rules()
    assert "Since the settings changed" in tea.song().locator(".since").inner_text()
    settings.write_text("[rules]\noff-rot = false\n")
    state = tea.page.locator(".follow .state")
    until(lambda: "off-root" in state.inner_text(), "what was meant")
    assert tea.page.locator(".follow.trouble").count() == 1
    settings.unlink()
    until(lambda: "off-root" in tea.rules(), "the rule again")
    until(lambda: tea.page.locator(".follow.ready").count(), "all well")


def test_two_tabs_show_the_same(browser, watching: Watching, tea: Shown) -> None:
    other = Shown(browser, watching.address)
    until(lambda: other.version() == tea.version(), "the song as it is")
    watching.save(moved(30, 40))
    until(lambda: other.rules() == tea.rules() and other.version() == tea.version(), "both")
    other.context.close()


def test_a_page_that_slept_through_exports_catches_up(watching: Watching, tea: Shown) -> None:
    """As with a closed lid: the page is frozen first, then the run as well, and both wake."""
    lid, before = tea.context.new_cdp_session(tea.page), tea.version()
    told = len(watching.lines)
    lid.send("Page.setWebLifecycleState", {"state": "frozen"})
    watching.save(moved(30, 40))
    until(lambda: len(watching.lines) > told, "the check while the page slept")
    watching.process.send_signal(signal.SIGSTOP)
    try:
        watching.save(moved(30, 29))
    finally:
        watching.process.send_signal(signal.SIGCONT)
    until(lambda: len(watching.lines) > told + 1, "the check once the run was awake")
    lid.send("Page.setWebLifecycleState", {"state": "active"})
    tea.later(before)
    until(lambda: "off-root" not in tea.rules(), "the last export")


def test_a_note_is_nudged_once_its_moves_were_asked_for(watching: Watching, tea: Shown) -> None:
    """Every move of every finding, computed when it is looked at; it is asked anew after an
    export, and what was open stays open."""
    card = tea.song().locator(".finding", has=tea.page.locator("h3", has_text="off-root"))
    card.locator(".nudging summary").press(
        "Enter"
    )  # a card that is laid out late moves under a click
    told = card.locator(".nudge .verdict")
    expect(told).to_contain_text("F#1, as written: foreign to chord and scale", timeout=LONG_MS)
    card.get_by_role("button", name="semitone down").press("Enter")
    expect(told).to_contain_text("F1, 1 semitone down: the root of F")
    expect(told).to_contain_text("off-root is silent")
    card.get_by_role("button", name="sixteenth later").press("Enter")
    expect(told).to_contain_text("1 semitone down, 1 sixteenth later")
    tea.page.keyboard.press("Escape")
    version = tea.version()
    watching.save(quieter())
    tea.later(version)
    expect(told).to_contain_text("F#1, as written", timeout=LONG_MS)


def test_a_finding_leads_to_its_lesson_and_back(watching: Watching, tea: Shown) -> None:
    page = tea.page
    card = tea.song().locator(".finding", has=page.locator("h3", has_text="off-root"))
    ident = card.get_attribute("id")
    card.get_by_text("What was read, the rule, and commands").press("Enter")
    card.get_by_role("link", name="Its lesson").press("Enter")
    lesson = page.locator("#rule-off-root.lesson")
    lesson.locator("path.wrong").first.wait_for(state="attached", timeout=LONG_MS)
    lesson.get_by_role("link", name="back to the finding").press("Enter")
    page.locator(f"#{ident}.chosen").wait_for(timeout=LONG_MS)


@pytest.mark.parametrize(("together", "songs"), [(True, ["beats"]), (False, ["a.mid", "b.mid"])])
def test_a_folder_can_be_followed_as_one_arrangement(
    tmp_path: Path, together: bool, songs: list[str]
) -> None:
    folder = tmp_path / "beats"
    folder.mkdir()
    for name in ("a.mid", "b.mid"):
        (folder / name).write_bytes(TEA)
    order = Scan((folder,), RunOptions(together=together))
    ((_, scanned),) = answers([order], None)
    assert [path.name for path, _ in scanned.songs] == songs
