"""Did fixes cure what they were for, and bring about nothing else? On findings made by hand."""

from __future__ import annotations

import pytest

from basslint.fixes.edits import Fix
from basslint.judging.results import FileReport, Finding, PartRef, Problem, Where
from basslint.mending.units import Unit
from basslint.mending.verify import undone
from basslint.rulebook.model import Level

BAR = 1920
BASS, KEYS = 1, 2  # tracks


def where(tick: int) -> Where:
    return Where(
        tick=tick, end_tick=tick + 480, bar=tick // BAR + 1, beat=1.0, time_s=0.0, end_time_s=0.0
    )


def found(
    tick: int,
    rule: str = "off",
    level: Level = "warning",
    track: int | None = BASS,
    pitch: int = 36,
    also: tuple[int, ...] = (),
    waived: str | None = None,
) -> Finding:
    return Finding(
        rule=rule,
        family="made up",
        level=level,
        message="here",
        part=None if track is None else PartRef(track, track, 1, "part"),
        where=where(tick),
        readings=(),
        certainty=1.0,
        fix=None,
        pitch=pitch,
        also=tuple(map(where, also)),
        waived=waived,
    )


def unit(*rows: int, start: int = 0, end: int = 480, track: int = BASS) -> Unit:
    return Unit(
        fix=Fix("mended", "safe", ()),
        findings=rows,
        events=frozenset(),
        voices=frozenset({(track, 1)}),
        start=start,
        end=end,
    )


def report(*findings: Finding) -> FileReport:
    return FileReport(path="x.mid", findings=findings)


STANDS, BROUGHT = "off still stands", "it brought about {}: here"


@pytest.mark.parametrize(
    ("after", "said"),
    [
        ([], {}),
        ([found(0)], {0: STANDS}),
        ([found(0), found(0)], {0: BROUGHT.format("off")}),
        ([found(0, pitch=41)], {0: STANDS}),  # it went along with its note
        ([found(240)], {0: STANDS}),
        ([found(480)], {0: STANDS}),  # where the fix ends it still touches
        ([found(481)], {0: BROUGHT.format("off")}),
        ([found(240, level="note")], {}),  # milder than what it was: worth the cure
        ([found(240, "new")], {0: BROUGHT.format("new")}),
        ([found(240, "new", "error")], {0: BROUGHT.format("new")}),
        ([found(240, "new", "note")], {}),
        ([found(240, "new", "error", waived="meant")], {}),
        ([found(9 * BAR, "new")], {0: BROUGHT.format("new")}),  # far away: nothing else did it
        ([found(240, "new", track=None)], {0: BROUGHT.format("new")}),  # of the song as a whole
    ],
)
def test_what_becomes_of_a_fix_of_one_warning(after: list[Finding], said: dict[int, str]) -> None:
    assert undone([unit(0)], report(found(0)), report(*after)) == said


@pytest.mark.parametrize(
    ("new", "guilty"),
    [
        (found(100, "new"), 0),
        (found(4 * BAR + 100, "new"), 1),
        (found(BAR, "new"), 0),
        (found(3 * BAR, "new"), 1),
        (found(100, "new", track=KEYS), 2),  # of its own part, however far
        (found(8 * BAR, "new", track=None), 2),
    ],
)
def test_the_nearest_fix_is_to_blame_for_what_is_new(new: Finding, guilty: int) -> None:
    before = report(found(0), found(4 * BAR), found(8 * BAR, track=KEYS))
    units = [
        unit(0),
        unit(1, start=4 * BAR, end=4 * BAR + 480),
        unit(2, start=8 * BAR, end=8 * BAR + 480, track=KEYS),
    ]
    assert undone(units, before, report(new)) == {guilty: BROUGHT.format("new")}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        # what had stood behind the fix's stretch or in another part has not moved into it
        (found(8 * BAR, "late"), found(240, "late"), {0: BROUGHT.format("late")}),
        (found(200, "late", track=KEYS), found(240, "late"), {0: BROUGHT.format("late")}),
        (found(200, "late"), found(240, "late"), {}),  # another finding of its note
    ],
)
def test_what_moved_with_a_note_was_there_before(
    old: Finding, new: Finding, said: dict[int, str]
) -> None:
    before = report(found(0), old)
    assert undone([unit(0)], before, report(new)) == said


def test_what_stood_in_front_of_the_stretch_has_not_moved_into_it() -> None:
    before = report(found(4 * BAR), found(0, "late"))
    there = unit(0, start=4 * BAR, end=4 * BAR + 480)
    after = report(found(4 * BAR + 240, "late"))
    assert undone([there], before, after) == {0: BROUGHT.format("late")}


@pytest.mark.parametrize(
    ("after", "said"),
    [
        ([], {}),
        ([found(0, also=(BAR, 2 * BAR))], {0: STANDS}),
        ([found(BAR, also=(2 * BAR,))], {}),  # one of its places is cured, which none began anew
        ([found(0, pitch=41, also=(BAR, 2 * BAR))], {0: STANDS}),  # all, of another pitch
    ],
)
def test_what_is_told_of_several_places_is_cured_where_one_is(
    after: list[Finding], said: dict[int, str]
) -> None:
    before = report(found(0, also=(BAR, 2 * BAR)))
    assert undone([unit(0, end=3 * BAR)], before, report(*after)) == said


def test_a_file_that_broke_or_a_rule_that_crashed_undoes_all() -> None:
    units, before = [unit(0), unit(1)], report(found(0), found(BAR))
    broken = FileReport(path="x.mid", problem=Problem("damaged", "no file", "", None))
    assert undone(units, before, broken) == {0: "no file", 1: "no file"}
    crashed = FileReport(path="x.mid", faults=("off failed",))
    assert undone(units, before, crashed) == {0: "off failed", 1: "off failed"}
    before = FileReport(path="x.mid", findings=before.findings, faults=("off failed",))
    assert undone(units, before, crashed) == {}


def test_a_fix_of_several_findings_is_weighed_by_the_mildest() -> None:
    before = report(found(0, level="error"), found(0, "mild", "note"))
    assert undone([unit(0, 1)], before, report(found(0, "new", "note"))) == {
        0: BROUGHT.format("new")
    }
    assert undone([unit(0)], before, report(found(0, "mild", "note"), found(0, "new"))) == {}
