"""A bass that else begins its chords on their root is told where one begins on a foreign tone."""

from __future__ import annotations

import pytest
from beats import heard

from basslint.judging.judge import judge
from basslint.judging.results import Finding
from basslint.readings.root_habit import figure_root_habit, first_under_chord, root_habit
from basslint.rulebook.loader import read_book

KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4\n"
ROOTS = "| A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |"
WALK = "| A1:2 B1:1.5 .:.5 | G1:2 A1:1.5 .:.5 | D2:2 C2:1.5 .:.5 | A1:2 G1:1.5 .:.5 |"
BOOK = tuple(rule for rule in read_book() if rule.name == "off-root")


def told(bass: str, harmony: str = KEYS) -> list[Finding]:
    return list(judge(heard(f"{harmony}sub {bass}\n"), BOOK).findings)


@pytest.mark.parametrize(
    ("root", "wrong", "bar", "level"),
    [
        ("F1", "G1", 2, "warning"),  # a whole tone up, of the scale, rubs with nothing
        ("C2", "D2", 3, "warning"),
        ("F1", "D#1", 2, "error"),  # not of the scale either
        ("C2", "A1", 3, "warning"),  # the two make Am7
        ("F1", "D2", 2, "warning"),
    ],
)
def test_one_foreign_beginning_among_roots_is_told(
    root: str, wrong: str, bar: int, level: str
) -> None:
    (found,) = told(ROOTS.replace(root, wrong) + ROOTS * 3)
    assert (found.where.bar, found.level) == (bar, level)
    assert "begins all 15 other chords on" in found.message
    assert found.fix is not None and found.fix.kind == "by-ear"
    assert found.fix.title.startswith(f"Move {wrong} to {root[0]}")


@pytest.mark.parametrize(("line", "fixed"), [(ROOTS, "G1"), (WALK, "F#1")])
def test_what_is_off_goes_to_the_root_where_roots_are_the_habit(line: str, fixed: str) -> None:
    """F under Gmaj7 in every copy rubs with the seventh beside it, and stands in the root's
    place; in a line that walks the seventh may as well be meant."""
    keys = KEYS.replace("G3+B3+D4:4", "G3+B3+D4+F#4:4")
    bars = line.strip("| ").split("|")
    findings = told("|" + "|".join([*bars[:3], " F1:3.5 .:.5 |"]) * 4, keys)
    (found,) = [f for f in findings if f.message.startswith("F1")]
    assert found.fix is not None and found.fix.title == f"Move F1 to {fixed}, in all 4 places"


def test_in_every_copy_it_is_told_once_with_its_bars() -> None:
    (found,) = told(ROOTS.replace("F1", "G1") * 4)
    assert found.message.startswith("G1 comes back in 4 bars under F")
    assert "begins all 12 other chords on their root" in found.message
    assert len(found.also) == 3


@pytest.mark.parametrize(("habit", "place"), [(None, "F1"), (1.0, "C2")])
def test_the_page_says_how_strong_a_habit_draws_a_note_to_the_root(
    habit: float | None, place: str
) -> None:
    """B under F–A–C leads to the C beside it, unless the bass begins other chords on their root."""
    book = BOOK if habit is None else (BOOK[0].with_numbers({"habit": habit}),)
    (found,) = judge(heard(f"{KEYS}sub {ROOTS.replace('F1', 'B1') * 4}\n"), book).findings
    assert found.fix is not None
    assert found.fix.title.startswith(f"Move B1 to {place}")


@pytest.mark.parametrize("turns", [4, 2])
def test_a_short_stroke_on_the_tone_that_goes_on_is_a_beginning_too(turns: int) -> None:
    """A stroke on the kick, struck again before the beat is over: common in trap, no source."""
    struck = "G1:.75 G1:2.75 .:.5"
    keys = KEYS.replace("*4", f"*{turns}")
    found = told(ROOTS.replace("F1:3.5 .:.5", struck) * turns, keys)
    (loud,) = [f for f in found if f.level != "note"]
    assert loud.message.startswith(f"G1 comes back in {turns} bars under F")
    assert loud.where.beat == 1.0


@pytest.mark.parametrize(
    "bass",
    [
        ROOTS * 4,
        ROOTS.replace("F1", "A1") + ROOTS * 3,  # a tone of the chord: an inversion
        ROOTS.replace("F1:3.5 .:.5", "F1:2 G1:1.5 .:.5") * 4,  # after the root
        ROOTS.replace("F1:3.5", "G1:.5 F1:3") * 4,  # short
        WALK * 4,  # a line of its own
    ],
)
def test_what_keeps_to_its_ways_is_silent(bass: str) -> None:
    assert [f for f in told(bass) if "other chords" in f.message] == []


def test_few_chords_are_no_habit() -> None:
    keys = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |\n"
    chart = heard(f"{keys}sub {ROOTS.replace('F1', 'G1')}\n")
    assert root_habit(chart).max() < 0.88


def test_habit_is_the_share_of_the_others_with_half_a_chord_on_either_side() -> None:
    chart = heard(f"{KEYS}sub {ROOTS.replace('F1', 'G1') + ROOTS * 3}\n")
    assert first_under_chord(chart).all()
    assert root_habit(chart)[1] == pytest.approx(15.5 / 16)  # all of 15
    assert root_habit(chart)[0] == pytest.approx(14.5 / 16)  # all but the wrong one
    copies = heard(f"{KEYS}sub {ROOTS.replace('F1', 'G1') * 4}\n")
    assert root_habit(copies)[1] == pytest.approx(12.5 / 16)
    assert figure_root_habit(copies)[1] == pytest.approx(12.5 / 13)


def test_stated_roots_are_a_habit_too() -> None:
    stated = "tempo 140\nchords A F C G\nkick | C2:1x4 |*16\n"
    (found,) = told(ROOTS.replace("F1", "G1") + ROOTS * 3, stated)
    assert found.where.bar == 2 and "as stated" in found.message
    for third in ("A1", "C2"):  # where roots alone are stated a chord's other tones may be right
        assert told(ROOTS.replace("F1", third) + ROOTS * 3, stated) == []
