"""Tasks on worker processes: order, crashes, endless loops, memory."""

from __future__ import annotations

import os
import time

import pytest

from basslint.batch.pool import Lost, run_all, worker_count

PLENTY_S = 600.0  # more than any task takes that is not meant to be given up


def double(n: int) -> int:
    return 2 * n


def troubled(n: int) -> int:
    if n == 3:
        os._exit(11)
    if n == 5:
        while True:
            time.sleep(0.01)
    if n == 7:
        raise ValueError("seven")
    return n


def nap(n: int) -> int:
    time.sleep(0.1)
    return n


def hungry(n: int) -> int:
    return len(bytearray(3 * 1024**3)) if n == 1 else n


@pytest.mark.parametrize("jobs", [1, 2, 4])
def test_every_task_is_answered_once(jobs: int) -> None:
    answers = dict(run_all(double, range(30), jobs, [60.0] * 30))
    assert answers == {n: 2 * n for n in range(30)}


def test_a_crash_a_hang_and_an_exception_stop_nobody_else() -> None:
    answers = dict(
        run_all(troubled, range(12), 2, [0.4 if n == 5 else PLENTY_S for n in range(12)])
    )
    assert answers[3] == Lost("its process died")
    assert isinstance(answers[5], Lost) and "0.4 s" in answers[5].reason
    assert answers[7] == Lost("ValueError: seven")
    assert all(answers[n] == n for n in range(12) if n not in (3, 5, 7))


def test_a_hang_is_bounded_in_one_process_too() -> None:
    answers = dict(run_all(troubled, (4, 5, 6), 1, [PLENTY_S, 0.2, PLENTY_S]))
    assert answers[0] == 4 and answers[2] == 6
    assert isinstance(answers[1], Lost)


def guarded(n: int) -> int:
    """A task that takes whatever goes wrong for its own, as the judge does with a rule's faults."""
    try:
        time.sleep(PLENTY_S if n else 0.0)
    except Exception:
        return -1
    return n


@pytest.mark.parametrize("jobs", [1, 2])
def test_no_guard_inside_a_task_takes_the_alarm(jobs: int) -> None:
    answers = dict(run_all(guarded, (0, 1), jobs, [PLENTY_S, 0.2]))
    assert answers[0] == 0
    assert isinstance(answers[1], Lost) and "0.2 s" in answers[1].reason


@pytest.mark.parametrize("jobs", [1, 2])
def test_each_task_has_its_own_time(jobs: int) -> None:
    """A tenth of a second's sleep, with half of that allowed, and with more than ever passes."""
    answers = dict(run_all(nap, (0, 1, 2, 3), jobs, [1e30, 0.05, PLENTY_S, 0.05]))
    assert answers[0] == 0 and answers[2] == 2
    for late in (answers[1], answers[3]):
        assert isinstance(late, Lost) and "longer than 0.05 s (limit `max_seconds`)" in late.reason


def test_memory_is_bounded_in_workers() -> None:
    answers = dict(run_all(hungry, range(3), 2, [60.0] * 3, 1024**3))
    assert answers[0] == 0 and answers[2] == 2
    assert isinstance(answers[1], Lost) and "memory" in answers[1].reason


@pytest.mark.parametrize(("tasks", "asked", "jobs"), [(1, None, 1), (5, 8, 5), (100, 1, 1)])
def test_there_are_as_many_workers_as_asked_for_or_as_pay(
    tasks: int, asked: int | None, jobs: int
) -> None:
    assert worker_count(tasks, asked) == jobs
