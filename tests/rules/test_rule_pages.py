"""Every page of the book keeps its word: its examples run through the real reader and judge."""

from __future__ import annotations

import re
from functools import cache

import pytest
from beats import judged, report

from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.rulebook.loader import Example, Rule, read_book
from basslint.rulebook.notation import compile_beat

BOOK = read_book()
SECTIONS = (
    "What you hear",
    "Why it matters",
    "When to break it",
    "A flagged example",
    "A clean example",
    "Sources",
)
FLAGGED = [(r, e) for r in BOOK for e in r.examples if e.flagged]
CLEAN = [(r, e) for r in BOOK for e in r.examples if not e.flagged]


def named(value: object) -> str | None:
    return value.name if isinstance(value, Rule) else "" if isinstance(value, Example) else None


@cache
def bars_of(text: str) -> tuple[tuple[str, int], ...]:
    verdict = judged(text, BOOK)
    assert verdict.faults == ()
    return tuple((f.rule, f.where.bar) for f in verdict.findings)


@pytest.mark.parametrize("rule", BOOK, ids=named)
def test_a_page_teaches(rule: Rule) -> None:
    assert tuple(re.findall(r"^## (.+)$", rule.body, re.M))[: len(SECTIONS)] == SECTIONS
    assert any(e.flagged for e in rule.examples), "no flagged example"
    assert any(not e.flagged for e in rule.examples), "no clean example"
    assert len(rule.body.split("## Sources")[1].strip()) > 20, "no sources"


@pytest.mark.parametrize(("rule", "example"), FLAGGED, ids=named)
def test_the_flagged_example_is_flagged_there_by_this_rule_alone(
    rule: Rule, example: Example
) -> None:
    found = bars_of(example.text)
    assert (rule.name, example.bar) in found
    assert {name for name, _ in found} == {rule.name}


@pytest.mark.parametrize(("rule", "example"), CLEAN, ids=named)
def test_the_clean_example_is_silent(rule: Rule, example: Example) -> None:
    assert bars_of(example.text) == ()


@pytest.mark.parametrize(("rule", "example"), FLAGGED, ids=named)
def test_mending_the_flagged_example_leaves_nothing_to_mend(rule: Rule, example: Example) -> None:
    beat = compile_beat(example.text)
    result = mend(beat.data, lambda data: report(data, beat.facts, BOOK), Choice(by_ear=True))
    assert result.faults == ()
    assert result.conflicts == ()
    mendable = [f for f in result.before.findings if f.fix is not None]
    assert len(result.applied) >= len(mendable)
    assert [x.finding.rule for x in result.left] == [
        f.rule for f in result.before.findings if f.fix is None
    ]


@pytest.mark.parametrize("rule", BOOK, ids=named)
def test_every_number_has_a_reason(rule: Rule) -> None:
    for parameter in rule.parameters:
        assert len(parameter.reason.split()) >= 4, parameter.name
    assert not rule.summary.endswith(".")
