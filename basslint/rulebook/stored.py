"""What does a book look like as JSON, and does a piece of JSON hold one?

Pages are checked when they are read; here only the kind of each value is, since what is stored may
have been damaged, or be somebody else's.
"""

from __future__ import annotations

from typing import Any, TypeVar, get_args

from basslint.readings.subjects import SUBJECTS, Value
from basslint.rulebook.model import (
    LEVELS,
    STEPS,
    Case,
    Cases,
    Condition,
    Lesson,
    Parameter,
    Rule,
    Test,
)
from basslint.util.records import names_of

R = TypeVar("R")

_TESTS: tuple[Test, ...] = get_args(Test)


def book_from(stored: object) -> tuple[Rule, ...]:
    """The rules that ``json.dumps`` of them, with `fields_of` as default, has written.

    Raises `TypeError` or `ValueError` where a value is not of its kind.
    """
    rules = tuple([_rule(value) for value in _list(stored)])
    if not rules:
        raise ValueError("no rules")
    return rules


def _rule(value: object) -> Rule:
    made = _table(Rule, value)
    numbers = ("needs", "because", "parameters", "cases", "level", "judges", "lesson", "per_part")
    texts = {name: _text(made[name]) for name in names_of(Rule) if name not in numbers}
    return Rule(
        **texts,
        level=_one_of(LEVELS, made["level"]),
        judges=_one_of(SUBJECTS, made["judges"]),
        cases=Cases([_case(case) for case in _list(made["cases"])]),
        needs=tuple([_need(need) for need in _list(made["needs"])]),
        because=tuple([_text(name) for name in _list(made["because"])]),
        parameters=tuple([_parameter(each) for each in _list(made["parameters"])]),
        per_part=_text_or_none(made["per_part"]),
        lesson=None if made["lesson"] is None else _lesson(made["lesson"]),
    )


def _case(value: object) -> Case:
    made = _table(Case, value)
    return Case(
        tuple([_condition(each) for each in _list(made["conditions"])]),
        _one_of(LEVELS, made["level"]),
        _text(made["message"]),
        _text_or_none(made["fix"]),
        _text_or_none(made["sure"]),
        _text_or_none(made["as_one"]),
    )


def _condition(value: object) -> Condition:
    reading, test, operand = _list(value)
    values = tuple([_value(each) for each in _list(operand)])
    return Condition(_text(reading), _one_of(_TESTS, test), values)


def _need(value: object) -> tuple[str, float | None]:
    """The fact, and how sure it must be."""
    fact, least = _list(value)
    return _text(fact), None if least is None else _number(least)


def _parameter(value: object) -> Parameter:
    made = _table(Parameter, value)
    default = float(_number(made["default"]))
    return Parameter(_text(made["name"]), default, _text(made["unit"]), _text(made["reason"]))


def _lesson(value: object) -> Lesson:
    step, turn = _list(value)
    if type(turn) is not int:
        raise TypeError("no turn")
    return Lesson(_one_of(STEPS, step), turn)


def _table(kind: type[Any], value: object) -> dict[str, object]:
    if type(value) is not dict or tuple(value) != names_of(kind):
        raise ValueError("another shape")
    return value


def _list(value: object) -> list[object]:
    if type(value) is not list:
        raise TypeError("no list")
    return value


def _text(value: object) -> str:
    if type(value) is not str:
        raise TypeError("no text")
    return value


def _text_or_none(value: object) -> str | None:
    return None if value is None else _text(value)


def _number(value: object) -> float:
    if type(value) is not float and type(value) is not int:
        raise TypeError("no number")
    return value


def _value(value: object) -> Value:
    if value is not None and type(value) not in (bool, int, float, str):
        raise TypeError("no value")
    return value  # type: ignore[return-value]  # one of these


def _one_of(known: tuple[R, ...], value: object) -> R:
    for each in known:
        if each == value:
            return each
    raise ValueError("not one of those that there are")
