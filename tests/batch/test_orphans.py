"""A run that is ended, however it is ended, leaves no process behind and nothing held open."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

LONGEST_S = 60.0  # for whatever is waited for: the machine may be busy; tasks take ten times that
SONG = Path(__file__).parents[2] / "samples" / "spilled-tea.mid"

# A pool of three workers, each at a task without an end; the numbers of the processes are printed.
ASLEEP = """
import os, time
from basslint.batch.pool import run_all

def sleep(n):
    os.write(1, b"%d\\n" % os.getpid())
    time.sleep(600)

list(run_all(sleep, range(3), 3, [600.0] * 3))
"""
# The command line instead, its checks slowed down in the same way.
COMMAND = """
import os, sys, time
from basslint.checking import one_file
from basslint.cli.main import main

def sleep(path, settings):
    os.write(1, b"%d\\n" % os.getpid())
    time.sleep(600)

one_file.read_bytes = sleep
sys.exit(main(["check", *sys.argv[1:], "--jobs", "3", "--no-cache"]))
"""


def started(script: str, *words: str) -> tuple[subprocess.Popen[str], list[int]]:
    process = subprocess.Popen(
        [sys.executable, "-c", script, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # a run of the tests under nohup ignores it, and would hand that down
        preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_DFL),
    )
    assert process.stdout is not None
    return process, [int(process.stdout.readline()) for _ in range(3)]


def alive(number: int) -> bool:
    try:
        state = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="asks /proc for processes")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_no_worker_outlives_its_parent(how: signal.Signals) -> None:
    process, workers = started(ASLEEP)
    process.send_signal(how)
    process.communicate(timeout=LONGEST_S)  # returns when nobody holds its standard output any more
    end = time.monotonic() + LONGEST_S
    while any(map(alive, workers)) and time.monotonic() < end:
        time.sleep(0.01)
    assert not any(map(alive, workers))


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize(
    ("how", "code", "word"),
    [(signal.SIGTERM, 143, "Terminated"), (signal.SIGINT, 130, "Interrupted")],
)
def test_a_run_that_is_asked_to_end_says_so(
    how: signal.Signals, code: int, word: str, tmp_path: Path
) -> None:
    for n in range(3):
        (tmp_path / f"{n}.mid").write_bytes(SONG.read_bytes())
    process, workers = started(COMMAND, str(tmp_path))
    process.send_signal(how)
    _, told = process.communicate(timeout=LONGEST_S)
    assert process.returncode == code
    assert told == f"basslint: {word}; nothing was left half written.\n"
    assert not any(map(alive, workers))
