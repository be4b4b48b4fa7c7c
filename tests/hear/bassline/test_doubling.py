"""What another part sounds is hardly a slip, and a double shows what was meant.

Common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard, judged

from basslint.judging.results import Finding
from basslint.rulebook.loader import read_book

BOOK = read_book()
KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4\n"
LINE = "A1:2 E1:1 A1:1 | F1:2 C2:1 F1:1 | C2:2 G1:1 C2:1 | G1:2 D2:1 G1:1"
SLIP = "A1:2 E1:1 A1:1 | F#1:2 C2:1 F1:1 | C2:2 G1:1 C2:1 | G1:2 D2:1 G1:1"


def up(line: str, octaves: int) -> str:
    """The line some octaves up."""
    return "".join(str(int(c) + octaves) if c in "12" and line[i - 1] in "ABCDEFG#" else c
                   for i, c in enumerate(line))  # fmt: skip


def off_root(text: str) -> list[Finding]:
    return [f for f in judged(text, BOOK).findings if f.rule == "off-root"]


def test_a_double_is_known_by_its_company() -> None:
    chart = heard(f"{KEYS}lead | {up(LINE, 3)} |*4\nsub | {LINE} |*4")
    names = {chart.song.parts[p].name for p in chart.doubling.part.tolist()}
    assert names == {"lead"}
    assert (chart.doubling.tone == chart.bass.pitch % 12).all()
    assert chart.doubling.sounded.all()
    other = heard(f"{KEYS}lead | E5:1 D5:1 C5:1 B4:1 |*16\nsub | {LINE} |*4")
    assert (other.doubling.part == -1).all()


def test_a_chord_that_holds_the_root_doubles_nothing() -> None:
    chart = heard(f"{KEYS}sub | A1:4 | F1:4 | C2:4 | G1:4 |*4")
    assert (chart.doubling.part == -1).all()
    assert chart.doubling.sounded.all()


def test_a_lone_slip_under_a_double_goes_where_the_double_is() -> None:
    (slip,) = off_root(f"{KEYS}lead | {up(LINE, 3)} |*4\nsub | {SLIP} || {LINE} |*3")
    assert slip.fix is not None
    assert (slip.fix.title, slip.fix.kind) == ("Move F#1 to F1", "safe")


@pytest.mark.parametrize("octaves", [2, 3])
def test_no_fix_is_safe_for_what_another_part_sounds(octaves: int) -> None:
    lead = f"lead | {up(SLIP, octaves)} || {up(LINE, octaves)} |*3"
    both = f"{KEYS}{lead}\nsub | {SLIP} || {LINE} |*3"
    found = [f for f in judged(both, BOOK).findings if f.where.bar == 2 and f.part]
    assert all(f.fix is None or f.fix.kind == "by-ear" for f in found)
    chart = heard(both)
    slip = int(np.flatnonzero(chart.bass.pitch == 30)[0])
    assert chart.doubling.sounded[slip]
