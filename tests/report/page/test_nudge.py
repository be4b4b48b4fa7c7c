"""A note is nudged on the page, and what is said of it there is what a check of the song says."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from nudged_by_hand import moved, spoken
from page_songs import SAMPLES, reported
from playwright.sync_api import expect

from basslint.cli.main import main
from basslint.judging.results import FileReport
from basslint.mending.nudged import KINDS, SEMITONES
from basslint.report.formats import nudge_data as module
from basslint.report.formats.html import assemble, section
from basslint.report.formats.nudge_data import MOST_FINDINGS, MOST_WORK, PLACE_WORK, nudge_data
from basslint.report.formats.page_parts import unpacked
from basslint.report.grouping import grouped
from basslint.report.section import Run, Sheet
from basslint.rulebook.loader import read_book

TEA = (SAMPLES / "spilled-tea.mid").read_bytes()
BOOK = read_book()
CASES = 12


@cache
def tea() -> FileReport:
    return reported(TEA)


@cache
def nudged() -> list[tuple[dict, object]]:
    groups = grouped(tea().findings)
    data = nudge_data(tea().chart, groups, BOOK)
    assert data.left_out == 0
    return [(d, g.first) for d, g in zip(data.of, groups, strict=True) if d is not None]


def test_verdicts_are_those_of_a_check_of_the_nudged_file() -> None:
    """The file nudged by other hands (mido) and checked from its bytes; drawn with a fixed seed."""
    rng = np.random.default_rng(24)
    notes = tea().chart.song.notes
    for _ in range(CASES):
        data, finding = nudged()[rng.integers(len(nudged()))]
        semitones, sixteenths, _, _, said, *_ = data["to"][rng.integers(len(data["to"]))]
        row = data["row"]
        ticks = sixteenths * tea().chart.song.division // 4
        place = (finding.part.track, int(notes.start[row]), int(notes.pitch[row]))
        report = reported(moved(TEA, place, semitones, ticks))
        found = spoken(report, finding.part.number, place[1] + ticks, place[2] + semitones)
        assert {data["said"][n] for n in said} == found, (finding.rule, semitones, sixteenths)


def test_what_a_note_is_follows_from_chord_and_key() -> None:
    """F#1 under F in A minor: semitones counted by hand from any handbook of harmony."""
    data = next(d for d, f in nudged() if f.rule == "off-root")
    kinds = {semitones: KINDS[kind] for semitones, later, kind, *_ in data["to"] if later == 0}
    assert kinds[-1] == "root" and kinds[3] == kinds[6] == "chord tone"  # F, A, C
    assert kinds[-2] == kinds[1] == "scale" and kinds[0] == kinds[2] == "foreign"  # E, G; F#, G#
    chance = {semitones: share for semitones, later, _, share, *_ in data["to"] if later == 0}
    assert chance[-1] < data["from"] < chance[0]


def test_only_some_findings_are_nudged_and_the_others_are_counted(monkeypatch) -> None:
    monkeypatch.setattr(module, "nudge_to", lambda *_: None)  # it is not asked what they say
    groups = grouped(tea().findings) * 4
    data = nudge_data(tea().chart, groups, BOOK)
    assert 0 < sum(d is not None for d in data.of) <= MOST_FINDINGS
    assert data.left_out == 4 * len(nudged()) - sum(d is not None for d in data.of)
    of = {True: [], False: []}
    for moves, group in zip(data.of, groups, strict=True):
        of[group.first.level == "error"].append(moves is not None)
    assert any(of[True]) and (all(of[True]) or not any(of[False]))  # the gravest first


@pytest.mark.parametrize("notes", [50, 500, 5_000, 200_000])
@pytest.mark.parametrize("findings", [1, 3, 40])
def test_the_work_for_one_song_is_bounded(findings: int, notes: int) -> None:
    """As many places as there is time for; a finding is moved by all semitones or not at all."""
    moves = module._within_bounds(findings, notes)
    places = sum(len(those) for those in moves)
    assert places * (PLACE_WORK + notes) <= MOST_WORK
    assert all({(s, 0) for s in SEMITONES} <= set(those) for those in moves)
    assert bool(moves) is (notes < 10_000)


def test_a_page_that_is_not_asked_for_it_pays_nothing_and_says_how(monkeypatch) -> None:
    monkeypatch.setattr(module, "nudge_to", None)  # it would fail, were it called
    text = unpacked(section(tea(), BOOK, Sheet()).text)
    assert 'class="nudging"' not in text
    assert "write a page of this song alone: basslint check" in text


@pytest.fixture(scope="module")
def page(browser, tmp_path_factory) -> Iterator[object]:
    path = tmp_path_factory.mktemp("nudge") / "page.html"
    one = [f for f in tea().findings if f.rule == "off-root"]  # each takes some dozens of checks
    report = replace(tea(), findings=tuple(one))
    sections = [section(report, BOOK, Sheet(nudged=True))]
    path.write_text("".join(assemble(sections, Run(tuple(BOOK)))), encoding="utf-8")
    made = browser.new_page()
    complaints: list[str] = []
    made.on("pageerror", lambda e: complaints.append(str(e)))
    made.goto(path.as_uri())
    made.locator(".field path.bass").wait_for(state="attached")
    yield made
    assert complaints == []
    made.close()


def test_a_note_is_moved_said_drawn_and_heard(page) -> None:
    card = page.locator(".finding", has_text="off-root").first
    card.locator(".nudging summary").click()
    told = card.locator(".nudge .verdict")
    expect(told).to_contain_text("F#1, as written: foreign to chord and scale")
    down = card.get_by_role("button", name="semitone down")
    down.focus()
    page.keyboard.press("Enter")
    expect(told).to_contain_text("F1, 1 semitone down: the root of F")
    expect(told).to_contain_text("off-root is silent")
    assert card.locator(".nudge").get_attribute("data-state") == "silent"
    assert page.evaluate("document.activeElement.textContent").startswith("↓")
    expect(page.locator(".dock .status")).to_contain_text("as moved")
    card.locator(".nudge [data-side=written]").click()
    expect(page.locator(".dock .status")).to_contain_text("as written")
    card.get_by_role("button", name="sixteenth later").click()
    expect(told).to_contain_text("1 sixteenth later")
    card.locator("[data-by='0,0']").click()
    expect(told).to_contain_text("as written")
    page.keyboard.press("Escape")


def test_what_is_heard_is_the_note_where_it_was_moved(page) -> None:
    """The bass alone, by the strongest partial of its bar: F1 is 43.65 Hz, F#1 46.25 (ISO 16)."""
    text = page.locator("script.data").first.text_content()
    data = json.loads(text)
    finding = next(f for f in data["findings"] if f["rule"] == "off-root")
    to = next(t for t in finding["nudge"]["to"] if (t[0], t[1]) == (-1, 0))
    lost, gained = to[5:]
    assert [data["tones"][row][3] for row in lost] == [30] and [t[3] for t in gained] == [29]
    later = next(t for t in finding["nudge"]["to"] if (t[0], t[1]) == (0, 1))
    assert later[6][0][0] - data["tones"][lost[0]][0] == data["division"] / 4


@pytest.mark.parametrize(("songs", "there"), [(1, True), (2, False)])
def test_the_command_nudges_on_the_page_of_one_song(tmp_path, songs: int, there: bool) -> None:
    paths = [tmp_path / f"{n}.mid" for n in range(songs)]
    for path in paths:
        path.write_bytes(TEA)
    out = tmp_path / "page.html"
    main(["check", *map(str, paths), "--only", "off-root", "--no-cache", "--format", "html",
          "--output", str(out)])  # fmt: skip
    assert ('class="nudging"' in out.read_text(encoding="utf-8")) is there
