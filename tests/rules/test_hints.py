"""A slip on the command line is answered with what was probably meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from basslint.cli.main import main
from basslint.cli.parsing import parse
from basslint.cli.stated import run_options
from basslint.rulebook.loader import read_book
from basslint.settings.model import Settings

SAMPLES = Path(__file__).parents[2] / "samples"
OFF = str(SAMPLES / "spilled-tea.mid")
BOOK = read_book()


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["chek", OFF], "Did you mean check?"),
        (["check", OFF, "--format", "txt"], "Did you mean text?"),
        (["check", OFF, "--gate", "notes"], "Did you mean note?"),
        (["check", OFF, "--gate", "ERROR"], "Did you mean error?"),
        (["check", OFF, "--fromat", "text"], "Did you mean --format?"),
        (["check", OFF, "--only", "off-rot"], "Did you mean off-root?"),
        (["check", OFF, "--without", "harmny"], "Did you mean harmony?"),
        (["check", "-dash.mid"], "Write ./-dash.mid for the file."),
        (["mend", "--dash.MID"], "Write ./--dash.MID for the file."),
        (["explain", "zzzz"], "`basslint rules` lists them."),
    ],
)
def test_a_slip_gets_a_hint(
    words: list[str], hint: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 2 and lines[1] == hint


def test_a_file_after_two_dashes_or_after_an_equals_sign_is_a_file() -> None:
    assert parse(["check", "--", "-dash.mid"]).paths == ["-dash.mid"]
    assert parse(["mend", "a.mid", "--output=-b.mid"]).output == "-b.mid"


@pytest.mark.parametrize(
    ("words", "left"),
    [
        (["--only", "OFF-Root"], {"off-root"}),
        (["--only", "harmony"], {r.name for r in BOOK if r.family == "harmony"}),
        (
            ["--only", "Harmony", "--without", "off-root"],
            {r.name for r in BOOK if r.family == "harmony"} - {"off-root"},
        ),
        (["--without", "harmony"], {r.name for r in BOOK if r.family != "harmony"}),
    ],
)
def test_rules_are_named_one_by_one_or_by_their_family(words: list[str], left: set[str]) -> None:
    options = run_options(parse(["check", OFF, *words]))
    assert {r.name for r in options.choose(Settings(), BOOK)} == left


def test_mending_takes_families_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["mend", OFF, "--dry-run", "--only", "Harmony"]) == 0
    told = capsys.readouterr().out
    assert "off-root · Sub: Move F#1 to F1" in told and "1 fix would be applied" in told
    assert main(["mend", OFF, "--dry-run", "--without", "harmony"]) == 0
    assert "Move F#1 to F1" not in capsys.readouterr().out.split("still stands")[0]


def test_a_rule_s_page_is_found_whatever_its_capitals(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "OFF-ROOT"]) == 0
    assert "off-root" in capsys.readouterr().out
