"""What ends a run is no fault of its own, whatever it is wrapped in."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import pytest
from beats import heard, judged

from basslint.batch.bounds import TookTooLong
from basslint.batch.pool import Lost, run_all
from basslint.cli.main import Terminated, main
from basslint.hear.chart import Chart
from basslint.judging.one_note import spoken_of
from basslint.readings import base
from basslint.rulebook.loader import read_book
from basslint.util.records import replace
from basslint.util.stopped import stopped_by


class Interrupts:
    """An interrupt arrives while a class is made: Python 3.11 raises a `RuntimeError` then."""

    def __set_name__(self, owner: type, name: str) -> None:
        raise KeyboardInterrupt


def an_import() -> None:
    type("Made", (), {"while_made": Interrupts()})


def wrapped(by: BaseException) -> RuntimeError:
    """An error that came out of another one."""
    try:
        raise RuntimeError("in a class") from by
    except RuntimeError as error:
        return error


def test_an_interrupt_while_a_class_is_made_is_found() -> None:
    with pytest.raises(BaseException) as caught:
        an_import()
    assert isinstance(stopped_by(caught.value), KeyboardInterrupt)


@pytest.mark.parametrize(
    ("error", "stopped"),
    [
        (ValueError("by itself"), None),
        (wrapped(ValueError("within")), None),
        (wrapped(GeneratorExit()), None),
        (wrapped(KeyboardInterrupt()), KeyboardInterrupt),
        (wrapped(wrapped(Terminated())), Terminated),
        (TookTooLong(2.0), TookTooLong),
    ],
)
def test_what_stopped_the_work(error: BaseException, stopped: type[BaseException] | None) -> None:
    found = stopped_by(error)
    assert found is None if stopped is None else isinstance(found, stopped)


def test_errors_that_lead_to_each_other_are_looked_through_once() -> None:
    one, other = wrapped(ValueError()), ValueError()
    other.__cause__, one.__cause__ = one, other
    assert stopped_by(one) is None


@pytest.mark.parametrize(
    ("stop", "code", "word"),
    [
        (KeyboardInterrupt(), 130, "Interrupted"),
        (Terminated(), 143, "Terminated"),
        (TookTooLong(2.0), 2, "given up"),
        (ValueError("x"), 3, "a fault of its own: RuntimeError"),
    ],
)
def test_a_run_that_was_stopped_says_so(
    stop: BaseException,
    code: int,
    word: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def fail(words: object) -> None:
        raise wrapped(stop)

    monkeypatch.setattr("basslint.cli.main.parse", fail)
    assert main(["check", "x.mid"]) == code
    assert word in capsys.readouterr().err


def test_a_signal_as_soon_as_it_is_listened_to_ends_the_run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    @contextlib.contextmanager
    def at_once() -> Iterator[None]:
        raise Terminated
        yield

    monkeypatch.setattr("basslint.cli.main._asked_to_end", at_once)
    assert main(["check", "x.mid"]) == 143
    assert "Terminated" in capsys.readouterr().err


def late(n: int) -> int:
    raise wrapped(TookTooLong(2.0) if n else ValueError("two"))


def test_a_task_that_took_too_long_in_an_import_says_so() -> None:
    answers = dict(run_all(late, (0, 1), 1, [60.0, 60.0]))
    assert answers[0] == Lost("RuntimeError: in a class")
    assert isinstance(answers[1], Lost) and "2 s" in answers[1].reason


def test_no_guard_of_the_judge_takes_an_interrupt(monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(chart: Chart) -> base.Column:
        raise wrapped(KeyboardInterrupt())

    reading = base.registered("bass-note")["frequency"]
    monkeypatch.setitem(base.registered("bass-note"), "frequency", replace(reading, column=stopped))
    book = [r for r in read_book() if r.name == "too-low"]
    beat = "tempo 120\nsub | C1:4 |*4"
    with pytest.raises(KeyboardInterrupt):
        judged(beat, book)
    with pytest.raises(KeyboardInterrupt):
        spoken_of(heard(beat), book, 0)
