"""Faults that fill a whole part are told once, with all their places and one fix."""

from __future__ import annotations

import json

import pytest
from beats import judged, report
from jsonschema import Draft202012Validator

from basslint.fixes.base import repitch
from basslint.fixes.edits import Edit, Fix, FixKind
from basslint.hear.chart import Chart
from basslint.judging.results import Finding, Report
from basslint.judging.together import joined_by_part
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.report.formats.json_report import finding_object, report_json
from basslint.report.formats.json_values import schema
from basslint.report.grouping import grouped, place
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat
from basslint.util.records import replace

BOOK = read_book()
DOUBLED = """
tempo 140
keys | A3+C4+C4+E4:4 | F3+A3+C4:4 | A3+C4+C4+E4:4 | F3+A3+A3+C4:4 |
pad  | A4+C5+E5:4 | F4+A4+A4+C5:4 | A4+C5+E5:4 | F4+A4+C5:4 |
sub  | A1:3.5 .:.5 | F1:3.5 .:.5 |*2
"""


def found(text: str, rule: str) -> list[Finding]:
    return [f for f in judged(text, BOOK).findings if f.rule == rule]


def test_each_part_is_told_once_with_all_its_places() -> None:
    keys, pad = found(DOUBLED, "doubled-note")
    assert [(f.part.name, [w.bar for w in f.places]) for f in (keys, pad) if f.part] == [
        ("keys", [1, 3, 4]),
        ("pad", [2]),
    ]
    assert keys.message.startswith("3 notes of keys")
    assert pad.message.startswith("A4 is struck twice")
    assert keys.fix is not None
    assert (keys.fix.kind, len(keys.fix.edits)) == ("safe", 3)
    assert keys.fix.title.endswith("the other 2 likewise")
    assert place(grouped([keys])[0]) == "bars 1 and 3–4, beat 1"


def test_the_number_tells_parts_of_one_name_apart() -> None:
    beat = compile_beat(DOUBLED)
    twins = report(beat.data.replace(b"\x03pad", b"\x03sub"), beat.facts, BOOK).findings
    named = {f.part.full_name for f in twins if f.part and f.rule == "doubled-note"}
    assert named == {"keys", "#2 sub"}
    assert [f.part and f.part.full_name for f in found(DOUBLED, "doubled-note")] == ["keys", "pad"]


@pytest.mark.parametrize(
    ("titles", "said"),
    [
        (["Move A0 up"], "Move A0 up"),
        (["Take it out", "Take it out"], "Take it out; the other one likewise"),
        (["Take it out"] * 4, "Take it out; the other 3 likewise"),
        (["Move A down", "Move B up", "Move B up"], "Move A down; move B up"),
        (["Move A", "Move B", "Move C", "Move D"], "Move A; the other 3 likewise"),
    ],
)
def test_a_fix_for_several_says_what_each_does_where_they_are_few(
    titles: list[str], said: str
) -> None:
    fixes = [
        Fix(title, "by-ear", (Edit(do="remove", track=n, channel=1, tick=0, end_tick=1,
                                   before=60, after=None),))
        for n, title in enumerate(titles)
    ]  # fmt: skip
    (keys, _) = found(DOUBLED, "doubled-note")
    several = [replace(keys, fix=fix, also=()) for fix in fixes]
    (one,) = joined_by_part(several, lambda _: "several")
    assert one.fix is not None and one.fix.title == said


@pytest.mark.parametrize(
    ("kinds", "told"),
    [
        (["by-ear", None, "by-ear"], [("Mend it; the other one likewise; one stays as it is", 3)]),
        ([None, "safe", None], [("Mend it; 2 stay as they are", 3)]),
        (["safe", None, "by-ear"], [("Mend it", 1), ("Mend it; one stays as it is", 2)]),
        ([None, None], [(None, 2)]),
    ],
)
def test_what_no_fix_mends_is_told_with_what_one_does(
    kinds: list[FixKind | None], told: list[tuple[str | None, int]]
) -> None:
    (keys, _) = found(DOUBLED, "doubled-note")
    assert keys.fix is not None
    several = [
        replace(keys, fix=kind and Fix("Mend it", kind, keys.fix.edits[n : n + 1]), also=())
        for n, kind in enumerate(kinds)
    ]
    ones = joined_by_part(several, lambda _: "several")
    assert [(one.fix and one.fix.title, len(one.places)) for one in ones] == told


def test_one_fix_mends_them_all() -> None:
    beat = compile_beat(DOUBLED)
    result = mend(beat.data, lambda data: report(data, beat.facts, BOOK), Choice())
    assert not [f for f in result.after.findings if f.rule == "doubled-note"]
    assert result.faults == ()


def test_json_tells_the_other_places_and_only_where_there_are_any() -> None:
    keys, pad = found(DOUBLED, "doubled-note")
    assert [w["bar"] for w in finding_object(keys)["also"]] == [3, 4]
    assert "also" not in finding_object(pad)
    whole = report(compile_beat(DOUBLED).data, compile_beat(DOUBLED).facts, BOOK)
    Draft202012Validator(schema("report")).validate(json.loads(report_json(Report((whole,)))))


LOW = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4\n"


@pytest.mark.parametrize(
    ("line", "title", "edits"),
    [
        ("A0:3 .:1 | F0:3 .:1 | C1:3 .:1 | G0:3 .:1", "Move all of sub an octave up", 16),
        ("A0:3 .:1 | F1:3 .:1 | C2:3 .:1 | G1:3 .:1", "Move A0 an octave up", 4),
    ],
)
def test_a_part_written_an_octave_low_is_one_finding_with_one_fix(
    line: str, title: str, edits: int
) -> None:
    (low,) = found(f"{LOW}sub | {line} |*4", "too-low")
    assert low.fix is not None
    assert low.fix.title.startswith(title)
    assert len(low.fix.edits) == edits


def test_a_fix_of_a_whole_part_is_built_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Built for each of its notes, 450 of them took 1.9 s to mend."""
    built: list[int] = []

    def counted(chart: Chart, note: int, pitch: int) -> Edit:
        built.append(note)
        return repitch(chart, note, pitch)

    monkeypatch.setattr("basslint.fixes.low_end.repitch", counted)
    (low,) = found(f"{LOW}sub | A0:3 .:1 | F0:3 .:1 | C1:3 .:1 | G0:3 .:1 |*4", "too-low")
    assert len(low.places) > 4
    assert len(built) == 16  # each note of the part


@pytest.mark.parametrize(("high", "flagged"), [("A3:1", False), ("A4:1", True)])
def test_a_part_that_often_plays_high_is_not_far_above_itself(high: str, flagged: bool) -> None:
    often = "A1:2 A3:1 C4:1 | F1:4 | C2:3 E4:1 | G1:4"
    beat = f"{LOW}sub | {often} |*3 | A1:3 {high} | F1:4 | C2:4 | G1:4 |"
    assert [f for f in found(beat, "too-high") if f.where.bar < 13] == []
    rare = f"{LOW}sub | A1:4 | F1:4 | C2:4 | G1:4 |*3 | A1:3 {high} | F1:4 | C2:4 | G1:4 |"
    assert bool(found(rare, "too-high")) == flagged


def test_a_double_that_starts_a_hair_later_is_taken_out() -> None:
    """Ending the first where the second starts, 2 ms on, would leave a note of no length."""
    keys = "keys | A3+C4+E4:4 | F3:.005~3.9 F3:3.995 | A3+C4+E4:4 | F3+A3+C4:4 |"
    beat = compile_beat(f"tempo 140\n{keys}\nsub | A1:3.5 .:.5 | F1:3.5 .:.5 |*2")
    result = mend(beat.data, lambda data: report(data, beat.facts, BOOK), Choice())
    assert [a.fix.title for a in result.applied] == ["Take the double out"]
    assert result.faults == ()


def test_what_is_mended_in_some_of_its_places_is_no_new_finding() -> None:
    from basslint.mending.units import Unit
    from basslint.mending.verify import undone

    beat = compile_beat(DOUBLED)
    before = report(beat.data, beat.facts, BOOK)
    keys, _ = [f for f in before.findings if f.rule == "doubled-note"]
    assert keys.fix is not None
    unit = Unit(
        fix=keys.fix,
        findings=(before.findings.index(keys),),
        events=frozenset(),
        voices=frozenset({(1, 1)}),
        start=0,
        end=10**6,
    )
    one_left = compile_beat(DOUBLED.replace("A3+C4+C4+E4:4", "A3+C4+E4:4", 1))
    after = report(one_left.data, one_left.facts, BOOK)
    assert undone([unit], before, after) == {}
    assert undone([unit], before, before) == {0: "doubled-note still stands"}
