"""What holds for one song of a run: how strict, up to which gate, and what is told where it is
given up."""

from __future__ import annotations

from pathlib import Path

import pytest

from basslint.batch.job import Job, Order, lost, may_rest
from basslint.batch.pool import Lost
from basslint.cli.parsing import parse
from basslint.cli.stated import run_options
from basslint.report.section import Sheet
from basslint.rulebook.model import Level
from basslint.settings.model import MOST_UNJUDGED, Settings
from basslint.util.records import replace


def job(*words: str) -> Job:
    return Job(options=run_options(parse(["check", "x.mid", *words])), format="json", sheet=Sheet())


@pytest.mark.parametrize(
    ("words", "stated", "share"),
    [
        ((), None, None),
        (("--strict",), None, MOST_UNJUDGED),
        ((), 0.2, 0.2),
        (("--strict",), 0.2, 0.2),  # the settings say how strict
        (("--strict",), 0.0, 0.0),
    ],
)
def test_how_much_may_stay_unjudged(
    words: tuple[str, ...], stated: float | None, share: float | None
) -> None:
    settings = replace(Settings(), most_unjudged=stated)
    assert job(*words).sheet_for(settings).most_unjudged == share


@pytest.mark.parametrize(
    ("words", "stated", "gate"),
    [
        ((), "error", "error"),
        ((), "note", "note"),
        (("--gate", "warning"), "note", "warning"),
    ],
)
def test_the_gate_of_the_run_wins_over_that_of_the_song(
    words: tuple[str, ...], stated: Level, gate: Level
) -> None:
    assert job(*words).sheet_for(replace(Settings(), gate=stated)).gate == gate


@pytest.mark.parametrize(
    ("answer", "problem", "faults"),
    [
        (Lost("it took over 60 s", "Raise it."), ("It took over 60 s.", "Raise it."), ()),
        (Lost("it died"), None, ("the check gave no answer: it died",)),
    ],
)
def test_a_song_without_an_answer_is_told_and_not_kept(
    answer: Lost, problem: tuple[str, str] | None, faults: tuple[str, ...]
) -> None:
    asked = job()
    outcome = lost(asked, Path("a.mid"), Order(Settings(), (), ""), answer)
    found = outcome.section.problem
    assert (found and (found.message, found.advice)) == problem
    assert outcome.section.faults == faults
    assert not may_rest(outcome)
