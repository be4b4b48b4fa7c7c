"""Basses that lie an octave too high or too low as a whole. Common practice, no source."""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.hear.bassline.register import hear_high_parts
from basslint.hear.chart import Chart
from basslint.rulebook.loader import read_book
from basslint.util.records import replace

BOOK = read_book()
CELLO = 42  # General MIDI, from 0
KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8\n"
HIGH_KEYS = "tempo 140\nkeys | A4+C5+E5:4 | F4+A4+C5:4 | C5+E5+G5:4 | G4+B4+D5:4 |*8\n"


def bass(octave: int, more: str = "") -> str:
    """The roots of the loop from F and G of an octave up to the next C, twice a bar."""
    roots = (f"A{octave}", f"F{octave}", f"C{octave + 1}", f"G{octave}")
    line = " | ".join(f"{root}:2x2" for root in roots)
    return f"sub | {line} |*7 || {line.replace(f'G{octave}:2x2', more) if more else line} |\n"


def levels(text: str) -> list[str]:
    """How loud it is told that the bass of a beat lies high."""
    return [f.level for f in judged(text, BOOK).findings if f.rule == "octave-too-high"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (KEYS + bass(1), []),
        (KEYS + bass(2), []),  # many basses lie there
        (KEYS + bass(3), ["warning"]),
        (KEYS + bass(3, "A1:2x2"), ["warning"]),  # a pair of notes lies low, one in thirty
        (KEYS + bass(3, "A1:.5x8"), []),  # one in nine lies low: it comes down there
        (HIGH_KEYS + bass(3), ["warning"]),  # by its register alone
    ],
)
def test_a_bass_that_hardly_ever_comes_down_lies_high(text: str, told: list[str]) -> None:
    assert levels(text) == told


@pytest.mark.parametrize(("keys", "told"), [(KEYS, ["note"]), (HIGH_KEYS, [])])
def test_from_a2_on_chords_at_its_height_must_speak_for_it(keys: str, told: list[str]) -> None:
    """All but one note in forty lie between A2 and A3, which alone says less."""
    line = "sub | A3:1x4 | A2:1x4 | C3:1x4 | C3:1x4 |*7 || A3:1x4 | A2:1x4 | C3:1x4 | G2:1x4 |\n"
    assert levels(keys + line) == told


@pytest.mark.parametrize("name", ["sub", "bass"])
def test_the_register_of_strings_tells_nothing(name: str) -> None:
    """Nor does that of a part beside them, where they lie as low."""
    chart = heard(KEYS + bass(3) + bass(3).replace("sub", "bass"))
    parts = tuple(replace(p, program=CELLO) if p.name == name else p for p in chart.song.parts)
    strings = Chart(replace(chart.song, parts=parts), chart.facts).with_parts_of(chart)
    assert len(chart.high_parts.part) == 1 and len(strings.high_parts.part) == 0


@pytest.mark.parametrize(
    ("program", "name", "told"),
    [(1, "low", 0), (27, "low", 0), (81, "low", 0), (81, "sub", 1), (0, "low", 1), (38, "low", 1)],
)
def test_another_instrument_lies_at_its_own_height(program: int, name: str, told: int) -> None:
    """A bright piano, a guitar, a lead; a lead that is named a bass, the first piano, a bass."""
    chart = heard(KEYS + bass(3))
    parts = tuple(
        replace(p, program=program, name=name) if p.name == "sub" else p for p in chart.song.parts
    )
    other = Chart(replace(chart.song, parts=parts), chart.facts).with_parts_of(chart)
    assert len(other.high_parts.part) == told


@pytest.mark.parametrize(
    ("line", "low"),
    [
        ("A1:4 | F1:4 | C2:4 | G1:4", False),
        ("E1:4 | F1:4 | C1:4 | G1:4", False),  # down to 33 Hz, as basses of five strings go
        ("A1:2 A0:2 | F1:4 | C1:4 | G1:4", False),  # one note in five lies under 30 Hz
        ("A0:4 | F0:4 | C1:4 | G0:4", True),
        ("A1:4 | F0:4 | C2:4 | G1:4", False),  # its middle lies where basses do
    ],
)
def test_what_lies_low_as_a_whole_is_told_by_all_of_its_register(line: str, low: bool) -> None:
    found = judged(f"{KEYS}sub | {line} |*8", BOOK).findings
    assert any("an octave too low as a whole" in f.message for f in found) == low


def test_the_lowest_of_several_basses_counts() -> None:
    """An octave layer above the bass is a layer."""
    layer = bass(3).replace("sub", "reese")
    chart = heard(KEYS + bass(1) + layer)
    assert len(chart.parts.bass) == 2 and len(chart.high_parts.part) == 0


@pytest.mark.parametrize(("octave", "told"), [(1, 0), (2, 0), (4, 1)])
def test_where_another_bass_sound_lies_lower_that_is_the_bass(octave: int, told: int) -> None:
    """What was heard as the bass is a second line of one then, and stands where it is meant."""
    song = heard(KEYS + bass(3) + bass(octave).replace("sub", "pluck")).song
    keys, sub, pluck = range(3)
    others = song.notes_of(keys, pluck)
    assert len(hear_high_parts(song.notes_of(sub), others).part) == 1
    assert len(hear_high_parts(song.notes_of(sub), others, by_program=(pluck,)).part) == told


def test_too_few_notes_have_no_register() -> None:
    assert len(heard(f"{KEYS}sub | A3:4 | F3:4 | C4:4 | G3:4 |*2").high_parts.part) == 0


def test_it_is_one_finding_with_one_fix_for_all_notes() -> None:
    found = judged(KEYS + bass(3), BOOK).findings
    (only,) = [f for f in found if f.family in ("harmony", "low-end")]
    assert (only.rule, only.level) == ("octave-too-high", "warning")
    assert "it hardly ever comes below F3" in only.message
    assert only.fix is not None and (only.fix.kind, len(only.fix.edits)) == ("by-ear", 64)
    assert {(e.after or 0) - (e.before or 0) for e in only.fix.edits} == {-12}
    assert only.fix.title == "Move all of sub an octave down"
