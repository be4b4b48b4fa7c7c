"""How is each question of a chart asked only once?

A chart keeps the answers to its own questions (`asked_once`) as attributes by their names, which
Python finds at once when they are asked again, and those of later stages (`once_per_chart`) in
``answers``, by the function that gave them.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Generic, Protocol, TypeVar, overload

import numpy as np

Answers = dict[Callable[..., object], Any]


class Answering(Protocol):
    """What keeps answers by the function that gave them."""

    answers: Answers


T = TypeVar("T")
C = TypeVar("C", bound=Answering)


class asked_once(Generic[T]):  # noqa: N801  # reads as the decorator that it is
    """A property of a chart that is asked when first needed; an answer can be set beforehand."""

    def __init__(self, function: Callable[[Any], T]) -> None:
        self._function = function
        self._name = function.__name__
        self.__doc__ = function.__doc__

    @overload
    def __get__(self, chart: None, owner: type) -> asked_once[T]: ...
    @overload
    def __get__(self, chart: object, owner: type) -> T: ...
    def __get__(self, chart: object | None, owner: type) -> T | asked_once[T]:
        if chart is None:
            return self
        answer = vars(chart)[self._name] = self._function(chart)
        return answer


class Later(Generic[T]):
    """An answer that is given when it is first called for, and goes to other processes as well:
    those of `functools.cache` do not."""

    def __init__(self, function: Callable[[], T]) -> None:
        self._function = function
        self._answers: list[T] = []

    def __call__(self) -> T:
        if not self._answers:
            self._answers.append(self._function())
        return self._answers[0]


def own_answers(chart: object) -> dict[str, object]:
    """The answers of a chart to its own questions, by name: these can be sent to another process,
    and what later stages made of them can be made again."""
    kind = type(chart)
    return {
        name: answer
        for name, answer in vars(chart).items()
        if isinstance(getattr(kind, name, None), asked_once)
    }


def once_per_chart(function: Callable[[C], T]) -> Callable[[C], T]:
    """Ask a question of a chart once: readings and fixes share the answer while the chart lives.

    Arrays that are given back are read-only from then on.
    """

    @wraps(function)
    def ask(chart: C) -> T:
        answers = chart.answers
        if function not in answers:
            answer = answers[function] = function(chart)
            if isinstance(answer, np.ndarray):
                answer.setflags(write=False)
        found: T = answers[function]
        return found

    return ask
