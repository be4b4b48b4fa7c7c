"""Which findings are told as one, and where that stands in words."""

from __future__ import annotations

import pytest
from report_cases import finding, wrong_note_song, wrong_notes

from basslint.fixes.edits import Fix
from basslint.judging.results import Finding, Where
from basslint.report.grouping import finding_ids, grouped, place
from basslint.util.records import replace

CHART = wrong_note_song()
FIRST, SECOND = wrong_notes(CHART)  # bars 5 and 13, beat 1, of one cause


def at(bar: int, beat: float = 1.0, **more: object) -> Finding:
    where = replace(FIRST.where, bar=bar, beat=beat, beats=4)
    return replace(FIRST, where=where, **more)


@pytest.mark.parametrize(
    ("findings", "groups"),
    [
        ((FIRST, SECOND), 1),
        ((replace(FIRST, cause=""), replace(SECOND, cause="")), 2),  # nobody knows that it is one
        ((FIRST, replace(SECOND, cause="another")), 2),
        ((FIRST, replace(SECOND, rule="too-low")), 2),
        ((FIRST, replace(SECOND, level="note")), 2),
        ((FIRST, SECOND.waive("meant")), 2),
        ((FIRST.waive("meant"), SECOND.waive("meant")), 1),
        ((FIRST.waive("meant"), SECOND.waive("a pedal")), 2),  # each with its reason
        ((FIRST, replace(SECOND, fix=None)), 2),
        ((FIRST, replace(SECOND, fix=Fix("Move F#1 to E1", "by-ear", ()))), 2),
        ((FIRST, replace(SECOND, fix=Fix("Move F#1 to G1", "safe", ()))), 2),
    ],
)
def test_findings_of_one_cause_that_are_mended_alike_are_one(
    findings: tuple[Finding, ...], groups: int
) -> None:
    found = grouped(findings)
    assert len(found) == groups
    assert [f for g in found for f in g.findings] == list(findings)
    assert [row for g in found for row in g.rows] == list(range(len(findings)))
    assert len(grouped(findings, ("not asked for", "it would be worse"))) == 2
    assert len(grouped(findings, ("not asked for",) * 2)) == groups


def wheres(*bars: int) -> tuple[Where, ...]:
    return tuple(at(bar).where for bar in bars)


@pytest.mark.parametrize(
    ("findings", "words"),
    [
        ((at(5),), "bar 5, beat 1"),
        ((at(5, 2.5),), "bar 5, beat 2.5"),
        ((at(5), at(13)), "bars 5 and 13, beat 1"),
        ((at(5), at(13, 2.0)), "bars 5 and 13"),
        ((at(5, also=wheres(9, 13)),), "bars 5, 9 and 13, beat 1"),  # one that is in many places
        ((at(5), at(5, 2.0), at(5, 3.0)), "3 times, bar 5"),
        ((at(5), at(5), at(6)), "3 times, bars 5–6, beat 1"),
        ((at(4, 4.99),), "just before bar 5"),
        ((at(4, 4.99), at(12, 4.99)), "just before bars 5 and 13"),
        ((replace(at(1), whole=True),), "whole song"),
    ],
)
def test_where_a_group_stands(findings: tuple[Finding, ...], words: str) -> None:
    same = [replace(f, fix=None, cause="one") for f in findings]
    (group,) = grouped(same)
    assert place(group) == words


def test_each_group_has_an_anchor_of_its_own() -> None:
    other = finding(CHART, 0, 480, 28, cause="other", fingerprint=FIRST.fingerprint)
    bare = replace(FIRST, fingerprint="", cause="bare")
    ids = finding_ids("s1", grouped([FIRST, other, bare]))
    assert ids == [f"s1-{FIRST.fingerprint[:10]}", f"s1-{FIRST.fingerprint[:10]}-2", "s1-off-root"]
    assert finding_ids("s1", grouped([FIRST, SECOND])) == ids[:1]
