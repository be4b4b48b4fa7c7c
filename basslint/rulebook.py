"""Which rules are there, and do their pages hold together?

A page is Markdown with a TOML head between ``+++`` lines. Reading one runs no code of the page,
opens no other file, and is bounded in size and number, so that a page from a stranger is safe.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, get_args

from basslint.errors import RuleError
from basslint.findings import LEVELS, Level, Value
from basslint.fixes.base import registered as fixes
from basslint.readings.base import SUBJECTS, Subject
from basslint.readings.base import registered as readings
from basslint.readings.needs import FACTS

MAX_PAGE_BYTES = 64 * 1024
MAX_PAGES = 500

Test = Literal["is", "not", "one_of", "above", "below", "between"]
_NUMERIC: tuple[Test, ...] = ("above", "below", "between")
_WORDS_OF_A_CASE = ("level", "message", "fix")
_KEYS = (
    "name", "level", "judges", "summary", "message", "fix", "needs", "because", "parameter", "when",
)  # fmt: skip
_NAME = re.compile(r"^[a-z]+(-[a-z]+){0,4}$")
_FIELD = re.compile(r"\{([a-z_0-9]+)\}")
_BLOCK = re.compile(r"^```beat +(flagged|clean)(?: +bar +(\d+))?[^\n]*\n(.*?)^```", re.M | re.S)


@dataclass(frozen=True, slots=True)
class Parameter:
    """A number that a rule uses, with its unit and the reason for its default."""

    name: str
    default: float
    unit: str
    reason: str


@dataclass(frozen=True, slots=True)
class Condition:
    """One test on one reading; ``operand`` holds values, or parameter names for numeric tests."""

    reading: str
    test: Test
    operand: tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class Case:
    """Conditions that must all hold, and what is said when they do."""

    conditions: tuple[Condition, ...]
    level: Level
    message: str
    fix: str | None


@dataclass(frozen=True, slots=True)
class Example:
    """A beat in the notation of `basslint.notation`; ``bar`` (from 1) is where it is flagged."""

    flagged: bool
    bar: int | None
    text: str


@dataclass(frozen=True, slots=True)
class Rule:
    """A checked rule page. ``origin`` is "built in", "house" or "plug-in NAME".

    ``needs``: (fact, least certainty or None for the fact's own default). ``because``: rules that
    explain this one away when they flag the same note.
    """

    name: str
    family: str
    level: Level
    judges: Subject
    summary: str
    cases: tuple[Case, ...]
    needs: tuple[tuple[str, float | None], ...]
    because: tuple[str, ...]
    parameters: tuple[Parameter, ...]
    body: str
    path: str
    origin: str

    @property
    def numbers(self) -> Mapping[str, float]:
        """The parameters' values by name."""
        return {p.name: p.default for p in self.parameters}

    @property
    def examples(self) -> tuple[Example, ...]:
        """The beats that the page shows."""
        return tuple(
            Example(m[1] == "flagged", int(m[2]) if m[2] else None, m[3])
            for m in _BLOCK.finditer(self.body)
        )

    def with_numbers(self, numbers: Mapping[str, float]) -> Rule:
        """The rule with some parameters set. Raises `RuleError` for a name it does not have."""
        for name in numbers:
            if name not in self.numbers:
                raise RuleError(
                    f"{self.name} has no parameter “{name}”.",
                    _suggest(name, self.numbers) or f"Its parameters: {_listed(self.numbers)}.",
                )
        return replace(
            self,
            parameters=tuple(
                replace(p, default=numbers.get(p.name, p.default)) for p in self.parameters
            ),
        )

    def at_level(self, level: Level) -> Rule:
        """The rule with every case at one level."""
        return replace(self, level=level, cases=tuple(replace(c, level=level) for c in self.cases))


def built_in_folder() -> Path:
    """Where the shipped pages lie: in the wheel, or in the checkout of an editable install."""
    inside = Path(__file__).parent / "rules"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "rules"


def read_book(house: Iterable[Path] = (), plug_ins: Iterable[str] = ()) -> tuple[Rule, ...]:
    """Read the built-in pages, those of house folders, and of named plug-ins.

    A house page with the name of a built-in one replaces it. Raises `RuleError`.
    """
    book = {rule.name: rule for rule in read_folder(built_in_folder(), "built in")}
    for name in plug_ins:
        for folder in _plug_in_folders(name):
            book.update((r.name, r) for r in read_folder(folder, f"plug-in {name}"))
    for folder in house:
        book.update((r.name, r) for r in read_folder(folder, "house"))
    _check_because(book)
    return tuple(sorted(book.values(), key=lambda r: (r.family, r.name)))


def read_folder(folder: Path, origin: str) -> list[Rule]:
    """Read every ``*.md`` page in and below a folder, links left aside."""
    pages = sorted(p for p in folder.rglob("*.md") if p.is_file() and not p.is_symlink())
    if len(pages) > MAX_PAGES:
        raise RuleError(
            f"{folder} holds {len(pages)} pages; basslint reads up to {MAX_PAGES}.",
            "Keep rule pages in a folder of their own.",
        )
    return [
        parse_page(read_text(p), str(p), p.parent.name if p.parent != folder else "house", origin)
        for p in pages
    ]


def read_text(path: Path) -> str:
    """A page's text, bounded."""
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_PAGE_BYTES + 1)
        text = raw.decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise RuleError(f"{path} cannot be read: {error}.", "A page is UTF-8 text.") from None
    if len(raw) > MAX_PAGE_BYTES:
        raise RuleError(f"{path} is longer than {MAX_PAGE_BYTES:,} bytes.", "Split the page.")
    return text


def parse_page(text: str, path: str, family: str, origin: str) -> Rule:
    """Read and check one page. Raises `RuleError` with file and line."""
    lines = text.replace("\r\n", "\n").split("\n")
    fences = [i for i, line in enumerate(lines) if line.strip() == "+++"]
    if len(fences) < 2 or fences[0] != 0:
        raise RuleError(
            f"{path}, line 1: a rule page begins with a TOML head between two +++ lines.",
            "See `basslint explain off-root` or DEVELOPERS.md for a page to start from.",
        )
    head_lines = lines[1 : fences[1]]
    page = _Page(path, head_lines)
    try:
        head = tomllib.loads("\n".join(head_lines))
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"at line (\d+)", str(error))
        line = int(at[1]) + 1 if at else 2
        raise RuleError(
            f"{path}, line {line}: the head is not TOML: {error}.", "Mend the line."
        ) from None
    except RecursionError:
        raise RuleError(f"{path}, line 2: the head is nested too deeply.", "Flatten it.") from None
    return page.check(head, "\n".join(lines[fences[1] + 1 :]), family, origin)


@dataclass(frozen=True, slots=True)
class _Page:
    """A page under examination: finds the line of a key, and complains about it."""

    path: str
    lines: list[str]

    def wrong(self, key: str, what: str, advice: str = "") -> RuleError:
        pattern = re.compile(rf"(^|[\s{{,\"'\[{{]){re.escape(key)}\b")
        line = next((i for i, text in enumerate(self.lines, start=2) if pattern.search(text)), 2)
        return RuleError(f"{self.path}, line {line}: {what}", advice)

    def text(self, head: Mapping[str, Any], key: str) -> str:
        value = head.get(key)
        if not isinstance(value, str) or not value.strip():
            raise self.wrong(key, f"`{key}` must be a text.", f'Write {key} = "…".')
        return value

    def check(self, head: Mapping[str, Any], body: str, family: str, origin: str) -> Rule:
        for key in head:
            if key not in _KEYS:
                raise self.wrong(key, f"unknown key `{key}`.", _suggest(key, _KEYS))
        name = self.text(head, "name")
        if not _NAME.match(name):
            raise self.wrong("name", f"“{name}” is no rule name.", "Use two or three plain words.")
        judges = self.text(head, "judges")
        if judges not in SUBJECTS:
            raise self.wrong(
                "judges", f"`judges` is one of {_listed(SUBJECTS)}.", _suggest(judges, SUBJECTS)
            )
        subject: Subject = judges
        level = self.level(head.get("level"))
        parameters = self.parameters(head.get("parameter", []))
        message = self.text(head, "message")
        fix = self.fix(head.get("fix"), subject)
        self.fields(message, subject, parameters)
        when = head.get("when")
        cases = when if isinstance(when, list) else [when]
        if not when or not all(isinstance(c, dict) for c in cases):
            raise self.wrong("when", "`when` must hold conditions.", "Write when = { … }.")
        because = head.get("because", [])
        if not isinstance(because, list) or not all(isinstance(b, str) for b in because):
            raise self.wrong("because", "`because` is a list of rule names.")
        return Rule(
            name,
            family,
            level,
            subject,
            self.text(head, "summary"),
            tuple(self.case(c, subject, parameters, level, message, fix) for c in cases),
            self.needs(head.get("needs", [])),
            tuple(because),
            parameters,
            body.strip("\n") + "\n",
            self.path,
            origin,
        )

    def level(self, value: Any) -> Level:
        for known in LEVELS:
            if value == known:
                return known
        raise self.wrong("level", f"`level` is one of {_listed(LEVELS)}.")

    def parameters(self, entries: Any) -> tuple[Parameter, ...]:
        if not isinstance(entries, list) or not all(isinstance(e, dict) for e in entries):
            raise self.wrong("parameter", "parameters are [[parameter]] tables.")
        found: list[Parameter] = []
        for entry in entries:
            for key in entry:
                if key not in ("name", "default", "unit", "reason"):
                    raise self.wrong(key, f"unknown key `{key}` of a parameter.")
            default = entry.get("default")
            if isinstance(default, bool) or not isinstance(default, int | float):
                raise self.wrong("default", "a parameter's default is a number.")
            found.append(
                Parameter(
                    self.text(entry, "name"),
                    float(default),
                    self.text(entry, "unit"),
                    self.text(entry, "reason"),
                )
            )
        return tuple(found)

    def case(
        self,
        entry: Mapping[str, Any],
        subject: Subject,
        parameters: tuple[Parameter, ...],
        level: Level,
        message: str,
        fix: str | None,
    ) -> Case:
        if "message" in entry:
            message = self.text(entry, "message")
            self.fields(message, subject, parameters)
        conditions = [
            self.condition(key, value, subject, parameters)
            for key, value in entry.items()
            if key not in _WORDS_OF_A_CASE
        ]
        if not conditions:
            raise self.wrong("when", "a `when` must name at least one reading.")
        return Case(
            tuple(conditions),
            self.level(entry["level"]) if "level" in entry else level,
            message,
            self.fix(entry["fix"], subject) if "fix" in entry else fix,
        )

    def condition(
        self, key: str, value: Any, subject: Subject, parameters: tuple[Parameter, ...]
    ) -> Condition:
        known = readings(subject)
        if key not in known:
            raise self.wrong(
                key, f"a {subject} has no reading `{key}`.",
                _suggest(key, known) or "`basslint rules --readings` lists them.",
            )  # fmt: skip
        if not isinstance(value, dict):
            value = {"is": value}
        if len(value) != 1 or next(iter(value)) not in get_args(Test):
            raise self.wrong(key, f"`{key}` takes one of {_listed(get_args(Test))}.")
        test, operand = next(iter(value.items()))
        given = tuple(operand) if isinstance(operand, list) else (operand,)
        numeric = known[key].unit not in ("yes or no", "text")
        if test in _NUMERIC:
            names = [p.name for p in parameters]
            if not numeric:
                raise self.wrong(key, f"`{key}` is no number, so it cannot be {test} anything.")
            if len(given) != (2 if test == "between" else 1):
                raise self.wrong(key, f"`{test}` has the wrong number of parameters.")
            for g in given:
                if g not in names:
                    raise self.wrong(
                        key, f"`{test}` takes the name of a parameter, not {g!r}.",
                        _suggest(str(g), names) or "Give the number a name in [[parameter]].",
                    )  # fmt: skip
        else:
            right: type | tuple[type, ...] = str
            if numeric:
                right = (int, float)
            elif known[key].unit == "yes or no":
                right = bool
            if not all(isinstance(g, right) for g in given):
                raise self.wrong(key, f"`{key}` answers in {known[key].unit}; {given!r} does not.")
        return Condition(key, test, given)

    def fields(self, message: str, subject: Subject, parameters: tuple[Parameter, ...]) -> None:
        known = [*readings(subject), *(p.name for p in parameters)]
        for name in _FIELD.findall(message):
            if name not in known:
                raise self.wrong(name, f"the message names `{name}`, which no {subject} has.",
                                 _suggest(name, known))  # fmt: skip
        if "{" in _FIELD.sub("", message):
            raise self.wrong("message", "a brace in the message holds no reading's name.")

    def fix(self, name: Any, subject: Subject) -> str | None:
        if name is None:
            return None
        known = [f.name for f in fixes().values() if f.of == subject]
        if name not in known:
            raise self.wrong("fix", f"a {subject} has no fix `{name}`.",
                             _suggest(str(name), known) or f"There are: {_listed(known)}.")  # fmt: skip
        return str(name)

    def needs(self, value: Any) -> tuple[tuple[str, float | None], ...]:
        asked = value if isinstance(value, dict) else {n: None for n in value}
        for name, least in asked.items():
            if name not in FACTS:
                raise self.wrong("needs", f"there is no fact `{name}`.",
                                 _suggest(str(name), FACTS) or f"There are: {_listed(FACTS)}.")  # fmt: skip
            if least is not None and not (isinstance(least, int | float) and 0 <= least <= 1):
                raise self.wrong("needs", f"`{name}` takes a certainty from 0 to 1.")
        return tuple(asked.items())


def _check_because(book: Mapping[str, Rule]) -> None:
    for rule in book.values():
        for other in rule.because:
            if other not in book:
                raise RuleError(
                    f"{rule.path}: `because` names “{other}”, which is no rule.",
                    _suggest(other, book),
                )


def _plug_in_folders(name: str) -> list[Path]:
    """Folders that a plug-in package offers; its code is imported here, and only when named."""
    from importlib.metadata import entry_points

    found = [e for e in entry_points(group="basslint.rules") if e.name == name]
    if not found:
        raise RuleError(
            f"The settings name a plug-in “{name}”, which is not installed.",
            "Install the package, or take the name out of `plug_ins`.",
        )
    return [Path(str(e.load()())) for e in found]


def _listed(names: Iterable[object]) -> str:
    return ", ".join(str(n) for n in names)


def _suggest(name: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.5)
    return f"Did you mean `{near[0]}`?" if near else ""
