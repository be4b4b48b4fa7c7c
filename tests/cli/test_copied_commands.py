"""Commands that a page hands over hear what the page has heard."""

from __future__ import annotations

import html
import re
import shlex
import shutil
from pathlib import Path

import pytest

from basslint.cli.main import main

SAMPLE = Path(__file__).parents[2] / "samples" / "spilled-tea.mid"


def copied(page: str, verb: str, rule: str) -> list[str]:
    """The words of the first command for a finding of a rule, as a shell parts them."""
    told = [html.unescape(text) for text in re.findall(rf"basslint {verb} [^<]*", page)]
    return next(shlex.split(line)[1:] for line in told if rule in line)


def test_commands_of_a_page_state_what_its_run_was_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """slide-after-decay speaks only where a decay is stated: without it nothing would be found."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(SAMPLE, "a tea.mid")
    facts = ["--decay", "1500ms", "--bend-range", "12"]
    words = ["check", "a tea.mid", *facts, "--format", "html", "--no-cache"]
    assert main([*words, "--output", "p.html"]) == 1
    page = Path("p.html").read_text("utf-8")
    mend = copied(page, "mend", "slide-after-decay")
    assert mend[1:6] == ["a tea.mid", "--decay", "1500ms", "--bend-range", "12"]
    assert main(mend) in (0, 1)
    assert "mended" in capfd.readouterr().out and Path("a tea.mended.mid").exists()
    assert main(copied(page, "waive", "slide-after-decay")) == 0
    assert "slide-after-decay" in Path("basslint.toml").read_text("utf-8")
