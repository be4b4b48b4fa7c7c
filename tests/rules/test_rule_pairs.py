"""Mending for one rule trips no other, over every sample and every example of every page.

Where two rules cannot both be served, the pair stands in `CHOICES` with its reason.
"""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

import pytest
from beats import report

from basslint.hear.facts import Facts
from basslint.judging.results import FileReport
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat

SAMPLES = Path(__file__).parents[2] / "samples"
BOOK = read_book()

# (mended, tripped): why the user must choose
CHOICES: dict[tuple[str, str], str] = {}


def songs() -> dict[str, tuple[bytes, Facts]]:
    found = {p.stem: (p.read_bytes(), Facts(decay_s=1.5)) for p in sorted(SAMPLES.glob("*.mid"))}
    for rule in BOOK:
        for number, example in enumerate(rule.examples):
            beat = compile_beat(example.text)
            found[f"{rule.name} {number}"] = (beat.data, beat.facts)
    return found


SONGS = songs()


def judged(name: str, data: bytes) -> FileReport:
    return report(data, SONGS[name][1], BOOK)


@cache
def before(name: str) -> FileReport:
    return judged(name, SONGS[name][0])


def count(result: FileReport) -> Counter[str]:
    return Counter(f.rule for f in result.findings)


@pytest.mark.parametrize("name", SONGS)
def test_mending_for_one_rule_trips_no_other(name: str) -> None:
    data, _ = SONGS[name]
    for rule in sorted({f.rule for f in before(name).findings if f.fix is not None}):
        result = mend(
            data, lambda raw: judged(name, raw), Choice(by_ear=True, only=frozenset({rule}))
        )
        assert result.applied or result.conflicts, rule
        assert result.faults == ()
        tripped = count(result.after) - count(before(name))
        for other in tripped:
            assert (rule, other) in CHOICES, f"mending for {rule} trips {other}"


@pytest.mark.parametrize("name", SONGS)
def test_mending_twice_changes_nothing(name: str) -> None:
    data, _ = SONGS[name]
    once = mend(data, lambda raw: judged(name, raw), Choice(by_ear=True))
    twice = mend(once.data, lambda raw: judged(name, raw), Choice(by_ear=True))
    assert once.faults == twice.faults == ()
    assert twice.data == once.data
    assert twice.applied == ()
