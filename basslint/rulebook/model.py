"""What is a rule? Conditions on readings, what is said when they hold, and a page to learn from."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import Literal, NamedTuple

from basslint.errors import RuleError
from basslint.readings.subjects import Subject, Value
from basslint.util.records import record, replace
from basslint.util.text import nearest

Level = Literal["error", "warning", "note"]
LEVELS: tuple[Level, ...] = ("error", "warning", "note")  # gravest first (SARIF's words)

Test = Literal["is", "not", "one_of", "above", "below", "between"]
NUMERIC: tuple[Test, ...] = ("above", "below", "between")  # their operands name parameters

# What a beginner learns first: each step of the path rests on the one before.
STEPS = ("roots", "patterns", "slides", "fills")

FLOOR = (
    "floor_db"  # how far under its stroke a sound is still heard; facts and fixes reckon with it
)

_WHOLE = {"share": 1.0, "%": 100.0}  # by unit: no number of it is larger

_BLOCK = r"^```beat +(flagged|clean)(?: +bar +(\d+))?[^\n]*\n(.*?)^```"


@record
class Parameter:
    """A number that a rule uses, with its unit and the reason for its default."""

    name: str
    default: float
    unit: str
    reason: str


class Lesson(NamedTuple):
    """A page's place on the beginners' path: one of `STEPS`, and its turn within that step."""

    step: str
    turn: int

    @property
    def order(self) -> tuple[int, int]:
        """A key that puts lessons in the order in which they are learnt."""
        return STEPS.index(self.step), self.turn


class Condition(NamedTuple):
    """One test on one reading; ``operand`` holds values, or parameter names for numeric tests."""

    reading: str
    test: Test
    operand: tuple[Value, ...]


@record
class Case:
    """Conditions that must all hold, and what is said when they do.

    ``sure``: the reading that says how sure the case is, where needs alone do not. ``as_one``: the
    reading whose equal values make one finding of several rows, with one fix for all or none.
    """

    conditions: tuple[Condition, ...]
    level: Level
    message: str
    fix: str | None
    sure: str | None = None
    as_one: str | None = None


class Cases(tuple[Case, ...]):
    """The cases of a rule as its page has them, and in which order their conditions are asked.

    What all of them ask comes first, and names last, which are compared one by one: a rule that
    takes nothing is done the sooner. So is one that asks first what is told at once and rarely met,
    and last what takes long to hear.
    """

    @cached_property
    def common(self) -> tuple[Condition, ...]:
        """The conditions that every case has."""
        first, *others = self
        shared = [c for c in first.conditions if all(c in other.conditions for other in others)]
        return tuple(sorted(shared, key=lambda c: (c.reading not in _AT_ONCE, _is_dear(c))))

    @cached_property
    def plain(self) -> tuple[Condition, ...]:
        """The common conditions that are sure of every row, whatever is heard."""
        return tuple(c for c in self.common if c.reading in _SURE)

    @cached_property
    def heard(self) -> tuple[Condition, ...]:
        """The other common ones."""
        return tuple(c for c in self.common if c.reading not in _SURE)

    @cached_property
    def own(self) -> tuple[tuple[Condition, ...], ...]:
        """The conditions that each case has beside those."""
        own = ([c for c in case.conditions if c not in self.common] for case in self)
        return tuple(tuple(sorted(conditions, key=_is_dear)) for conditions in own)


_SURE = ("length",)  # of a row by itself: nothing else that is heard can change it
# readings told at once, of which few songs have what is asked
_AT_ONCE = (
    *_SURE,
    "rub_beats",
    "root_in_bass",
    "landing_in_scale",
    "landing_cents",
    "too_short_ms",
)
_LONG = ("makes_chord",)  # readings that hear more of the song than the others of their rules


def _is_dear(condition: Condition) -> bool:
    of_names = condition.test not in NUMERIC and isinstance(condition.operand[0], str)
    return of_names or condition.reading in _LONG


@record
class Example:
    """A beat in the notation of `rulebook.notation`; ``bar`` (from 1) is where it is flagged."""

    flagged: bool
    bar: int | None
    text: str


@record(kw_only=True)
class Rule:
    """A checked rule page. ``origin`` is "built in", "house" or "plug-in NAME".

    ``needs``: (fact, least certainty or None for the fact's own default). ``because``: rules that
    explain this one away when they flag the same note. ``per_part``: what is said, with their
    ``{count}``, where several rows of one part are flagged: they are told as one. None: each alone.
    ``lesson``: where the page stands on the beginners' path, None where it is none of it.
    """

    name: str
    family: str
    level: Level
    judges: Subject
    summary: str
    cases: Cases
    needs: tuple[tuple[str, float | None], ...]
    because: tuple[str, ...]
    parameters: tuple[Parameter, ...]
    body: str
    path: str
    origin: str
    per_part: str | None = None
    lesson: Lesson | None = None

    @property
    def numbers(self) -> Mapping[str, float]:
        """The parameters' values by name."""
        return {p.name: p.default for p in self.parameters}

    @property
    def examples(self) -> tuple[Example, ...]:
        """The beats that the page shows."""
        return tuple(
            Example(m[1] == "flagged", int(m[2]) if m[2] else None, m[3])
            for m in re.finditer(_BLOCK, self.body, re.M | re.S)
        )

    def with_numbers(self, numbers: Mapping[str, float]) -> Rule:
        """The rule with some parameters set. Raises `RuleError` for a name it does not have, and
        for a number below 0 where the page's own is not (a length or a count), or a share above
        the whole."""
        units = {p.name: p.unit for p in self.parameters}
        for name in numbers:
            if name not in self.numbers:
                raise RuleError(
                    f"{self.name} has no parameter “{name}”.",
                    suggest(name, self.numbers) or f"Its parameters: {listed(self.numbers)}.",
                )
            if numbers[name] < 0 <= self.numbers[name]:
                raise RuleError(
                    f"{self.name}: `{name}` cannot be {numbers[name]:g}.",
                    f"The page says {self.numbers[name]:g}; write 0 or more.",
                )
            whole = _WHOLE.get(units[name], math.inf)
            if self.numbers[name] <= whole < numbers[name]:
                raise RuleError(
                    f"{self.name}: `{name}` cannot be {numbers[name]:g}.",
                    f"It is a share: write a number from 0 to {whole:g}.",
                )
            if name == FLOOR and numbers[name] >= 0:
                raise RuleError(
                    f"{self.name}: `{name}` cannot be {numbers[name]:g}.",
                    "It lies below 0: a level under that of the stroke.",
                )
        return replace(
            self,
            parameters=tuple(
                replace(p, default=numbers.get(p.name, p.default)) for p in self.parameters
            ),
        )

    def at_level(self, level: Level) -> Rule:
        """The rule with every case at one level."""
        return replace(self, level=level, cases=Cases(replace(c, level=level) for c in self.cases))


def listed(names: Iterable[object]) -> str:
    """Names in a row, for an error's advice."""
    return ", ".join(str(n) for n in names)


def suggest(name: str, known: Iterable[str]) -> str:
    """``Did you mean …?`` with the nearest known name, or nothing where none is near."""
    near = nearest(name, known, 0.5)
    return f"Did you mean `{near}`?" if near else ""
