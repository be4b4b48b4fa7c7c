"""What stands at the other end: a terminal, a reader that leaves, a hand that interrupts."""

from __future__ import annotations

import errno
import os
import pty
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from basslint.cli.main import main

SAMPLES = Path(__file__).parents[2] / "samples"
OFF = SAMPLES / "spilled-tea.mid"  # has errors
CLEAN = SAMPLES / "stairwell.mid"


def test_a_reader_that_leaves_is_no_fault() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "basslint", "check", str(SAMPLES), "--format", "json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        process.stdout.read(10)
        process.stdout.close()
        assert process.wait(60) == 1  # what was found is known before it is written
        assert process.stderr.read() == b""


def test_an_interrupt_ends_at_once_and_leaves_nothing_behind(tmp_path: Path) -> None:
    folder = tmp_path / "many"
    folder.mkdir()
    for n in range(600):
        (folder / f"{n}.mid").write_bytes(OFF.read_bytes())
    target = tmp_path / "report.json"
    words = ["check", str(folder), "--jobs", "2", "--no-cache", "--output", str(target)]
    process = subprocess.Popen(
        [sys.executable, "-m", "basslint", *words, "--format", "json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    end = time.monotonic() + 30
    while len(processes_of(process.pid)) < 3 and time.monotonic() < end:
        time.sleep(0.01)
    assert len(processes_of(process.pid)) == 3  # two workers are at it
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does: to all of them
    out, err = process.communicate(timeout=30)
    assert process.returncode == 130 and out == ""
    assert err == "basslint: Interrupted; nothing was left half written.\n"
    assert processes_of(process.pid) == [] and list(tmp_path.iterdir()) == [folder]


def processes_of(group: int) -> list[int]:
    """Living processes of a group (Linux: field 5 of /proc/PID/stat, after state and parent)."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[2]) == group and fields[0] != "Z":
            found.append(int(stat.parent.name))
    return found


def on_terminal(words: list[str], columns: int) -> tuple[str, int]:
    """The command on a terminal of so many columns, and what it showed there."""
    ours, theirs = pty.openpty()
    env = {**os.environ, "COLUMNS": str(columns), "TERM": "xterm-256color"}
    env.pop("NO_COLOR", None)
    process = subprocess.Popen(
        [sys.executable, "-m", "basslint", *words], stdout=theirs, stderr=theirs, env=env
    )
    os.close(theirs)
    shown = b""
    while True:
        try:
            piece = os.read(ours, 65_536)
        except OSError as error:
            if error.errno != errno.EIO:  # how Linux says that the other side is closed
                raise
            break
        if not piece:
            break
        shown += piece
    os.close(ours)
    return shown.decode(), process.wait()


@pytest.mark.parametrize("columns", [30, 100])
def test_a_terminal_gets_colours_and_its_own_width(columns: int) -> None:
    shown, code = on_terminal(["check", str(OFF)], columns)
    assert code == 1 and "\x1b[1;31m" in shown
    plain = re.sub(r"\x1b\[[0-9;]*m", "", shown)
    lines = [line for line in plain.splitlines() if line != str(OFF)]
    assert max(map(len, lines)) <= columns


def test_progress_is_shown_on_a_terminal_alone(tmp_path: Path) -> None:
    folder = tmp_path / "many"
    folder.mkdir()
    for n in range(14):
        (folder / f"{n}.mid").write_bytes(CLEAN.read_bytes())
    shown, _ = on_terminal(["check", str(folder), "--no-cache", "--format", "json"], 80)
    assert "14/14" in shown and "checking" in shown
    words = [sys.executable, "-m", "basslint", "check", str(folder), "--no-cache"]
    assert subprocess.run(words, capture_output=True).stderr == b""


@pytest.mark.parametrize("words", [["check", str(OFF)], ["explain", "off-root"], ["rules"]])
def test_a_terminal_is_not_filled_with_the_text_of_a_page(
    words: list[str], monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    assert main([*words, "--format", "html"]) == 2
    out, err = capfd.readouterr()
    assert out == "" and "--output PAGE.html" in err and len(err.splitlines()) == 2


def test_a_page_that_was_written_is_named_on_a_terminal_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    page, folder = tmp_path / "page.html", tmp_path / "pages"
    words = ["check", str(CLEAN), "--only", "no-tempo", "--format", "html", "--output"]
    assert main([*words, str(page)]) == 0 and capfd.readouterr() == ("", "")
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    assert main([*words, str(page)]) == 0 and page.as_uri() in capfd.readouterr().err
    assert main([*words, f"{folder}/"]) == 0
    assert (folder / "index.html").as_uri() in capfd.readouterr().err


@pytest.mark.parametrize("columns", [30, 80])
@pytest.mark.parametrize("words", [[], ["chek", "beat.mid"]], ids=["greeting", "mistake"])
def test_what_is_told_breaks_at_words(words: list[str], columns: int) -> None:
    shown, code = on_terminal(words, columns)
    lines = shown.splitlines()
    assert code == 2 and max(map(len, lines)) <= columns
    piped = subprocess.run(
        [sys.executable, "-m", "basslint", *words], capture_output=True, encoding="utf-8"
    )
    assert shown.split() == piped.stderr.split()


def test_what_a_command_does_goes_on_under_its_first_word() -> None:
    shown, _ = on_terminal([], 80)
    first = next(line for line in shown.splitlines() if "basslint explain" in line)
    after = shown.splitlines()[shown.splitlines().index(first) + 1]
    assert after.index(after.split()[0]) == first.index("a rule")
