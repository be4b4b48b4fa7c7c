"""Does a rule page hold together? From Markdown with a TOML head to a checked Rule.

Reading a page runs no code of it and opens no other file. Every complaint names file and line, and
the name that was probably meant.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping
from typing import Any

from basslint.errors import RuleError
from basslint.readings.needs import FACTS
from basslint.readings.subjects import SUBJECTS, Subject
from basslint.rulebook.cases import read_cases, read_level, read_per_part
from basslint.rulebook.model import FLOOR, STEPS, Cases, Lesson, Parameter, Rule, listed, suggest
from basslint.rulebook.source import CONTROL, PageSource, shown
from basslint.util.records import replace
from basslint.util.toml import NotToml, read_toml

_KEYS = (
    "name",
    "level",
    "judges",
    "summary",
    "message",
    "fix",
    "needs",
    "because",
    "per_part",
    "lesson",
    "parameter",
    "where",
    "when",
)
_MOST_TURNS = 99  # lessons of one step: more is no path
_KEYS_OF_A_PARAMETER = ("name", "default", "unit", "reason")
_NAME = r"[a-z]+(-[a-z]+){0,4}"
_NUMBERED = r"&#(?:(\d{1,7})|[xX]([0-9a-fA-F]{1,6}));"  # a character in CommonMark, section 2.5
_PARAMETER_NAME = r"[a-z][a-z0-9_]{0,39}"


def parse_page(text: str, path: str, family: str, origin: str) -> Rule:
    """Read and check one page. Raises `RuleError` with file and line."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    _refuse_control(text, path)
    lines = text.split("\n")
    end = next((i for i, line in enumerate(lines) if i and line.strip() == "+++"), None)
    if end is None or lines[0].strip() != "+++":
        raise RuleError(
            f"{path}, line 1: a rule page begins with a TOML head between two +++ lines.",
            "`basslint explain off-root` shows a page to start from.",
        )
    head_lines = lines[1:end]
    try:
        head = read_toml("\n".join(head_lines))
    except NotToml as error:
        at = re.search(r"at line (\d+)", str(error))
        # an error at the end of the document names no line: it is the last one
        line = int(at[1]) + 1 if at else len(head_lines) + 1
        raise RuleError(
            f"{path}, line {line}: the head is not TOML: {error}.", "Mend the line."
        ) from None
    body = "\n".join(lines[end + 1 :])
    return _check(PageSource(path, head_lines), head, body, family, origin)


def _refuse_control(text: str, path: str) -> None:
    """Refuse what a terminal would obey, as it stands or by its number. Raises `RuleError`."""
    plain = text.replace("\n", "").replace("\t", "").isprintable()  # as nearly every page is
    held = [] if plain else [(m.start(), ord(m[0])) for m in re.finditer(CONTROL, text)]
    for number in re.finditer(_NUMBERED, text) if "&#" in text else ():
        code = int(number[1] or "0") or int(number[2] or "0", 16)
        if code <= sys.maxunicode and re.match(CONTROL, chr(code)):
            held.append((number.start(), code))
    for place, code in held[:1]:
        line = text.count("\n", 0, place) + 1
        raise RuleError(
            f"{path}, line {line}: the page holds a control character (U+{code:04X}).",
            "A page is plain text; take the character out.",
        )


def _check(page: PageSource, head: Mapping[str, Any], body: str, family: str, origin: str) -> Rule:
    for key in head:
        if key not in _KEYS:
            raise page.wrong(
                key, f"unknown key `{key}`.", suggest(key, _KEYS) or f"Keys: {listed(_KEYS)}."
            )
    name = page.text(head, "name")
    if not re.fullmatch(_NAME, name):
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
    because = head.get("because", [])
    if not isinstance(because, list) or not all(
        isinstance(b, str) and re.fullmatch(_NAME, b) for b in because
    ):
        raise page.wrong("because", "`because` is a list of rule names.")
    rule = Rule(
        name=name,
        family=family,
        level=read_level(page, head.get("level")),
        judges=subject,
        summary=page.text(head, "summary"),
        cases=Cases(),
        needs=_needs(page, head.get("needs", []), subject),
        because=tuple(because),
        parameters=parameters,
        body=body.strip("\n") + "\n",
        path=page.path,
        origin=origin,
    )
    rule = replace(rule, cases=read_cases(page, head, rule))
    return replace(rule, per_part=read_per_part(page, head, rule), lesson=_lesson(page, head))


def _lesson(page: PageSource, head: Mapping[str, Any]) -> Lesson | None:
    if "lesson" not in head:
        return None
    value = head["lesson"]
    step, _, turn = value.partition(" ") if isinstance(value, str) else ("", "", "")
    if step not in STEPS or not (turn.isdecimal() and 0 < int(turn[:9]) <= _MOST_TURNS):
        raise page.wrong(
            "lesson",
            f"`lesson` is a step of the beginners' path and a turn up to {_MOST_TURNS}.",
            (suggest(step, STEPS) if step not in STEPS else "")
            or f'Write lesson = "slides 2"; steps: {listed(STEPS)}.',
        )
    return Lesson(step, int(turn))


def _parameter(page: PageSource, entry: Mapping[str, Any]) -> Parameter:
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
    if not re.fullmatch(_PARAMETER_NAME, name):
        raise page.wrong("name", f"“{name}” is no parameter name.", "Write it like least_beats.")
    if name == FLOOR and default >= 0:
        raise page.wrong("default", f"`{FLOOR}` lies below 0: a level under that of the stroke.")
    return Parameter(name, float(default), page.text(entry, "unit"), page.text(entry, "reason"))


def _needs(page: PageSource, value: Any, judges: Subject) -> tuple[tuple[str, float | None], ...]:
    if not isinstance(value, list | dict):
        raise page.wrong("needs", "`needs` is a list of facts.", 'Write needs = ["root"].')
    asked = value.items() if isinstance(value, dict) else [(n, None) for n in value]
    for name, least in asked:
        if not isinstance(name, str) or name not in FACTS:
            raise page.wrong(
                "needs",
                f"there is no fact {shown(name)}.",
                suggest(shown(name), FACTS) or f"There are: {listed(FACTS)}.",
            )
        if judges not in (FACTS[name].of or (judges,)):
            raise page.wrong(
                "needs",
                f"{shown(name)} cannot be told of a {judges}.",
                f"It is a fact of: {listed(FACTS[name].of)}.",
            )
        number = isinstance(least, int | float) and not isinstance(least, bool)
        if least is not None and not (number and 0 <= least <= 1):
            raise page.wrong("needs", f"{shown(name)} takes a certainty from 0 to 1.")
    return tuple(asked)
