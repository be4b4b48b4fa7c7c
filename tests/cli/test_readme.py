"""What README.md shows is what the commands print."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

import basslint
from basslint.cli.main import main
from basslint.smf.chunks import DEFAULT_LIMITS, Limits
from basslint.util.records import names_of

ROOT = Path(__file__).parents[2]


def test_the_findings_shown_are_those_that_its_first_command_prints(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    command = re.search(r"<!-- command try -->\n```sh\n.*?bin/basslint (.*?)\n```", readme, re.S)
    shown = re.search(r"^## What it prints\n.*?^```text\n(.*?)^```", readme, re.M | re.S)
    assert command and shown
    monkeypatch.chdir(ROOT)
    assert main([*command[1].split(), "--no-cache"]) == 1
    printed = capsys.readouterr().out
    findings = shown[1].rstrip("\n").split("\n\n")
    assert len(findings) == 2
    for finding in findings:  # to the last space
        assert f"\n{finding}\n" in printed


def test_the_version_that_it_names_is_that_of_the_package() -> None:
    """In the example for pre-commit, in the list of changes, in the package itself."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    version = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["version"]
    assert re.findall(r"^    rev: v(\S+)", readme, re.M) == [version]
    changes = readme[readme.index("\n## Changes\n") :]
    newest = re.search(r"^\*\*(\d\S*?)\*\*", changes, re.M)
    assert newest and newest[1] == version
    assert basslint.__version__ == version


def test_the_limits_that_it_lists_are_those_that_hold() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    listed = re.findall(r"^\| `(max_\w+)` \| ([\d,]+) \|", readme, re.M)
    assert listed == [(name, f"{getattr(DEFAULT_LIMITS, name):,}") for name in names_of(Limits)]
