"""Several runs that change one file at once: none takes back what another has written."""

from __future__ import annotations

import multiprocessing
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

import basslint.util.locks
from basslint.errors import MendError
from basslint.settings.waiver_writer import add_waivers
from basslint.util.locks import changing
from basslint.waivers.model import Waiver


def add_ten(home: Path, worker: int) -> None:
    for n in range(10):
        add_waivers(home, [Waiver(rule=f"rule-{worker}-{n}", song="a.mid", reason="it is meant")])


def test_a_hundred_waivers_at_once_are_a_hundred_waivers(tmp_path: Path) -> None:
    home = tmp_path / "basslint.toml"
    context = multiprocessing.get_context("fork")
    processes = [context.Process(target=add_ten, args=(home, n)) for n in range(10)]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
    text = home.read_text(encoding="utf-8")
    assert all(text.count(f'"rule-{w}-{n}"') == 1 for w in range(10) for n in range(10))
    assert [p.name for p in tmp_path.iterdir()] == ["basslint.toml"]  # no lock is left


def test_who_waits_too_long_is_told_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(basslint.util.locks, "LONGEST_WAIT_S", 0.05)
    with (
        changing(tmp_path / "a.toml"),
        pytest.raises(MendError, match="held by another run"),
        changing(tmp_path / "a.toml"),
    ):
        pass
    with changing(tmp_path / "a.toml"):  # it was let go of
        pass


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(MendError, match="could not be locked"), changing(tmp_path / "no" / "a"):
        pass


def test_on_windows_a_file_stands_for_the_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """There a folder cannot be opened; its own calls are played here, not run on such a system."""
    held: set[str] = set()

    def locking(descriptor: int, _mode: int, _bytes: int) -> None:
        name = str(Path(f"/proc/self/fd/{descriptor}").readlink())
        if name in held:
            raise PermissionError(13, "Permission denied")
        held.add(name)

    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(basslint.util.locks, "LONGEST_WAIT_S", 0.05)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "temp"))
    monkeypatch.setitem(sys.modules, "msvcrt", SimpleNamespace(locking=locking, LK_NBLCK=2))
    (tmp_path / "temp").mkdir()
    with changing(tmp_path / "a.toml"), changing(tmp_path / "b.toml"):
        assert len(held) == 2
        with pytest.raises(MendError), changing(tmp_path / "a.toml"):
            pass
    assert list(tmp_path.glob("*.lock")) == []
