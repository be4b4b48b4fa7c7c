"""The width of a terminal is what the standard library says of it."""

from __future__ import annotations

import os
import shutil

import pytest

from basslint.util.terminal import columns


@pytest.mark.parametrize("named", [None, "", "0", "-3", "132", " 40 ", "wide"])
@pytest.mark.parametrize("real", [None, 0, 200])
def test_it_is_named_or_asked_for_or_usual(
    named: str | None, real: int | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def size(_descriptor: int) -> os.terminal_size:
        if real is None:
            raise OSError
        return os.terminal_size((real, 24))

    monkeypatch.setattr("os.get_terminal_size", size)
    monkeypatch.setattr("sys.__stdout__", open(os.devnull))  # noqa: PTH123, SIM115
    monkeypatch.delenv("COLUMNS", raising=False)
    if named is not None:
        monkeypatch.setenv("COLUMNS", named)
    assert columns() == shutil.get_terminal_size().columns


def test_a_closed_terminal_has_the_usual_width(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.setattr("sys.__stdout__", None)
    assert columns() == shutil.get_terminal_size().columns == 80
