"""Basses that lie an eighth, a quarter or (half) a bar off the rest. Common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard, judged

from basslint.judging.judge import judge
from basslint.readings.base import registered
from basslint.rulebook.loader import read_book
from basslint.util.records import replace

KEYS = "keys  | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4"
DRUMS = "drums | C2:1 D2:1 C2:1 D2:1 |*16"
ROOTS = ("A1", "F1", "C2", "G1")


def song(late: float, keys: str = KEYS, drums: str = DRUMS) -> str:
    """Roots on each of five eighths in a bar, all of them later by so many quarters."""
    slots = [slot for root in ROOTS * 4 for slot in (root, root, root, ".", root, root, ".", ".")]
    slots = [half for slot in slots for half in (slot, ".")]  # sixteenths
    by = int(4 * late)
    moved = ["."] * by + slots[: len(slots) - by] if by >= 0 else slots[-by:] + ["."] * -by
    bars = [" ".join(f"{s}:.25" for s in moved[at : at + 16]) for at in range(0, len(moved), 16)]
    return f"tempo 140\n{keys}\n{drums}\nsub | {' | '.join(bars)} |"


@pytest.mark.parametrize("late", [-4.0, -2.0, -1.0, -0.5, 0.5, 1.0, 2.0, 4.0])
def test_a_part_that_lies_off_is_told_with_how_far(late: float) -> None:
    chart = heard(song(late))
    moved = chart.displacements
    assert (moved.ticks / chart.song.division).tolist() == [late]
    assert moved.certainty[0] > 0.6


@pytest.mark.parametrize("late", [0.0, 0.25])
def test_in_place_or_a_sixteenth_off_it_is_silent(late: float) -> None:
    assert len(heard(song(late)).displacements.part) == 0


def test_one_tone_all_through_has_no_changes_to_tell_it_by() -> None:
    assert (
        len(
            heard(
                song(-1.0).replace("F1", "A1").replace("C2:.25", "A1:.25").replace("G1", "A1")
            ).displacements.part
        )
        == 0
    )


def test_drums_that_beat_each_quarter_do_not_hide_it() -> None:
    drums = "drums | C2:1 C2:1 C2:1 C2:1 |*16"
    assert len(heard(song(-1.0, drums=drums)).displacements.part) == 1


def test_under_one_chord_without_drums_nothing_says_where_it_belongs() -> None:
    assert len(heard(song(-1.0, keys="keys | A3+C4+E4:4 |*16", drums="")).displacements.part) == 0


@pytest.mark.parametrize(
    ("late", "words"), [(-2.0, "half a bar early"), (2.0, "half a bar late"), (4.0, "a bar late")]
)
def test_it_is_told_in_words_how_far(late: float, words: str) -> None:
    (only,) = [f for f in judged(song(late), read_book()).findings if f.rule == "bass-misplaced"]
    assert only.message.startswith(f"Sub lies {words} from its first note")
    assert only.fix is not None and only.fix.title.startswith("Move all of sub half a bar") == (
        abs(late) == 2.0
    )


@pytest.mark.parametrize(("step", "least"), [(0.5, 0.7), (1.0, 0.45), (4.0, 0.45)])
@pytest.mark.parametrize("side", [-1, 1])
def test_an_eighth_off_must_be_surer_than_a_beat(step: float, least: float, side: int) -> None:
    (rule,) = [rule for rule in read_book() if rule.name == "bass-misplaced"]
    chart = heard(song(side * step))
    found = chart.displacements
    assert found.ticks.tolist() == [round(side * step * chart.song.division)]
    for chance in (least - 0.01, least + 0.01):
        asked = heard(song(side * step))
        asked._moved = chart.shifts, replace(found, certainty=np.array([chance]))
        assert len(judge(asked, [rule]).findings) == (chance > least)


@pytest.mark.parametrize(("beside", "told"), [(0.0, []), (0.5, ["sub"]), (None, ["sub"])])
def test_off_beats_answer_a_bass_in_its_place(beside: float | None, told: list[str]) -> None:
    """Alone, or with a bass that lies off as well, the same line is off."""
    roots = [ROOTS[bar % 4] for bar in range(16)]
    sub = " | ".join(
        f".:.5 {root}:.5 .:.5 {root}:.5 .:.5 {root}:.5 .:.5 {root}:.5" for root in roots
    )
    text = f"tempo 140\n{KEYS}\n{DRUMS}\nsub | {sub} |"
    if beside is not None:
        text += song(beside).splitlines()[-1].replace("sub", "\nreese", 1)
    chart = heard(text)
    names = [chart.song.parts[part].name for part in chart.displacements.part]
    assert [name for name in names if name == "sub"] == told


def test_in_two_four_half_a_bar_is_a_quarter_and_is_tried_once() -> None:
    keys = "keys | A3+C4+E4:2 | F3+A3+C4:2 | C3+E3+G3:2 | G3+B3+D4:2 |*8"
    roots = " | ".join(f"{a}:1 {b}:1" for a, b in zip(ROOTS, (*ROOTS[1:], ROOTS[0]), strict=True))
    text = f"tempo 140\nmeter 2/4\n{keys}\ndrums | C2:1 D2:1 |*32\nsub | {roots} |*8"
    found = heard(text).displacements
    assert found.ticks.tolist() == [-480] and found.certainty[0] > 0.9


def test_it_is_one_finding_whose_fix_brings_all_notes_back() -> None:
    found = judged(song(-1.0), read_book()).findings
    (only,) = [f for f in found if f.family in ("harmony", "low-end")]
    assert (only.rule, only.level) == ("bass-misplaced", "warning")
    assert only.message.startswith("Sub lies a quarter early from its first note to its last")
    assert only.fix is not None and only.fix.kind == "by-ear"
    assert only.fix.title == "Move all of sub a quarter later"
    division = heard(song(-1.0)).song.division
    assert {(e.after or 0) - (e.before or 0) for e in only.fix.edits} == {division}


def test_an_off_beat_bass_between_the_kicks_of_house_is_in_place() -> None:
    """Each note half-way between two kicks; where some meet a kick the same move is told."""
    drums = "drums | C2:1 C2:1 C2:1 C2:1 |*16"
    bars = " | ".join(" ".join([f".:.5 {root}:.5"] * 4) for root in ROOTS)
    line = f"tempo 125\n{KEYS}\n{drums}\nsub | {bars} |*4"
    assert len(heard(line).displacements.part) == 0
    late = heard(song(0.5, drums=drums)).displacements
    assert (late.ticks / 480).tolist() == [0.5]


@pytest.mark.parametrize(("late", "told"), [(0.0, []), (0.5, [0.5])])
def test_a_bass_on_the_beats_is_answered_by_chords_between_them(
    late: float, told: list[float]
) -> None:
    """Oom-pah, as in polka and ska (common practice, no source): nobody moves it to the chords."""
    chords = ("A3+C4+E4", "F3+A3+C4", "C4+E4+G4", "G3+B3+D4")
    keys = " | ".join(" ".join([f".:.5 {chord}:.5"] * 4) for chord in chords)
    fifths = dict(zip(ROOTS, ("E2", "C2", "G1", "D2"), strict=True))
    line = " | ".join(f"{root}:.5 .:.5 {fifths[root]}:.5 .:.5 " * 2 for root in ROOTS)
    first = f".:{late} " if late else ""
    text = f"tempo 140\nkeys | {keys} |*4\nsub | {first}{line} |*4"
    found = heard(text).displacements
    assert (found.ticks / 480).tolist() == told


@pytest.mark.parametrize(
    ("late", "rests", "enters", "level"),
    [
        (4.0, 3, True, "note"),  # a bar of its own after three of rests
        (4.0, 4, False, "warning"),
        (4.0, 5, False, "warning"),  # neither here nor moved back
        (2.0, 3.5, True, "note"),
        (2.0, 4, False, "warning"),
        (1.0, 3.75, True, "warning"),  # by a quarter where it enters tells less
        (-4.0, 5, True, "warning"),  # early
        (0.5, 4, False, "warning"),  # as near to the line if it were moved back
    ],
)
def test_where_a_bass_enters_with_four_bars_it_may_be_in_its_place(
    late: float, rests: float, enters: bool, level: str
) -> None:
    """The chords repeat every four bars; the line is silent for so many bars before it is moved."""
    head, line = song(0.0).rsplit("\n", 1)
    bars = line.removeprefix("sub | ").removesuffix(" |").split(" | ")
    slots = [slot for bar in bars for slot in bar.split()]
    silent = int(16 * rests)
    root = slots[silent - silent % 16]
    slots = [".:.25"] * silent + [root] + slots[silent + 1 :]
    by = int(4 * late)
    moved = [".:.25"] * by + slots[: len(slots) - by] if by >= 0 else slots[-by:] + [".:.25"] * -by
    line = " | ".join(" ".join(moved[at : at + 16]) for at in range(0, len(moved), 16))
    chart = heard(f"{head}\nsub | {line} |")
    assert (chart.displacements.ticks / chart.song.division).tolist() == [late]
    reading = registered("displacement")["enters_with_four_bars"]
    assert reading.column(chart).tolist() == [enters]
    (rule,) = [rule for rule in read_book() if rule.name == "bass-misplaced"]
    assert [f.level for f in judge(chart, [rule]).findings] == [level]
