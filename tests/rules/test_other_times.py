"""What the other times tell of a bass note: another tone in every other turn, another octave, and
strokes too short to be judged one by one. Common practice, no source."""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.readings.approach import tone_stands
from basslint.readings.octaves import octave_bars, outside_register, usual_octave_away
from basslint.readings.recurrence import copies_otherwise
from basslint.readings.slip_words import copies_words
from basslint.rulebook.loader import read_book

BOOK = [r for r in read_book() if r.name in ("off-root", "octave-slip", "too-low")]
KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
# a line that begins half of its chords on other tones: its habit tells nothing
OTHERS = "E2:4 | F1:4 | C2:4 | B1:4"


def found(sub: str) -> list[tuple[str, str, int]]:
    findings = judged(f"{KEYS}sub | {sub}", BOOK).findings
    return [(f.rule, f.level, f.where.bar) for f in findings]


def test_what_all_other_turns_play_otherwise_is_told() -> None:
    sub = f"{OTHERS} || E2:4 | G1:4 | C2:4 | B1:4 || {OTHERS} |*2"
    (only,) = judged(f"{KEYS}sub | {sub}", BOOK).findings
    assert (only.rule, only.level, only.where.bar) == ("off-root", "warning", 6)
    assert only.message.endswith("; the other 3 times the bass has F there.")
    assert only.fix is not None and only.fix.title == "Move G1 to F1"


@pytest.mark.parametrize(
    ("why", "second"),
    [
        ("one other turn has it too", "E2:4 | G1:4 | C2:4 | B1:4 || " * 2 + f"{OTHERS} |"),
        ("it passes by step", f"E2:4 | F1:3 G1:1 | A1:4 | B1:4 || {OTHERS} || {OTHERS} |"),
    ],
)
def test_what_the_line_explains_is_let_be(why: str, second: str) -> None:
    assert [f for f in found(f"{OTHERS} || {second}") if f[1] != "note"] == [], why


@pytest.mark.parametrize(
    ("turn", "plain", "odd", "told"),
    [
        (OTHERS, "F1:4", "G1:2 F1:2", []),
        (OTHERS, "F1:4", "G1:2 A1:2", [("off-root", "warning", 6)]),
        # in a line that begins its chords on their root, not the first under its chord
        ("A1:4 | F1:4 | C2:4 | G1:4", "F1:1 C2:1 A1:2", "F1:1 G1:2 F1:1", []),
        (
            "A1:4 | F1:4 | C2:4 | G1:4",
            "F1:1 C2:1 A1:2",
            "F1:1 G1:2 A1:1",
            [("off-root", "warning", 6)],
        ),
    ],
)
def test_what_resolves_down_is_let_be(
    turn: str, plain: str, odd: str, told: list[tuple[str, str, int]]
) -> None:
    """G under F, where all other turns have F, or C (suspensions: Open Music Theory)."""
    turns = [turn.replace("F1:4", bar) for bar in (plain, odd, plain, plain)]
    assert [f for f in found(" || ".join(turns)) if f[1] != "note"] == told


def test_copies_are_counted_and_named() -> None:
    chart = heard(f"{KEYS}sub | {OTHERS} || E2:4 | G1:4 | C2:4 | B1:4 || {OTHERS} |*2")
    assert copies_otherwise(chart).tolist() == [0, 0, 0, 0, 0, 3] + [0] * 10
    assert copies_words(chart)[5] == "the other 3 times the bass has F there"
    assert set(copies_words(chart)) == {None, copies_words(chart)[5]}


ROOTS = "A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5"
WRONG = "F#1:1/4 .:3/4"


@pytest.mark.parametrize(
    ("why", "bar", "told"),
    [
        ("struck on each beat", f"{WRONG} {WRONG} {WRONG} {WRONG}", True),
        ("twice in a row", f"{WRONG} {WRONG} F1:2", True),
        ("once", f"{WRONG} F1:3", False),
        ("twice, with another tone between", f"{WRONG} F1:1 {WRONG} F1:1", False),
    ],
)
def test_sixteenths_that_are_struck_again_are_no_graces(why: str, bar: str, told: bool) -> None:
    sub = f"{ROOTS} || A1:3.5 .:.5 | {bar} | C2:3.5 .:.5 | G1:3.5 .:.5 || {ROOTS} |*2"
    assert (("off-root", "warning", 6) in found(sub)) is told, why


def test_strokes_that_follow_one_another_are_one_stand() -> None:
    chart = heard(f"{KEYS}sub | F1:1/4 .:3/4 F1:1/4 .:7/4 F1:1/4 .:3/4 | A1:4 |*8")
    assert tone_stands(chart)[:4].tolist() == [0.5, 0.5, 0.25, 4.0]


def octaves(sixth: str, times: int = 2) -> list[tuple[str, str, int]]:
    turn = f"A1:3.5 .:.5 | {sixth} | C2:3.5 .:.5 | G1:3.5 .:.5"
    return found(f"{ROOTS} || {turn} || {ROOTS} |*{times}")


def test_an_octave_off_in_one_bar_is_told() -> None:
    """Down it is warned of, since small speakers lose it; up it is noted."""
    assert octaves("F2:3.5 .:.5") == [("octave-slip", "note", 6)]
    low = KEYS + f"sub | {ROOTS} || {ROOTS.replace('G1', 'G0', 1)} || {ROOTS} |*2"
    assert [f.rule for f in judged(low, BOOK).findings] == ["too-low"]
    high = "A2:4 | F2:4 | C3:4 | G2:4"
    (only,) = judged(
        f"{KEYS}sub | {high} || A2:4 | F1:4 | C3:4 | G2:4 || {high} |*2", BOOK
    ).findings
    assert (only.rule, only.level, only.where.bar) == ("octave-slip", "warning", 6)
    assert only.message == (
        "F1 (43.65 Hz) lies below all that sub else plays; elsewhere it has F2."
    )
    assert only.fix is not None
    assert (only.fix.title, only.fix.kind) == ("Move F1 to F2", "by-ear")


HIGH = "A2:4 | F2:4 | C3:4 | G2:4"
DOWN = HIGH.replace("F2", "F1")


def along(sixth: str) -> str:
    """A tune that comes down to the bass in bar 6."""
    up = "E5:1 C5:1 A4:2"
    return f"lead | {up} |*5 || {sixth} || {up} |*10"


@pytest.mark.parametrize(
    ("why", "sub", "other", "told"),
    [
        ("amid the line", f"{HIGH} || {DOWN} || {HIGH} |*2", "", "warning"),
        ("it opens the song", f"{HIGH.replace('A2', 'A1')} || {HIGH} |*3", "", "note"),
        ("it ends the song", f"{HIGH} |*3 || {HIGH.replace('G2', 'G1')}", "", "note"),
        ("after a rest", f"{HIGH} || .:4 | F1:4 | C3:4 | G2:4 || {HIGH} |*2", "", "note"),
        ("another goes along", f"{HIGH} || {DOWN} || {HIGH} |*2", along("F1:3 .:1"), None),
        ("for less than half", f"{HIGH} || {DOWN} || {HIGH} |*2", along("F1:1 .:3"), "warning"),
    ],
)
def test_where_an_octave_down_stands(why: str, sub: str, other: str, told: str | None) -> None:
    report = judged(f"{KEYS}sub | {sub}\n{other}", BOOK)
    assert [f.level for f in report.findings if f.rule == "octave-slip"] == [told] * bool(told), why


@pytest.mark.parametrize(
    ("why", "bar"),
    [
        ("short", "F1:3 F2:1/2 .:1/2"),
        ("both octaves in the bar", "F1:2 F2:2"),
        ("a roll up there", "F2:1/6x6 F1:3"),
    ],
)
def test_octaves_as_a_way_of_playing_are_let_be(why: str, bar: str) -> None:
    assert octaves(bar) == [], why


def test_an_octave_within_what_is_played_else_is_let_be() -> None:
    sub = "A1:4 | F1:4 | C2:4 | G1:2 G2:2"
    assert found(f"{sub} || A1:4 | F2:4 | C2:4 | G1:2 G2:2 || {sub} |*2") == []


def test_one_turn_an_octave_up_is_one_finding() -> None:
    up = "A2:3.5 .:.5 | F2:3.5 .:.5 | C3:3.5 .:.5 | G2:3.5 .:.5"
    (only,) = judged(f"{KEYS}sub | {ROOTS} || {up} || {ROOTS} |*2", BOOK).findings
    assert (only.rule, only.level) == ("octave-slip", "note")
    assert sorted(where.bar for where in only.places) == [5, 6, 7, 8]


def test_how_far_an_octave_lies_outside() -> None:
    two = "A1:4 | F1:4 | C2:4 | G1:4 || A1:4 | F2:4 | C2:4 | G1:4 |"
    chart = heard(f"{KEYS}sub | {two}| {two}")
    assert not usual_octave_away(chart).any()  # in every other bar it is a habit
    chart = heard(f"{KEYS}sub | {ROOTS} || A1:4 | F2:4 | C2:4 | G1:4 || {ROOTS} |*2")
    assert usual_octave_away(chart).tolist() == [0] * 5 + [-12] + [0] * 10
    assert outside_register(chart).tolist() == [0] * 5 + [5] + [0] * 10  # F2 over C2
    assert octave_bars(chart)[5] == 1


def test_what_steps_through_is_no_exception() -> None:
    """F, and G beside it for a beat, where all other turns have F at once: a neighbour note."""
    walk = "E2:3 F1:1 | G1:1 F1:3 | C2:4 | B1:4"
    assert [f for f in found(f"{OTHERS} || {walk} || {OTHERS} |*2") if f[1] != "note"] == []


def test_rolls_up_there_are_no_register() -> None:
    rolled = ROOTS.replace("G1:3.5 .:.5", "G1:3 G2:1/6x6")
    up = rolled.replace("F1", "F2")
    assert found(f"{rolled} || {up} || {rolled} |*2") == [("octave-slip", "note", 6)]


ONE = "tempo 140\nkeys | A3+C4+E4:4 |*24\nsub | "


@pytest.mark.parametrize(
    ("why", "bars", "told"),
    [
        ("two bars of 24", "A1:4 |*10 || A2:4 |*2 || A1:4 |*12", [("note", 11)]),
        ("four of 24", "A1:4 |*10 || A2:4 |*4 || A1:4 |*10", []),
        ("one of three", "A1:4 | A2:4 | A1:4 || E1:4 |*21", []),
        ("down in one bar", "A2:4 |*10 || A1:4 || A2:4 |*13", [("warning", 11)]),
        ("down in two", "A2:4 |*10 || A1:4 |*2 || A2:4 |*12", [("note", 11)]),
    ],
)
def test_how_often_another_octave_is_an_exception(
    why: str, bars: str, told: list[tuple[str, int]]
) -> None:
    rule = [r for r in BOOK if r.name == "octave-slip"]
    findings = judged(f"{ONE}{bars}", rule).findings
    assert [(f.level, f.where.bar) for f in findings] == told, why


STEPS = "tempo 140\nkeys | A3+C4+E4:4 | G3+B3+D4:4 | C4+E4+G4:4 | F3+A3+C4:4 |*4\n"
TURN = "A1:3.5 .:.5 | G1:3.5 .:.5 | C2:3.5 .:.5 | F1:3.5 .:.5"
HELD = TURN.replace("G1", "A1")


@pytest.mark.parametrize(
    ("turns", "told"),
    [
        ((TURN, HELD, TURN, TURN), [("off-root", "warning", 6)]),
        ((TURN, HELD, HELD, TURN), []),  # then the line has both
    ],
)
def test_a_tonic_held_over_where_all_other_turns_change_is_no_pedal(
    turns: tuple[str, ...], told: list[tuple[str, str, int]]
) -> None:
    findings = judged(f"{STEPS}sub | {' || '.join(turns)} |", BOOK).findings
    loud = [f for f in findings if f.level != "note"]
    assert [(f.rule, f.level, f.where.bar) for f in loud] == told
