"""Conditions that a page states once, in ``[where]``, hold for every ``[[when]]``."""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.errors import RuleError
from basslint.hear.memo import own_answers
from basslint.judging.judge import judge
from basslint.rulebook.loader import Rule, parse_page, read_book
from basslint.rulebook.model import Cases

PAGE = """\
+++
name = "low-and-foreign"
level = "warning"
judges = "bass-note"
summary = "A bass note lies below F1 and is no tone of its chord"
message = "{note_name} lies below {lowest_hz} Hz."

[[parameter]]
name = "lowest_hz"
default = 43.0
unit = "Hz"
reason = "F1, the lowest note that this room carries"

[where]
frequency = { below = "lowest_hz" }
in_chord = false

[[when]]
length = { above = "lowest_hz" }
level = "error"

[[when]]
in_scale = false
level = "note"
+++
## What you hear
"""
OWN = PAGE[PAGE.index("[[when]]") : PAGE.index("+++\n##")]

SAME = '[[when]]\nlevel = "note"\n'


def parse(text: str) -> Rule:
    return parse_page(text, "house/page.md", "house", "house")


def test_every_case_has_the_shared_conditions_before_its_own() -> None:
    rule = parse(PAGE)
    asked = [[condition.reading for condition in case.conditions] for case in rule.cases]
    assert asked == [
        ["frequency", "in_chord", "length"],
        ["frequency", "in_chord", "in_scale"],
    ]
    assert [case.level for case in rule.cases] == ["error", "note"]


def test_a_page_with_shared_conditions_is_the_page_that_repeats_them() -> None:
    where = PAGE[PAGE.index("[where]") : PAGE.index("[[when]]")]
    conditions = where.removeprefix("[where]\n").rstrip() + "\n"
    repeated = PAGE.replace(where, "").replace("[[when]]\n", f"[[when]]\n{conditions}")
    assert repeated.count("in_chord") == 2
    assert parse(repeated).cases == parse(PAGE).cases


def test_a_case_may_add_no_condition_of_its_own() -> None:
    rule = parse(PAGE.replace(OWN, SAME))
    assert [c.reading for c in rule.cases[0].conditions] == ["frequency", "in_chord"]


def test_what_lies_outside_the_shared_conditions_is_not_flagged() -> None:
    """E1 lies below F1 and is no tone of C; C1 lies as low and is its root."""
    rule = parse(PAGE.replace(OWN, "[[when]]\nin_scale = true\n"))
    found = judged("tempo 100\nkey C major\nkeys | C4+E4+G4:4 |*2\nsub | D1:4 | C1:4 |", [rule])
    assert [(f.rule, f.where.bar) for f in found.findings] == [("low-and-foreign", 1)]


@pytest.mark.parametrize(
    ("old", "new", "at", "words"),
    [
        ("in_scale = false", "in_chord = true", 23, "[where] asks `in_chord` already"),
        ("in_chord = false", "in_cord = false", 16, "no reading `in_cord`"),
        ("in_chord = false", 'level = "note"', 16, "`level` is no condition"),
        ('frequency = { below = "lowest_hz" }\nin_chord = false\n', "", 14, "hold conditions"),
    ],
)
def test_a_fault_names_its_line(old: str, new: str, at: int, words: str) -> None:
    with pytest.raises(RuleError) as fault:
        parse(PAGE.replace(old, new))
    assert words in fault.value.message
    assert f"house/page.md, line {at}:" in fault.value.message


def test_where_must_be_a_table() -> None:
    text = PAGE.replace("[where]\n", "").replace('frequency = { below = "lowest_hz" }\n', "", 1)
    text = text.replace("[[parameter]]", "where = 3\n\n[[parameter]]").replace(
        "in_chord = false\n", ""
    )
    with pytest.raises(RuleError, match="`where` must hold conditions"):
        parse(text)


def test_what_all_cases_have_is_asked_first_and_names_last() -> None:
    """Wherever it stands in a case: here the second one states it last."""
    named, plain = 'function = "other"\n', "in_scale = false\n"
    own = f"[[when]]\n{named}{plain}[[when]]\n{plain}by_step = true\n{named}"
    cases = parse(PAGE.replace(OWN, own)).cases
    first = ["frequency", "in_chord", "in_scale", "function"]
    assert [condition.reading for condition in cases.common] == first
    assert [[c.reading for c in own] for own in cases.own] == [[], ["by_step"]]
    assert [c.reading for c in cases[0].conditions] == [
        "frequency",
        "in_chord",
        "function",
        "in_scale",
    ]


def test_what_is_told_at_once_is_asked_before_all_else() -> None:
    """So a rule of long notes hears nothing of a song that has none."""
    own = '[[when]]\nin_scale = false\nlength = { below = "lowest_hz" }\n'
    cases = parse(PAGE.replace(OWN, own)).cases
    asked = [condition.reading for condition in cases.common]
    assert asked == ["length", "frequency", "in_chord", "in_scale"]


@pytest.mark.parametrize("cases", [rule.cases for rule in read_book()])
def test_each_condition_of_a_page_is_asked_once_in_each_case(cases: Cases) -> None:
    for case, own in zip(cases, cases.own, strict=True):
        assert sorted([*cases.common, *own]) == sorted(case.conditions)


def test_no_reading_is_asked_once_no_row_is_left() -> None:
    """No bass note lies below F1, so nobody hears what the line does; then one does."""
    rule = parse(PAGE.replace("in_chord = false", 'function = "root"').replace(OWN, SAME))
    for pitch, asked in (("D2", False), ("C1", True)):
        chart = heard(f"tempo 100\nkey C major\nkeys | C4+E4+G4:4 |\nsub | {pitch}:4 |")
        assert bool(judge(chart, [rule]).findings) is asked
        assert ("functions" in own_answers(chart)) is asked
