"""Slides and rolls that are wrong in every copy are one finding. Common practice, no source."""

from __future__ import annotations

import pytest
from beats import judged

from basslint.rulebook.loader import read_book

KEYS = "keys | A3+C4+E4:4 | A3+C4+E4:4 | F3+A3+C4:4 | G3+B3+D4:4 |*4"
SLIDES = f"""tempo 140
{KEYS}
sub wheel 12
sub bend | 1:0 | 1:0 1.5:0 2:+6 4.8:+6 4.9:0 | 1:0 | 1:0 |*4
sub  | A1:3.5 .:0.5 | A1:3.5 .:0.5 | F1:3.5 .:0.5 | G1:3.5 .:0.5 |*4"""
ROLL = "F2:1/6@70 F2:71/300@78 F2:29/300@86 F2:1/6@94 F2:1/6@102 F2:1/6@110"
ROLLS = f"""tempo 140
keys  | A3+C4+E4:4 | F3+A3+C4:4 |*8
sub   | A1:3.5 .:0.5 | F1:3.5 .:0.5 | A1:3.5 .:0.5 | F1:2 .:1 {ROLL} |*4
drums | C2 D2 C2 D2 |*16"""


def test_a_slide_that_is_wrong_in_every_copy_is_one_finding_as_loud_as_one() -> None:
    (only,) = [f for f in judged(SLIDES, read_book()).findings if f.rule == "slide-off-scale"]
    assert (only.level, only.where.bar, [w.bar for w in only.also]) == ("error", 2, [6, 10, 14])
    assert only.message.startswith("Slides 4 times alike from A1 to D#2")
    assert only.fix is not None
    assert {round(e.tick / 1920) for e in only.fix.edits} >= {1, 5, 9, 13}


def test_a_roll_that_stumbles_in_every_copy_is_one_finding_with_one_fix() -> None:
    (only,) = [f for f in judged(ROLLS, read_book()).findings if f.rule == "roll-off-grid"]
    assert (only.level, only.where.bar, [w.bar for w in only.also]) == ("warning", 4, [8, 12, 16])
    assert only.message.startswith("The roll stumbles 4 times alike")
    assert only.fix is not None and [e.do for e in only.fix.edits] == ["end", "move"] * 4


@pytest.mark.parametrize(("bars", "level"), [((3, 7, 11, 15), "warning"), ((1, 2, 5, 7), "note")])
def test_a_roll_in_every_fourth_bar_a_bar_early_is_told_once(
    bars: tuple[int, ...], level: str
) -> None:
    line = ["C2 D2 C2 C2:1/6x6" if bar in bars else "C2 D2 C2 D2" for bar in range(1, 17)]
    text = f"""tempo 140
marker 1 Verse
marker 5 Verse
marker 9 Hook
marker 13 Hook
keys  | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4
sub   | A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:3.5 .:0.5 | G1:3.5 .:0.5 |*4
drums | {" | ".join(line)} |"""
    told = [f for f in judged(text, read_book()).findings if f.rule == "fill-off-phrase"]
    assert {f.level for f in told} == {level}
    if level == "warning":
        assert [w.bar for w in told[0].also] == [7, 11, 15]
        assert len(told) == 1 and "4 times alike" in told[0].message


def test_what_excuses_some_copies_of_a_roll_does_not_make_several_findings_of_it() -> None:
    """Two beats before the fours end, where some lines may begin a phrase and the last ends all."""
    bars = " | ".join(["C2 D2 C2 D2", "C2 D2 C2 D2", "C2 D2 C2 D2", "C2 D2:1/6@60-110x6 C2 D2"])
    text = f"""tempo 140
keys  | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8
sub   | A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:3.5 .:0.5 | G1:3.5 .:0.5 |*8
drums | {bars} |*8"""
    (only,) = [f for f in judged(text, read_book()).findings if f.rule == "fill-off-phrase"]
    assert sorted(w.bar for w in only.places) == [4, 8, 12, 16, 20, 24, 28, 32]
