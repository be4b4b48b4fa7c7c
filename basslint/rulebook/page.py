"""Does a rule page hold together? From Markdown with a TOML head to a checked Rule.

Reading a page runs no code of it and opens no other file. Every complaint names file and line, and
the name that was probably meant.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, get_args

from basslint.errors import RuleError
from basslint.fixes.base import registered as fixes
from basslint.readings.base import SUBJECTS, Subject
from basslint.readings.base import registered as readings
from basslint.readings.needs import FACTS
from basslint.rulebook.model import (
    LEVELS,
    Case,
    Condition,
    Level,
    Parameter,
    Rule,
    Test,
    listed,
    suggest,
)
from basslint.util.text import visible

_TESTS: tuple[Test, ...] = get_args(Test)
_NUMERIC: tuple[Test, ...] = ("above", "below", "between")
_WORDS_OF_A_CASE = ("level", "message", "fix")
_KEYS = (
    "name",
    "level",
    "judges",
    "summary",
    "message",
    "fix",
    "needs",
    "because",
    "parameter",
    "when",
)
_KEYS_OF_A_PARAMETER = ("name", "default", "unit", "reason")
_NAME = re.compile(r"[a-z]+(-[a-z]+){0,4}")
_PARAMETER_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}")
_FIELD = re.compile(r"\{([a-z_0-9]+)\}")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


def parse_page(text: str, path: str, family: str, origin: str) -> Rule:
    """Read and check one page. Raises `RuleError` with file and line."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    control = _CONTROL.search(text)
    if control:
        line = text.count("\n", 0, control.start()) + 1
        raise RuleError(
            f"{path}, line {line}: the page holds a control character (U+{ord(control[0]):04X}).",
            "A page is plain text; take the character out.",
        )
    lines = text.split("\n")
    fences = [i for i, line in enumerate(lines) if line.strip() == "+++"]
    if len(fences) < 2 or fences[0] != 0:
        raise RuleError(
            f"{path}, line 1: a rule page begins with a TOML head between two +++ lines.",
            "`basslint explain off-root` shows a page to start from.",
        )
    head_lines = lines[1 : fences[1]]
    try:
        head = tomllib.loads("\n".join(head_lines))
    except (tomllib.TOMLDecodeError, ValueError) as error:
        at = re.search(r"at line (\d+)", str(error))
        # an error at the end of the document names no line: it is the last one
        line = int(at[1]) + 1 if at else len(head_lines) + 1
        raise RuleError(
            f"{path}, line {line}: the head is not TOML: {error}.", "Mend the line."
        ) from None
    except RecursionError:
        raise RuleError(f"{path}, line 2: the head is nested too deeply.", "Flatten it.") from None
    body = "\n".join(lines[fences[1] + 1 :])
    return _check(_Page(path, head_lines, 0), head, body, family, origin)


@dataclass(frozen=True, slots=True)
class _Page:
    """A page, or a section of it from line ``begin`` on: finds a key's line and complains."""

    path: str
    lines: list[str]
    begin: int

    def section(self, name: str, nth: int) -> _Page:
        """The page from its nth ``[[name]]`` table on."""
        heads = [i for i, x in enumerate(self.lines) if re.match(rf"\s*\[\[\s*{name}\s*\]\]", x)]
        return _Page(self.path, self.lines, heads[nth]) if nth < len(heads) else self

    def wrong(self, key: str, what: str, advice: str = "") -> RuleError:
        pattern = re.compile(rf"(^|[\s{{,\"'\[.]){re.escape(key)}\b")
        line = next(
            (i for i, x in enumerate(self.lines) if i >= self.begin and pattern.search(x)),
            self.begin,
        )
        # keys and values of a stranger's page may hold anything, escapes of a terminal among it
        what = visible(what, 300)
        return RuleError(f"{self.path}, line {line + 2}: {what}", advice or "Mend the line.")

    def text(self, head: Mapping[str, Any], key: str) -> str:
        value = head.get(key)
        if not isinstance(value, str) or not value.strip():
            raise self.wrong(key, f"`{key}` must be a text.", f'Write {key} = "…".')
        if "\n" in value or _CONTROL.search(value):
            raise self.wrong(key, f"`{key}` must be one line of plain text.")
        return value

    def tables(self, head: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
        entries = head.get(key, [])
        entries = entries if isinstance(entries, list) else [entries]
        if not all(isinstance(e, dict) for e in entries):
            raise self.wrong(key, f"`{key}` must be a table.", f"Write [[{key}]] above its lines.")
        return entries


def _check(page: _Page, head: Mapping[str, Any], body: str, family: str, origin: str) -> Rule:
    for key in head:
        if key not in _KEYS:
            raise page.wrong(
                key, f"unknown key `{key}`.", suggest(key, _KEYS) or f"Keys: {listed(_KEYS)}."
            )
    name = page.text(head, "name")
    if not _NAME.fullmatch(name):
        raise page.wrong(
            "name", f"“{name}” is no rule name.", "Use two or three plain words with hyphens."
        )
    subject = page.text(head, "judges")
    if subject not in SUBJECTS:
        raise page.wrong(
            "judges",
            f"`judges` is one of {listed(SUBJECTS)}, not “{subject}”.",
            suggest(subject, SUBJECTS),
        )
    parameters = tuple(
        _parameter(page.section("parameter", i), entry)
        for i, entry in enumerate(page.tables(head, "parameter"))
    )
    names = [p.name for p in parameters]
    for twice in (n for i, n in enumerate(names) if n in names[:i]):
        raise page.wrong(twice, f"there are two parameters `{twice}`.", "Rename one.")
    cases = page.tables(head, "when")
    if not cases:
        raise page.wrong("when", "`when` must hold conditions.", "Write when = { … }.")
    because = head.get("because", [])
    if not isinstance(because, list) or not all(
        isinstance(b, str) and _NAME.fullmatch(b) for b in because
    ):
        raise page.wrong("because", "`because` is a list of rule names.")
    rule = Rule(
        name=name,
        family=family,
        level=_level(page, head.get("level")),
        judges=subject,
        summary=page.text(head, "summary"),
        cases=(),
        needs=_needs(page, head.get("needs", []), subject),
        because=tuple(because),
        parameters=parameters,
        body=body.strip("\n") + "\n",
        path=page.path,
        origin=origin,
    )
    usual = Case((), rule.level, page.text(head, "message"), _fix(page, head.get("fix"), subject))
    _fields(page, usual.message, rule)
    found = tuple(_case(page.section("when", i), e, rule, usual) for i, e in enumerate(cases))
    _all_used(page, rule, found, usual.message)
    return replace(rule, cases=found)


def _level(page: _Page, value: Any) -> Level:
    for known in LEVELS:
        if value == known:
            return known
    raise page.wrong(
        "level",
        f"`level` is one of {listed(LEVELS)}, not {_shown(value)}.",
        suggest(_shown(value), LEVELS),
    )


def _parameter(page: _Page, entry: Mapping[str, Any]) -> Parameter:
    for key in entry:
        if key not in _KEYS_OF_A_PARAMETER:
            raise page.wrong(
                key, f"unknown key `{key}` of a parameter.", suggest(key, _KEYS_OF_A_PARAMETER)
            )
    default = entry.get("default")
    if isinstance(default, bool) or not isinstance(default, int | float):
        raise page.wrong("default", "a parameter's default is a number.", "Write default = 1.0.")
    if not abs(default) <= 1e9:  # nan is not either
        raise page.wrong("default", "a parameter's default is a number within ±1e9.")
    name = page.text(entry, "name")
    if not _PARAMETER_NAME.fullmatch(name):
        raise page.wrong("name", f"“{name}” is no parameter name.", "Write it like least_beats.")
    return Parameter(name, float(default), page.text(entry, "unit"), page.text(entry, "reason"))


def _case(page: _Page, entry: Mapping[str, Any], rule: Rule, usual: Case) -> Case:
    message = usual.message
    if "message" in entry:
        message = page.text(entry, "message")
        _fields(page, message, rule)
    conditions = tuple(
        _condition(page, key, value, rule)
        for key, value in entry.items()
        if key not in _WORDS_OF_A_CASE
    )
    if not conditions:
        raise page.wrong("when", "a `when` must name at least one reading.")
    return Case(
        conditions,
        _level(page, entry["level"]) if "level" in entry else usual.level,
        message,
        _fix(page, entry["fix"], rule.judges) if "fix" in entry else usual.fix,
    )


def _condition(page: _Page, key: str, value: Any, rule: Rule) -> Condition:
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
    if test in _NUMERIC:
        _check_bounds(page, key, test, given, unit, rule)
    else:
        right: tuple[type, ...] = (int, float)
        if unit in ("text", "yes or no"):
            right = (str,) if unit == "text" else (bool,)
        if not given or not all(isinstance(g, right) and type(g) in right for g in given):
            raise page.wrong(
                key, f"`{key}` answers in {unit}; {_shown(operand)} does not.", f"Give {unit}."
            )
        if test != "one_of" and len(given) != 1:
            raise page.wrong(key, f"`{test}` takes one value.", "Use one_of for several.")
    return Condition(key, test, given)


def _check_bounds(
    page: _Page, key: str, test: str, given: tuple[Any, ...], unit: str, rule: Rule
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
                f"`{test}` takes the name of a parameter, not {_shown(g)}.",
                suggest(_shown(g), names) or "Give the number a name in [[parameter]].",
            )


def _fields(page: _Page, message: str, rule: Rule) -> None:
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


def _all_used(page: _Page, rule: Rule, cases: tuple[Case, ...], message: str) -> None:
    """A number that nothing uses is a mistake of the page's author, most often a slip of name."""
    used = {str(o) for c in cases for x in c.conditions if x.test in _NUMERIC for o in x.operand}
    used |= {n for c in cases for n in _FIELD.findall(c.message)} | set(_FIELD.findall(message))
    fixed = any(c.fix for c in cases)  # a fix may ask for any number of the page
    for parameter in rule.parameters:
        if parameter.name not in used and not fixed:
            raise page.wrong(
                parameter.name,
                f"no condition, message or fix uses the parameter `{parameter.name}`.",
                "Take it out, or name it in a condition.",
            )


def _fix(page: _Page, name: Any, subject: Subject) -> str | None:
    if name is None:
        return None
    known = [f.name for f in fixes().values() if f.of == subject]
    if not isinstance(name, str) or name not in known:
        raise page.wrong(
            "fix",
            f"a {subject} has no fix {_shown(name)}.",
            suggest(_shown(name), known) or f"There are: {listed(known)}.",
        )
    return name


def _needs(page: _Page, value: Any, judges: Subject) -> tuple[tuple[str, float | None], ...]:
    if not isinstance(value, list | dict):
        raise page.wrong("needs", "`needs` is a list of facts.", 'Write needs = ["root"].')
    asked = value.items() if isinstance(value, dict) else [(n, None) for n in value]
    for name, least in asked:
        if not isinstance(name, str) or name not in FACTS:
            raise page.wrong(
                "needs",
                f"there is no fact {_shown(name)}.",
                suggest(_shown(name), FACTS) or f"There are: {listed(FACTS)}.",
            )
        if judges not in (FACTS[name].of or (judges,)):
            raise page.wrong(
                "needs",
                f"{_shown(name)} cannot be told of a {judges}.",
                f"It is a fact of: {listed(FACTS[name].of)}.",
            )
        number = isinstance(least, int | float) and not isinstance(least, bool)
        if least is not None and not (number and 0 <= least <= 1):
            raise page.wrong("needs", f"{_shown(name)} takes a certainty from 0 to 1.")
    return tuple(asked)


def _shown(value: Any) -> str:
    """A value of a stranger's page as it may stand in a message."""
    try:
        text = f"“{value}”" if isinstance(value, str) else repr(value)
    except (ValueError, RecursionError):  # numbers of thousands of digits
        return "what is written"
    return text if len(text) <= 60 else text[:59] + "…"
