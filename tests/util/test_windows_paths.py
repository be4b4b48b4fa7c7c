"""Paths as Windows has them: drives, shares, backslashes, names of devices.

Only the flavour of the paths is played (`PureWindowsPath`); nothing here was run on Windows. What
names mean there: “Naming Files, Paths, and Namespaces” of the Windows documentation; URIs of files:
RFC 8089, appendices E.2 and E.3.
"""

from __future__ import annotations

import os
from pathlib import Path, PureWindowsPath

import pytest

from basslint.cli.main import main
from basslint.report.formats import html_folder, json_values, sarif
from basslint.report.formats.html_folder import page_name
from basslint.settings.model import Settings, name_below
from basslint.util.text import shell_word
from basslint.watch.drops import plain

DEVICES = ("con", "prn", "aux", "nul", "com1", "lpt9")


class Windows(PureWindowsPath):
    """A path of a machine whose working folder is ``C:\\Work``."""

    def absolute(self) -> Windows:
        return self if self.is_absolute() else Windows("C:\\Work") / self


@pytest.mark.parametrize(
    ("folder", "path", "name"),
    [
        ("C:\\Beats", "C:\\Beats\\drafts\\x.mid", "drafts/x.mid"),
        ("C:\\Beats", "c:\\beats\\Drafts\\x.mid", "Drafts/x.mid"),  # case does not count
        ("C:\\Work", "drafts\\x.mid", "drafts/x.mid"),
        ("C:\\Work", "drafts/x.mid", "drafts/x.mid"),
        ("C:\\Beats", "D:\\Beats\\x.mid", "x.mid"),  # another drive lies elsewhere
        ("C:\\", "C:\\x.mid", "x.mid"),
        ("\\\\nas\\music", "\\\\nas\\music\\old\\x.mid", "old/x.mid"),
        ("C:\\Beats", "\\\\nas\\music\\x.mid", "x.mid"),
    ],
)
def test_settings_call_a_song_by_slashes_below_their_folder(
    folder: str, path: str, name: str
) -> None:
    assert name_below(Windows(folder), Windows(path)) == name  # type: ignore[arg-type]
    home = Settings(folder=Windows(folder))  # type: ignore[arg-type]
    assert home.name_of(Windows(path)) == name  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("path", "uri"),
    [
        ("C:\\Beats\\night bus.mid", "file:///C:/Beats/night%20bus.mid"),
        ("\\\\nas\\music\\ä.mid", "file://nas/music/%C3%A4.mid"),
        ("C:\\Work\\drafts\\x.mid", "drafts/x.mid"),
        ("drafts\\x.mid", "drafts/x.mid"),
    ],
)
def test_a_report_names_files_by_uris(path: str, uri: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sarif, "PurePath", PureWindowsPath)
    assert sarif._location(path, PureWindowsPath("C:\\Work"))["uri"] == uri  # type: ignore[arg-type]


def test_json_has_slashes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(json_values, "PurePath", PureWindowsPath)
    assert json_values.posix("drafts\\x.mid") == "drafts/x.mid"


@pytest.mark.parametrize("name", [*DEVICES, "con.x", "a:b", "x.", "x ", "?*|<>", "x" * 300, "…"])
def test_a_page_has_a_name_that_a_file_may_have(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(html_folder, "PurePath", PureWindowsPath)
    told = page_name(f"C:\\Beats\\{name}.mid")
    assert told.partition(".")[0].lower() not in DEVICES
    assert not set(told) & set('<>:"/\\|?*') and told.isascii() and len(told) < 80
    assert told.count(".") == 1 and told.endswith(".html")


def test_entries_of_the_cache_are_called_by_figures_and_six_letters(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No device is, and no name there means more than itself."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    song = tmp_path / "con.mid"
    song.write_bytes((Path(__file__).parents[2] / "samples" / "paper-boat.mid").read_bytes())
    assert main(["check", str(song)]) in (0, 1)
    names = {p.name for p in (tmp_path / "basslint").rglob("*")} - {"books"}
    assert len(names) == 3 and set("".join(names)) <= set("0123456789abcdef")
    assert all(not set(device) <= set("0123456789abcdef") for device in DEVICES)


@pytest.mark.parametrize(
    ("name", "shown"),
    [("C:\\Beats\\x.mid", "x.mid"), ("a\\..\\x.mid", "x.mid"), ("x.mid.", "x.mid"), ("a:b", "a-b")],
)
def test_a_dropped_file_is_called_by_its_last_name(name: str, shown: str) -> None:
    assert plain(name) == shown


def test_a_command_to_type_quotes_as_the_shell_there_does(monkeypatch: pytest.MonkeyPatch) -> None:
    assert shell_word("my beats/x.mid") == "'my beats/x.mid'"
    monkeypatch.setattr(os, "name", "nt")
    assert shell_word("my beats\\x.mid") == '"my beats\\x.mid"'
    assert shell_word("C:\\Beats\\x.mid") == "C:\\Beats\\x.mid"
