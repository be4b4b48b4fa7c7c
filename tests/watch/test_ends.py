"""How a run begins and ends: ports, extras, folders that go, disks that are full, Ctrl-C."""

from __future__ import annotations

import importlib.util
import os
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from watch_runs import SAMPLES, Shown, Watching, moved, until

from basslint.cli.main import main

TEA = (SAMPLES / "spilled-tea.mid").read_bytes()


def children(pid: int) -> set[int]:
    """Processes below one, from the table of the system."""
    below: dict[int, list[int]] = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            words = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        below.setdefault(int(words[1]), []).append(int(stat.parent.name))
    found: set[int] = set()
    wanted = [pid]
    while wanted:
        more = below.get(wanted.pop(), [])
        found.update(more)
        wanted += more
    return found


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (["gone"], "gone does not exist."),
        ([".", "--port", "0"], "no number of a port"),
        ([".", "--port", "99999"], "no number of a port"),
        ([".", "--decay", "long"], "no length of time"),
    ],
)
def test_wrong_use_is_told_before_anything_begins(tmp_path, monkeypatch, capsys, words, what):
    monkeypatch.chdir(tmp_path)
    assert main(["watch", *words, "--no-open"]) == 2
    assert what in capsys.readouterr().err


def test_a_port_in_use_is_told_in_words(tmp_path: Path, capsys) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        assert main(["watch", str(tmp_path), "--no-open", "--port", port]) == 2
    assert f"--port: {port} cannot be used" in capsys.readouterr().err


def test_a_missing_extra_is_one_plain_line(tmp_path: Path, monkeypatch, capsys) -> None:
    real = importlib.util.find_spec
    monkeypatch.setattr(
        "basslint.watch.run.find_spec", lambda name: None if name == "uvicorn" else real(name)
    )
    assert main(["watch", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1 and f"{sys.executable} -m pip install 'basslint[watch]'" in told


def test_other_commands_import_nothing_of_it() -> None:
    words = "import sys; from basslint.cli.main import main; main(['check', sys.argv[1]])"
    own = "('starlette', 'uvicorn', 'anyio', 'watchfiles', 'asyncio')"
    ours = "m.startswith('basslint.watch')"
    asked = f"print([m for m in sys.modules if m.split('.')[0] in {own} or {ours}])"
    done = subprocess.run(
        [sys.executable, "-c", f"{words}; {asked}", str(SAMPLES / "two-lamps.mid")],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_run_of_its_own_from_an_empty_folder_to_its_end(browser, tmp_path: Path) -> None:
    watching = Watching(tmp_path, "--decay", "1500ms")
    shown = Shown(browser, watching.address)
    state = shown.page.locator(".follow .state")
    until(lambda: "yet: export one into it" in state.inner_text(), "an empty folder is no fault")
    watching.save(TEA)
    until(lambda: shown.version() > 0, "the first export")

    shutil.rmtree(watching.folder)
    until(lambda: "beats is gone" in state.inner_text(), "the folder is gone")
    assert shown.rules() != []  # what stood on the page stays
    watching.folder.mkdir()
    version = shown.version()
    watching.save(moved(30, 29))
    until(lambda: shown.version() > version and "off-root" not in shown.rules(), "it is back")
    assert "Since the last export" in shown.song().text_content()  # no settings have changed

    song = shown.song()
    watching.folder.chmod(0o500)
    if os.access(watching.folder, os.W_OK):  # root may write everywhere: take the name instead
        watching.folder.chmod(0o700)
        (watching.folder / "tea.mended.mid").mkdir()
    song.locator("[name=set]").select_option("ear")
    song.locator("[data-write]").click()
    until(lambda: "tea.mended.mid" in song.locator(".handed").inner_text(), "why it failed")
    assert "Wrote" not in song.locator(".handed").inner_text()
    watching.folder.chmod(0o700)

    held: list = []  # an answer that is on its way while it ends, and never arrives
    shown.page.route("**/pieces", lambda route: held.append(route))
    watching.save(moved(30, 31))
    until(lambda: state.inner_text() and held, "what is new is asked for")

    before = children(watching.process.pid)
    assert before  # the process that checks
    assert watching.end() == 0
    until(lambda: not any(Path(f"/proc/{pid}").exists() for pid in before), "all of it ended")
    until(lambda: "has ended" in state.inner_text(), "the page says so")
    held[0].abort()
    shown.page.wait_for_timeout(1500)  # it would be asked for again after a second
    assert "has ended" in state.inner_text()
    assert shown.rules() != []
    assert "Traceback" not in watching.log.read_text()
    shown.context.close()
