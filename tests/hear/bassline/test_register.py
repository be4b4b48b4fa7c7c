"""Basses that lie an octave too high as a whole. Registers: common practice, no source."""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.rulebook.loader import read_book

KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8\n"
HIGH_KEYS = "tempo 140\nkeys | A4+C5+E5:4 | F4+A4+C5:4 | C5+E5+G5:4 | G4+B4+D5:4 |*8\n"


def bass(octave: int, more: str = "") -> str:
    """The roots of the loop from F and G of an octave up to the next C, twice a bar."""
    roots = (f"A{octave}", f"F{octave}", f"C{octave + 1}", f"G{octave}")
    line = " | ".join(f"{root}:2x2" for root in roots)
    return f"sub | {line} |*7 || {line.replace(f'G{octave}:2x2', more) if more else line} |\n"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (KEYS + bass(1), []),
        (KEYS + bass(2), []),  # it comes below A2: some basses do lie there
        (KEYS + bass(3), [53]),
        (KEYS + bass(3, "A1:2x2"), [53]),  # a pair of notes lies low, one in thirty
        (KEYS + bass(3, "A1:.5x8"), []),  # one in nine lies low: it comes down there
        (HIGH_KEYS + bass(3), [53]),  # by its register alone
    ],
)
def test_a_bass_that_hardly_ever_comes_down_lies_high(text: str, told: list[int]) -> None:
    assert heard(text).high_parts.lowest.tolist() == told


@pytest.mark.parametrize(("keys", "levels"), [(KEYS, ["note"]), (HIGH_KEYS, [])])
def test_from_a2_on_chords_at_its_height_must_speak_for_it(keys: str, levels: list[str]) -> None:
    """All but one note in forty lie between A2 and A3, which alone says nothing."""
    line = "sub | A3:1x4 | A2:1x4 | C3:1x4 | C3:1x4 |*7 || A3:1x4 | A2:1x4 | C3:1x4 | G2:1x4 |\n"
    found = [f for f in judged(keys + line, read_book()).findings if f.rule == "octave-too-high"]
    assert [f.level for f in found] == levels


def test_the_lowest_of_several_basses_counts() -> None:
    """An octave layer above the bass is a layer."""
    layer = bass(3).replace("sub", "reese")
    chart = heard(KEYS + bass(1) + layer)
    assert len(chart.parts.bass) == 2 and len(chart.high_parts.part) == 0


def test_too_few_notes_have_no_register() -> None:
    assert len(heard(f"{KEYS}sub | A3:4 | F3:4 | C4:4 | G3:4 |*2").high_parts.part) == 0


def test_it_is_one_finding_with_one_fix_for_all_notes() -> None:
    found = judged(KEYS + bass(3), read_book()).findings
    (only,) = [f for f in found if f.family in ("harmony", "low-end")]
    assert (only.rule, only.level) == ("octave-too-high", "warning")
    assert "it hardly ever comes below F3" in only.message
    assert only.fix is not None and (only.fix.kind, len(only.fix.edits)) == ("by-ear", 64)
    assert {(e.after or 0) - (e.before or 0) for e in only.fix.edits} == {-12}
    assert only.fix.title == "Move all of sub an octave down"
