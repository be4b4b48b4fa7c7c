"""When does a rule speak, and what does it say? Reads ``[[when]]`` and ``[where]`` of a page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, get_args

from basslint.fixes.base import known_for as fixes_for
from basslint.readings.base import registered as readings
from basslint.readings.subjects import Subject
from basslint.rulebook.model import (
    LEVELS,
    NUMERIC,
    Case,
    Cases,
    Condition,
    Level,
    Rule,
    Test,
    listed,
    suggest,
)
from basslint.rulebook.source import PageSource, shown

_TESTS: tuple[Test, ...] = get_args(Test)
_WORDS_OF_A_CASE = ("level", "message", "fix", "sure", "as_one")
_FIELD = re.compile(r"\{([a-z_0-9]+)\}")


def read_cases(page: PageSource, head: Mapping[str, Any], rule: Rule) -> Cases:
    """The cases of a page, each with the conditions of ``[where]`` before its own.

    ``rule`` is the page but for its cases. Raises `RuleError` with file and line.
    """
    usual = Case(
        conditions=(),
        level=rule.level,
        message=page.text(head, "message"),
        fix=read_fix(page, head.get("fix"), rule.judges),
    )
    _fields(page, usual.message, rule)
    entries = page.tables(head, "when")
    if not entries:
        raise page.wrong("when", "`when` must hold conditions.", "Write when = { … }.")
    shared = _where(page.section("where"), head, rule)
    cases = Cases(
        _case(page.section("when", i), entry, rule, usual, shared)
        for i, entry in enumerate(entries)
    )
    _all_used(page, rule, cases, usual.message)
    return cases


def _where(page: PageSource, head: Mapping[str, Any], rule: Rule) -> tuple[Condition, ...]:
    """The conditions that hold for every ``[[when]]``; none where the page has no ``[where]``."""
    if "where" not in head:
        return ()
    table = head["where"]
    if not isinstance(table, dict) or not table:
        raise page.wrong("where", "`where` must hold conditions.", "Write [where] above them.")
    for word in _WORDS_OF_A_CASE:
        if word in table:
            raise page.wrong(
                word,
                f"`{word}` is no condition, and [where] holds nothing else.",
                f"Write `{word}` at the head of the page, or in a [[when]].",
            )
    return tuple(_condition(page, key, value, rule) for key, value in table.items())


def _case(
    page: PageSource,
    entry: Mapping[str, Any],
    rule: Rule,
    usual: Case,
    shared: tuple[Condition, ...],
) -> Case:
    asked = [condition.reading for condition in shared]
    message = usual.message
    if "message" in entry:
        message = page.text(entry, "message")
        _fields(page, message, rule)
    conditions = tuple(
        _condition(page, key, value, rule)
        for key, value in entry.items()
        if key not in _WORDS_OF_A_CASE
    )
    if not conditions and not shared:
        raise page.wrong("when", "a `when` must name at least one reading.")
    for twice in (c.reading for c in conditions if c.reading in asked):
        raise page.wrong(
            twice, f"[where] asks `{twice}` already.", "Ask it in one of the two places."
        )
    return Case(
        shared + conditions,
        read_level(page, entry["level"]) if "level" in entry else usual.level,
        message,
        read_fix(page, entry["fix"], rule.judges) if "fix" in entry else usual.fix,
        _number(page, entry, "sure", rule.judges),
        _number(page, entry, "as_one", rule.judges),
    )


def _number(page: PageSource, entry: Mapping[str, Any], key: str, judges: Subject) -> str | None:
    """The reading that a key of a case names, one that is a number."""
    if key not in entry:
        return None
    name, known = page.text(entry, key), readings(judges)
    if name not in known or known[name].unit in ("text", "yes or no"):
        raise page.wrong(
            key,
            f"`{key}` names a reading of a {judges} that is a number, not {shown(name)}.",
            suggest(name, known) or "`basslint rules --readings` lists them.",
        )
    return name


def _condition(page: PageSource, key: str, value: Any, rule: Rule) -> Condition:
    known = readings(rule.judges)
    if key not in known:
        raise page.wrong(
            key,
            f"a {rule.judges} has no reading `{key}`.",
            suggest(key, known) or "`basslint rules --readings` lists them.",
        )
    value = value if isinstance(value, dict) else {"is": value}
    word, operand = next(iter(value.items()), ("", None))
    test = next((t for t in _TESTS if t == word), None)
    if test is None or len(value) != 1:
        raise page.wrong(key, f"`{key}` takes one of {listed(_TESTS)}.", suggest(word, _TESTS))
    given = tuple(operand) if isinstance(operand, list) else (operand,)
    unit = known[key].unit
    if test in NUMERIC:
        _check_bounds(page, key, test, given, unit, rule)
    else:
        right: tuple[type, ...] = (int, float)
        if unit in ("text", "yes or no"):
            right = (str,) if unit == "text" else (bool,)
        if not given or not all(isinstance(g, right) and type(g) in right for g in given):
            raise page.wrong(
                key, f"`{key}` answers in {unit}; {shown(operand)} does not.", f"Give {unit}."
            )
        if test != "one_of" and len(given) != 1:
            raise page.wrong(key, f"`{test}` takes one value.", "Use one_of for several.")
    return Condition(key, test, given)


def _check_bounds(
    page: PageSource, key: str, test: str, given: tuple[Any, ...], unit: str, rule: Rule
) -> None:
    names = [p.name for p in rule.parameters]
    if unit in ("yes or no", "text"):
        raise page.wrong(key, f"`{key}` is no number, so it cannot be {test} anything.")
    if len(given) != (2 if test == "between" else 1):
        raise page.wrong(key, f"`{test}` has the wrong number of parameters.")
    for g in given:
        if g not in names:
            raise page.wrong(
                key,
                f"`{test}` takes the name of a parameter, not {shown(g)}.",
                suggest(shown(g), names) or "Give the number a name in [[parameter]].",
            )


def _fields(page: PageSource, message: str, rule: Rule) -> None:
    known = [*readings(rule.judges), *rule.numbers]
    for name in _FIELD.findall(message):
        if name not in known:
            raise page.wrong(
                name,
                f"the message names `{name}`, which no {rule.judges} has.",
                suggest(name, known) or "`basslint rules --readings` lists what it may name.",
            )
    rest = _FIELD.sub("", message)
    if "{" in rest or "}" in rest:
        raise page.wrong("message", "a brace in the message holds no reading's name.")


def _all_used(page: PageSource, rule: Rule, cases: tuple[Case, ...], message: str) -> None:
    """A number that nothing uses is a mistake of the page's author, most often a slip of name."""
    used = {str(o) for c in cases for x in c.conditions if x.test in NUMERIC for o in x.operand}
    used |= {n for c in cases for n in _FIELD.findall(c.message)} | set(_FIELD.findall(message))
    fixed = any(c.fix for c in cases)  # a fix may ask for any number of the page
    for parameter in rule.parameters:
        if parameter.name not in used and not fixed:
            raise page.wrong(
                parameter.name,
                f"no condition, message or fix uses the parameter `{parameter.name}`.",
                "Take it out, or name it in a condition.",
            )


def read_per_part(page: PageSource, head: Mapping[str, Any], rule: Rule) -> str | None:
    """What a page says of several rows of one part, ``{count}`` of them; None for one by one."""
    if "per_part" not in head:
        return None
    message = page.text(head, "per_part")
    _fields(page, message.replace("{count}", ""), rule)
    return message


def read_level(page: PageSource, value: Any) -> Level:
    """A level. Raises `RuleError` for any other value."""
    for known in LEVELS:
        if value == known:
            return known
    raise page.wrong(
        "level",
        f"`level` is one of {listed(LEVELS)}, not {shown(value)}.",
        suggest(shown(value), LEVELS),
    )


def read_fix(page: PageSource, name: Any, subject: Subject) -> str | None:
    """The name of a fix of a subject. Raises `RuleError` where it has no such fix."""
    if name is None:
        return None
    known = fixes_for(subject)
    if not isinstance(name, str) or name not in known:
        raise page.wrong(
            "fix",
            f"a {subject} has no fix {shown(name)}.",
            suggest(shown(name), known) or f"There are: {listed(known)}.",
        )
    return name
