"""Names of notes follow the middle C of the user's gear, and what is waived stays waived."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from beats import report

from basslint.hear.facts import Facts
from basslint.judging.results import FileReport
from basslint.rulebook.loader import read_book

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.mid"))
BOOK = read_book()
NAME = re.compile(r"(?<![A-Za-z])([A-G][#b]?)(-?\d)(?!\d)")


def told(path: Path, middle_c: int) -> FileReport:
    facts = Facts(decay_s=1.5, sound_pitch=30.0, root_key=36.0)
    return report(path.read_bytes(), replace(facts, middle_c=middle_c), BOOK)


def lower(text: str) -> str:
    """A sentence with all octaves one lower, as where C3 is MIDI note 60."""
    return NAME.sub(lambda m: f"{m[1]}{int(m[2]) - 1}", text)


@pytest.mark.parametrize("path", SAMPLES[::2], ids=lambda path: path.stem)
def test_every_message_and_fix_speaks_of_the_same_octaves(path: Path) -> None:
    here, there = told(path, 4).findings, told(path, 3).findings
    assert [f.message for f in there] == [lower(f.message) for f in here]
    titles = [[f.fix.title if f.fix else "" for f in side] for side in (here, there)]
    assert titles[1] == [lower(title) for title in titles[0]]
    assert [f.fingerprint for f in there] == [f.fingerprint for f in here]
