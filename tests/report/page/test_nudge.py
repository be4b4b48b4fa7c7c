"""A note is nudged on the page, and what is said of it there is what a check of the song says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from nudged_by_hand import moved, spoken
from page_songs import SAMPLES, repeated, reported
from playwright.sync_api import expect

from basslint.audition.tones import bass_tones
from basslint.cli.main import main
from basslint.judging.results import FileReport
from basslint.mending.nudged import KINDS, SEMITONES, nudge_to
from basslint.readings.against_harmony import semitones_above_root
from basslint.readings.slip import slip_chance
from basslint.report.drawing.roll import tones_data
from basslint.report.formats import nudge_data as module
from basslint.report.formats.html import assemble, section
from basslint.report.formats.nudge_data import (
    LIGHT,
    MOST_WORK,
    PLACE_WORK,
    Nudged,
    not_nudged,
    nudge_data,
    within_bounds,
)
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
        judged = [to for to in data["to"] if to[4] is not None]
        semitones, sixteenths, _, _, said, *_ = judged[rng.integers(len(judged))]
        row = data["row"]
        ticks = sixteenths * tea().chart.song.division // 4
        place = (finding.part.track, int(notes.start[row]), int(notes.pitch[row]))
        report = reported(moved(TEA, place, semitones, ticks))
        found = spoken(report, finding.part.number, place[1] + ticks, place[2] + semitones)
        assert {data["said"][n] for n in said} == found, (finding.rule, semitones, sixteenths)


def test_every_finding_of_a_song_is_nudged_and_its_slip_is_that_of_a_check() -> None:
    """Eight findings of a normal song: each has all semitones, and where no rule is asked the
    chance is what a check of the song so moved says it is."""
    song = repeated(TEA, 2)
    report = reported(song)
    groups = grouped(report.findings) * 2
    data = nudge_data(report.chart, groups, BOOK)
    told = [d for d in data.of if d is not None]
    assert data.left_out == 0 and len(told) >= 6
    light = [(d, to) for d in told for to in d["to"] if to[4] is None]
    assert light and all({t[0] for t in d["to"]} == set(SEMITONES) for d in told)
    notes, parts = report.chart.song.notes, report.chart.song.parts
    rng = np.random.default_rng(7)
    for case in rng.choice(len(light), 4, replace=False):
        moves, (semitones, later, kind, chance, *_) = light[case]
        row = moves["row"]
        assert later == 0
        place = (parts[notes.part[row]].track, int(notes.start[row]), int(notes.pitch[row]))
        after = reported(moved(song, place, semitones, 0)).chart
        at = np.flatnonzero(
            (after.written.start[after.bass_rows] == place[1])
            & (after.written.pitch[after.bass_rows] == place[2] + semitones)
        )
        assert chance == pytest.approx(float(slip_chance(after)[at[0]]), abs=0.001)
        above = float(semitones_above_root(after)[at[0]])
        assert (KINDS[kind] == "root") is (above == 0)


def test_a_tone_of_its_own_sounds_as_it_would_be_heard() -> None:
    """Where the page moves the tone itself, the song so moved holds just that tone."""
    chart = tea().chart
    moves = next(d for d, f in nudged() if f.rule == "off-root")
    tones = bass_tones(chart, 0, int(chart.song.grid.start[-1]))
    assert moves["tone"] >= 0
    as_drawn = tones_data(chart.song.tempo, tones)[moves["tone"]]
    for semitones in (-5, 2):
        after = nudge_to(chart, moves["row"], semitones, 0, None).chart
        there = tones_data(after.song.tempo, bass_tones(after, 0, int(after.song.grid.start[-1])))
        assert [*as_drawn[:-1], as_drawn[-1] + semitones] in there
        assert len(there) == len(tones)


def test_what_a_note_is_follows_from_chord_and_key() -> None:
    """F#1 under F in A minor: semitones counted by hand; the scale by Open Music Theory."""
    data = next(d for d, f in nudged() if f.rule == "off-root")
    kinds = {semitones: KINDS[kind] for semitones, later, kind, *_ in data["to"] if later == 0}
    assert kinds[-1] == "root" and kinds[3] == kinds[6] == "chord tone"  # F, A, C
    assert kinds[-2] == kinds[1] == "scale" and kinds[0] == kinds[2] == "foreign"  # E, G; F#, G#
    chance = {semitones: share for semitones, later, _, share, *_ in data["to"] if later == 0}
    assert chance[-1] < data["from"] < chance[0]


@pytest.mark.parametrize(("count", "words"), [(1, "one is left out"), (7, "7 are left out")])
def test_how_many_are_left_out_is_told(count: int, words: str) -> None:
    told = not_nudged(Nudged((), count), "a.mid", Sheet(nudged="written"))
    assert words in told and "basslint check a.mid --only RULE" in told


def test_only_some_findings_are_nudged_and_the_others_are_counted(monkeypatch) -> None:
    monkeypatch.setattr(module, "nudge_to", lambda *_: None)  # it is not asked what they say
    monkeypatch.setattr(module, "MOST_FINDINGS", 5)
    groups = grouped(tea().findings) * 4
    data = nudge_data(tea().chart, groups, BOOK)
    assert sum(d is not None for d in data.of) == 5
    assert data.left_out == 4 * len(nudged()) - 5
    of = {True: [], False: []}
    for moves, group in zip(data.of, groups, strict=True):
        of[group.first.level == "error"].append(moves is not None)
    assert any(of[True]) and (all(of[True]) or not any(of[False]))  # the gravest first


@pytest.mark.parametrize("notes", [50, 500, 5_000, 200_000])
@pytest.mark.parametrize("findings", [1, 3, 40])
def test_the_work_for_one_song_is_bounded(findings: int, notes: int) -> None:
    """As many places as there is time for; a finding is moved by all semitones or not at all."""
    moves = within_bounds(findings, notes)
    places = [move in those.judged for those in moves for move in those.all if any(move)]
    work = sum(1 if judged else LIGHT for judged in places)
    assert work * (PLACE_WORK + notes) <= MOST_WORK
    assert all({(s, 0) for s in SEMITONES} <= set(those.all) for those in moves)
    assert all(those.judged & set(those.all) for those in moves), "as written is always judged"
    judged = [len(those.judged) for those in moves]
    assert judged == sorted(judged, reverse=True), "the gravest first"
    assert bool(moves) is (notes < 60_000)


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
    sections = [section(report, BOOK, Sheet(nudged="written"))]
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


def test_what_is_heard_is_the_note_where_it_was_moved(modules) -> None:
    """F#1 turned to F1, by the pitches of what sounds; a sixteenth later its own tone is told."""
    data = modules.load(tea())
    moves = next(d for d, f in nudged() if f.rule == "off-root")
    own, note = moves["tone"], moves["row"]
    assert data["tones"][own][3] == 30
    assert next(len(to) for to in moves["to"] if to[:2] == (-1, 0)) == 5, "its own tone is moved"
    before, after = (
        modules.page.evaluate(
            "([own, up]) => sounds.mended(song, written, sounds.turned(song, own, up))"
            ".tones.map((t) => [t.start, t.pitches[0]])",
            [own, up],
        )
        for up in (0, -1)
    )
    start = float(tea().chart.song.tempo.seconds(int(tea().chart.song.notes.start[note])))
    unlike = [(b, a) for b, a in zip(sorted(before), sorted(after), strict=True) if b != a]
    assert unlike == [([pytest.approx(start), 30], [pytest.approx(start), 29])]
    later = next(to for to in moves["to"] if to[:2] == (0, 1))
    assert later[6][0][0] - data["tones"][own][0] == data["division"] / 4


@pytest.mark.parametrize(("songs", "there"), [(1, True), (2, False)])
def test_the_command_nudges_on_the_page_of_one_song(tmp_path, songs: int, there: bool) -> None:
    paths = [tmp_path / f"{n}.mid" for n in range(songs)]
    for path in paths:
        path.write_bytes(TEA)
    out = tmp_path / "page.html"
    main(["check", *map(str, paths), "--only", "off-root", "--no-cache", "--format", "html",
          "--output", str(out)])  # fmt: skip
    assert ('class="nudging"' in out.read_text(encoding="utf-8")) is there
