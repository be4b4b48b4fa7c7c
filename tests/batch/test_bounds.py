"""Work that is bounded in time and memory, what holds when it is done, and how far a run is."""

from __future__ import annotations

import io
import signal
import threading
import time

import pytest

from basslint.batch.bounds import TookTooLong, in_memory, in_time
from basslint.batch.pool import worker_count
from basslint.batch.progress import progress


def an_age() -> None:
    time.sleep(60)


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="alarms of POSIX")
def test_what_takes_too_long_is_ended_and_leaves_no_alarm_behind() -> None:
    before = signal.getsignal(signal.SIGALRM)
    late = r"longer than 0.02 s \(limit `max_seconds`\)"
    with pytest.raises(TookTooLong, match=late), in_time(0.02):
        an_age()
    assert signal.getitimer(signal.ITIMER_REAL) == (0.0, 0.0)
    assert signal.getsignal(signal.SIGALRM) == before
    with in_time(1e30):  # longer than an alarm can be set for
        assert 1e6 < signal.getitimer(signal.ITIMER_REAL)[0] < 1e9
    assert signal.getitimer(signal.ITIMER_REAL) == (0.0, 0.0)


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="alarms of POSIX")
def test_an_error_in_the_work_leaves_no_alarm_behind() -> None:
    with pytest.raises(ValueError, match="seven"), in_time(60.0):
        raise ValueError("seven")
    assert signal.getitimer(signal.ITIMER_REAL) == (0.0, 0.0)


def slow() -> str:
    with in_time(0.001):
        time.sleep(0.02)
    return "done"


def test_where_there_is_no_alarm_work_takes_as_long_as_it_needs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said: list[str] = []
    thread = threading.Thread(target=lambda: said.append(slow()))  # alarms ring in the main one
    thread.start()
    thread.join()
    assert said == ["done"]
    monkeypatch.delattr(signal, "setitimer", raising=False)  # as on Windows
    assert slow() == "done"


@pytest.mark.parametrize("bound", [2**48, 2**50])
def test_memory_is_bounded_for_the_work_alone_and_never_raised(bound: int) -> None:
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    if hard != resource.RLIM_INFINITY:
        pytest.skip("the machine bounds it already")
    try:
        resource.setrlimit(resource.RLIMIT_AS, (2**49, hard))
        with in_memory(bound):
            assert resource.getrlimit(resource.RLIMIT_AS) == (min(bound, 2**49), hard)
        assert resource.getrlimit(resource.RLIMIT_AS) == (2**49, hard)
    finally:
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))


@pytest.mark.parametrize(
    ("tasks", "asked", "cores", "jobs"),
    [
        (23, None, 8, 1),  # two processes pay for themselves from 24 songs on
        (24, None, 8, 2),
        (1000, None, 8, 8),
        (1000, None, None, 1),  # nobody knows how many cores
        (0, None, 8, 1),
        (3, 2, 8, 2),
        (3, 0, 8, 1),
        (0, 4, 8, 1),
        (100, 20, 8, 20),  # as asked
    ],
)
def test_how_many_processes_work(
    tasks: int, asked: int | None, cores: int | None, jobs: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.cpu_count", lambda: cores)
    assert worker_count(tasks, asked) == jobs


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("stream", "songs", "shown"),
    [(Screen, 12, True), (Screen, 11, False), (io.StringIO, 99, False)],
)
def test_a_long_run_shows_on_a_terminal_how_far_it_is(
    stream: type[io.StringIO], songs: int, shown: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    out = stream()
    with progress(songs, out) as tick:
        for _ in range(songs):
            tick()
    assert ("checking" in out.getvalue() and f"{songs}/{songs}" in out.getvalue()) is shown
    assert shown or out.getvalue() == ""
