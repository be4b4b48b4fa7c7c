"""A rule's lesson on one's own song: where the rule speaks, where it nearly does, and why."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_songs import SAMPLES, reported, write_page

from basslint.cli.main import main
from basslint.judging.judge import judge
from basslint.judging.nearly import LOOSENED, nearly
from basslint.rulebook.loader import read_book

TEA = SAMPLES / "spilled-tea.mid"
BOOK = {rule.name: rule for rule in read_book()}


@pytest.mark.parametrize("name", ["slide-after-decay", "roll-blurs"])
def test_a_near_place_is_one_that_the_looser_number_lets_in(name: str) -> None:
    rule = BOOK[name]
    chart = reported(TEA.read_bytes()).chart
    found = judge(chart, (rule,)).findings
    near = nearly(chart, rule, found)
    assert near
    for each in near:
        assert each.finding.where.tick not in {f.where.tick for f in found}
        assert abs(each.loose / each.stated - 1) == pytest.approx(LOOSENED)
        looser = judge(chart, (rule.with_numbers({each.name: each.loose}),)).findings
        assert each.finding.where in [f.where for f in looser]


def test_how_near_is_known_of_a_fade() -> None:
    """A landing at −21.1 dB is silent under a floor of −24 and told under one of −19.2."""
    rule = BOOK["slide-after-decay"]
    chart = reported(TEA.read_bytes()).chart
    (near,) = nearly(chart, rule, judge(chart, (rule,)).findings)
    level = float(chart.slides.level_db[list(chart.slides.start).index(near.finding.where.tick)])
    assert near.stated < level < near.loose
    assert (near.name, near.stated, near.loose, near.unit) == ("floor_db", -24.0, -19.2, "dB")
    assert near.measured.reading == "landing_level_db" and near.measured.test == "below"
    assert near.measured.value == pytest.approx(level, abs=0.05)


def test_the_page_shows_both_with_what_was_weighed_and_the_lesson(browser, tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    words = ["explain", "off-root", str(TEA), "--decay", "1.5s", "--format", "html"]
    assert main([*words, "--output", str(out)]) == 0
    page = browser.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda e: complaints.append(str(e)))
    page.on("request", lambda r: None if r.url.startswith("file:") else complaints.append(r.url))
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    page.goto(out.as_uri())
    page.locator(".field path.bass").first.wait_for(state="attached")
    assert page.title().startswith("off-root in ")
    weighed = page.locator(".weighed tr")
    assert weighed.count() >= 3 and weighed.first.is_visible()
    assert "nobody else plays F#" in weighed.first.text_content()
    assert page.locator(".nudging").count() == 1
    plate = page.locator(".plate").first
    plate.scroll_into_view_if_needed()
    plate.locator("path.wrong").wait_for(state="attached")
    plate.get_by_role("button", name="clean").click()
    assert "as clean" in page.locator(".dock .status").inner_text()
    assert complaints == []
    page.close()


def test_a_near_place_says_what_keeps_the_rule_silent(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    words = ["explain", "slide-after-decay", str(TEA), "--decay", "1.5s", "--format", "html"]
    assert main([*words, "--output", str(out)]) == 0
    text = out.read_text(encoding="utf-8")
    beside = text.split('id="nearly"')[1].split("<h2>The lesson</h2>")[0]
    # by how much, of what, where the line runs and why: 24 less 21.1 dB
    assert "Silent here, by 2.9 dB: -21.1 dB (how loud it lands" in beside
    assert "the rule speaks below -24 dB. That line is floor_db: a bass this far below" in beside
    assert "basslint waive" not in beside and "basslint waive" in text.split('id="nearly"')[0]


def test_a_lesson_without_a_song_is_a_page_too(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    assert main(["explain", "no-tempo", "--format", "html", "--output", str(out)]) == 0
    text = out.read_text(encoding="utf-8")
    assert 'id="rule-no-tempo"' in text and 'class="song"' not in text


def test_a_page_of_a_rule_leads_back_to_its_findings(browser, tmp_path: Path) -> None:
    page = browser.new_page()
    page.goto(write_page(tmp_path, reported(TEA.read_bytes())).as_uri())
    page.locator("#rule-off-root summary").click()
    back = page.locator("#rule-off-root .spoke a")
    assert back.all_inner_texts() == ["bar 6, beat 1"]
    back.click()
    assert "off-root" in page.locator(".finding.chosen h3").text_content()
    page.close()
