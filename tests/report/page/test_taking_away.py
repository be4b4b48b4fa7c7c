"""What is taken away from the page: mended files, and commands."""

from __future__ import annotations

from pathlib import Path

from page_opened import Opened
from page_songs import TEA, beat_report, played, tea_report, write_page

import basslint
from basslint.checking.one_file import check_bytes
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.mending.offer import first_round
from basslint.mending.patch import patch
from basslint.rulebook.loader import read_book


def test_the_mended_file_is_taken_away(opened, tmp_path: Path) -> None:
    """What the page hands over is what the patcher wrote: the safe fixes, and all of them."""
    report = tea_report("folder/spilled tea.mid")
    shown = opened(write_page(tmp_path, report))  # under its own policy
    shown.page.locator(".field path.bass").wait_for(state="attached")
    for choice, by_ear in (("safe", False), ("ear", True)):
        shown.page.locator("[name=set]").select_option(choice)
        with shown.page.expect_download() as download:
            shown.page.locator("[data-download]").click()
        got = download.value
        assert got.suggested_filename == "spilled tea.mended.mid"
        assert Path(got.path()).read_bytes() == first_round(report, Choice(by_ear))[1].scan.data
    assert shown.complaints == []


def test_the_safe_file_is_what_mend_writes(tmp_path: Path) -> None:
    """Where one round is enough, the page's file and the command's are the same bytes."""
    report = tea_report()
    settings = basslint.Settings().with_facts(decay_s=1.5)
    rules = settings.choose(read_book())
    recheck = lambda data: check_bytes(data, "x.mid", settings, rules)  # noqa: E731
    for by_ear in (False, True):
        written = mend(TEA, recheck, Choice(by_ear))
        assert first_round(report, Choice(by_ear))[1].scan.data == written.data


def test_commands_can_be_copied(tea: Opened) -> None:
    card = tea.page.locator(".finding").nth(1)
    card.locator("summary", has_text="commands").click()
    commands = card.locator(".command code").all_text_contents()  # laid out or not
    assert commands[0] == "basslint mend spilled-tea.mid --only off-root"
    assert commands[1].startswith("basslint waive spilled-tea.mid off-root --bar 6 --reason ")
    tea.context.grant_permissions(["clipboard-read", "clipboard-write"])
    card.locator("[data-copy]").first.click()
    tea.until(
        "document.querySelector('.finding.error + .finding [data-copy]').textContent === 'copied'"
    )
    assert tea.page.evaluate("navigator.clipboard.readText()") == commands[0]


def test_the_fixes_ticked_are_taken_away(opened, tmp_path: Path) -> None:
    report = tea_report()
    shown = opened(write_page(tmp_path, report))
    shown.page.locator(".field path.bass").wait_for(state="attached")
    for n in (1, 3):
        shown.page.locator(".finding").nth(n).locator("[name=take]").check()
    assert shown.page.locator("[name=set]").input_value() == "ticked"
    with shown.page.expect_download() as download:
        shown.page.locator("[data-download]").click()
    edits = [e for n in (1, 3) for e in report.findings[n].fix.edits]
    want = patch(TEA, report.chart.song, edits)
    got = Path(download.value.path()).read_bytes()
    assert played(got) == played(want) != played(TEA)
    assert shown.complaints == []


ROLL = (  # too fast for D2, and all of one force: both fixes change the same notes
    "tempo 140\nkey F# minor\ndecay 600ms\nkeys | F#3+A3+C#4:4 | D3+F#3+A3:4 | A3+C#4+E4:4 |*4\n"
    "sub808 | F#1:4 | D2:2 " + "D2:1/12@90 " * 24 + "| A1:4 |*4"
)


def test_a_fix_that_cannot_be_ticked_beside_another_says_why(opened, tmp_path: Path) -> None:
    """Its box went grey and nothing told why."""
    shown = opened(write_page(tmp_path, beat_report(ROLL)))
    shown.page.locator(".field path.bass").wait_for(state="attached")
    blurs = shown.page.locator(".finding", has_text="roll-blurs").first
    flat = shown.page.locator(".finding", has_text="flat-roll").first
    assert "take this fix" in flat.locator(".listen").inner_text()
    blurs.locator("[name=take]").check()
    assert flat.locator("[name=take]").is_disabled()
    assert "changes the same notes as roll-blurs" in flat.locator(".listen").inner_text()
    blurs.locator("[name=take]").uncheck()
    assert flat.locator("[name=take]").is_enabled()
    assert "take this fix" in flat.locator(".listen").inner_text()
