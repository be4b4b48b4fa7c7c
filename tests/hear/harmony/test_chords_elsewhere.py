"""Chords in parts that are not the harmony. What a power chord is: common practice, no source."""

from __future__ import annotations

import pytest
from beats import heard

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts

TUNE = "C5:.5 D5:.5 E5:1 G5:.5 E5:.5 D5:1"
KEYS = "keys | E3+G3+B3+D4:4 | E3+G3+B3+D4:4 | .:4 | .:4 |*4"
SUB = "sub | E1:4 |*16"


def roots(lead: str) -> list[tuple[int, int]]:
    """Bar from 1 and root of each stretch that is heard."""
    text = "\n".join(("tempo 120", KEYS, f"lead | {lead}", SUB))
    chart = heard(text)
    assert chart.parts.role[[p.name for p in chart.song.parts].index("lead")] == "melody"
    found = zip(chart.roots.start, chart.roots.root.tolist(), strict=True)
    return [(int(chart.song.grid.bar_of(int(start))) + 1, root) for start, root in found]


@pytest.mark.parametrize(
    ("bar", "root"),
    [
        ("F4+A4+C5:2 F4+A4+C5:2", 5),
        ("F3+C4:1 F3+C4:1 F3+C4:1 F3+C4:1", 5),  # a power chord
        (TUNE, None),  # no chord: the loop of the keys is silent there
        ("F4+A4:1 G4+B4:1 A4+C5:1 B4+D5:1", None),  # a tune in thirds
        ("F4+C5:.5 E5:.5 D5:.5 C5:.5 E5:.5 D5:.5 C5:1", None),  # one double stop in a tune
    ],
)
def test_a_melody_that_plays_chords_for_a_bar_is_harmony_there(bar: str, root: int | None) -> None:
    lead = f"{TUNE} | {TUNE} | {bar} | {TUNE} | " + f"{TUNE} | " * 12
    found = dict(roots(lead.strip().removesuffix("|") + "|"))
    assert (5 in found.values()) is (root is not None)
    if root is not None:
        assert found[3] == root


def test_where_the_user_states_the_harmony_no_other_part_joins() -> None:
    lead = f"{TUNE} | {TUNE} | F4+A4+C5:4 | {TUNE} | " + f"{TUNE} | " * 11 + f"{TUNE} |"
    chart = heard("\n".join(("tempo 120", KEYS, f"lead | {lead}", SUB)))
    assert len(chart.chord_rows_elsewhere) == 3
    stated = Chart(chart.song, Facts(harmony=("keys",)))
    assert len(stated.chord_rows_elsewhere) == 0
    assert 5 not in stated.roots.root
