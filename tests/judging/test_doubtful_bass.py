"""What is said of a part that may be no bass is a note, until somebody says that it is one."""

from __future__ import annotations

from dataclasses import replace

import pytest
from beats import heard

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.judging.hits import SURE_BASS
from basslint.judging.judge import judge
from basslint.rulebook.loader import read_book

BOOK = [rule for rule in read_book() if rule.name in ("off-root", "stuck-note")]
BEAT = """tempo 140
keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4
low | A1:4 | F#1:4 | C2:4 | G1:4 || A1:4 | F1:4 | C2:4 | G1:4~never || A1:4 | F1:4 | C2:4 | G1:4 |*2
"""


def told(certainty: float, facts: Facts, rival: int = -1) -> dict[str, tuple[str, str]]:
    song = heard(BEAT).song
    chart = Chart(song, facts)
    sure = chart.parts.certainty.copy()
    sure[chart.parts.bass[0]] = certainty
    chart.parts = replace(chart.parts, certainty=sure, rival=rival)
    return {f.rule: (f.level, f.message) for f in judge(chart, BOOK).findings}


@pytest.mark.parametrize(
    ("certainty", "facts", "level"),
    [
        (SURE_BASS - 0.01, Facts(), "note"),
        (SURE_BASS, Facts(), "error"),
        (SURE_BASS - 0.01, Facts(bass=("low",)), "error"),  # stated
    ],
)
def test_an_unsure_bass_is_not_accused(certainty: float, facts: Facts, level: str) -> None:
    said = told(certainty, facts)
    assert said["off-root"][0] == level
    assert ("name the bass with --bass" in said["off-root"][1]) is (level == "note")
    assert said["stuck-note"][0] == "error"  # whatever the part plays


def test_where_another_part_may_as_well_be_the_bass_it_is_asked() -> None:
    level, message = told(1.0, Facts(), rival=0)["off-root"]
    assert level == "note"
    assert message.endswith("Part #1 is as likely the bass as this one: name the bass with --bass.")
