"""Two sources beside each other: where they differ, and by how much."""

from __future__ import annotations

import pytest
from beats import heard, judged
from made_roots import made_roots

from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import LOOP, no_roots
from basslint.hear.harmony.witnesses import compare
from basslint.report.grouping import grouped, place
from basslint.rulebook.loader import read_book

BAR = 4 * 480
TWO = (
    "tempo 140\nkick | C2:1x4 |*8\n"
    "keys | D4+F4+A4:4 | {} |*4\nsub | D1:3.5 .:.5 | A#1:3.5 .:.5 |*4\n"
)


def beat(chords: str, second: str) -> str:
    return f"chords {chords}\n" + TWO.format(second)


@pytest.mark.parametrize(
    ("chords", "second", "differs", "apart"),
    [
        ("Dm Bb", "A#3+D4+F4:4", False, 0),
        ("Dm Bb", "B3+D#4+F#4:4", True, 1),
        ("D Bb", "B3+D#4+F#4:4", True, 1),
        ("Dm Bb", "C4+E4+G4:4", True, 2),
        ("Dm Bb", "E3+G#3+B3:4", True, 6),
        ("Dm Bb6", "G3+A#3+D4+F4:4", False, 3),  # G minor 7, the same notes
        ("D Bb", "G3+A#3+D4:4", True, 3),  # roots alone: nothing says that the notes are the same
        ("Dm N.C.", "B3+D#4+F#4:4", False, 0),
    ],
)
def test_stated_and_heard_are_compared(chords: str, second: str, differs: bool, apart: int) -> None:
    chart = heard(beat(chords, second))
    found = chart.witnesses
    second_bars = (found.start // BAR) % 2 == 1
    assert found.differ[~second_bars].any() == False  # noqa: E712  # numpy's own False
    assert set(found.differ[second_bars].tolist()) <= {differs}
    assert set(found.apart[second_bars].tolist()) <= {apart}
    assert second_bars.any() == ("N.C." not in chords)


def test_a_difference_is_a_note_of_its_bar_and_no_fault_of_the_bass() -> None:
    verdict = judged(beat("Dm Bb", "B3+D#4+F#4:4"), read_book())
    found = [f for f in verdict.findings if f.family == "harmony"]
    assert {(f.rule, f.level, f.part) for f in found} == {("chords-disagree", "note", None)}
    assert [f.where.bar for f in found] == [2, 4, 6, 8]
    assert found[0].message.startswith("Stated Bb, heard B in keys: a semitone.")
    assert len({f.cause for f in found}) == 1
    assert place(grouped(found)[0]) == "bars 2, 4, 6 and 8, beat 1"


def test_nothing_stated_has_no_second_witness() -> None:
    assert len(heard(TWO.format("B3+D#4+F#4:4")).witnesses) == 0


@pytest.mark.parametrize(
    ("end", "certainty", "division", "told"),
    [
        (432, 0.95, 480, True),  # a beat, played a little short, is no ragged edge any more
        (431, 0.95, 480, False),
        (431, 0.95, 240, True),
        (480, CERTAIN, 480, True),
        (480, CERTAIN - 0.01, 480, False),
    ],
)
def test_two_sure_witnesses_of_a_beat_are_compared(
    end: int, certainty: float, division: int, told: bool
) -> None:
    loop = made_roots([0], [4 * 480], [2], certainty=certainty, source=LOOP)
    midi = made_roots([0], [end], [9])
    found = compare(loop, midi, division)
    assert (len(found) == 1) is told
    if told:
        assert found.end.tolist() == [end]
        assert found.apart.tolist() == [5]  # a fifth up is a fourth down
        assert found.differ.tolist() == [True]


def test_one_witness_has_nobody_to_differ_with() -> None:
    one = made_roots([0], [960], [2])
    assert [len(compare(*pair, 480)) for pair in ((one, no_roots()), (no_roots(), one))] == [0, 0]
