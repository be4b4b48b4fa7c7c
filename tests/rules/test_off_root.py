"""What `off-root` and its family flag, and what of a right bass line they leave alone.

Chords and scales: Open Music Theory. Patterns, pedals and pushes: common practice, no source.
"""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.fixes.low_end import octave_down
from basslint.judging.judge import judge
from basslint.rulebook.loader import read_book

BOOK = [r for r in read_book() if r.family in ("harmony", "low-end")]
KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"


def found(text: str) -> list[tuple[str, str, int, float]]:
    return [(f.rule, f.level, f.where.bar, f.where.beat) for f in judged(text, BOOK).findings]


@pytest.mark.parametrize(
    ("why", "sub"),
    [
        ("each chord's root", "A1:4 | F1:4 | C2:4 | G1:4"),
        ("one root all through", "A1:4 | A1:4 | A1:4 | A1:4"),
        ("the root and its octave", "A1:2 A2:2 | F1:2 F2:2 | C2:2 C1:2 | G1:2 G2:2"),
        ("root and fifth", "A1:3 E2:1 | F1:3 C2:1 | C2:3 G1:1 | G1:3 D2:1"),
        ("root and third", "A1:3 C2:1 | F1:3 A1:1 | C2:3 E2:1 | G1:3 B1:1"),
        ("passing tones", "A1:3 G1:1 | F1:3 E1:1/2 D1:1/2 | C1:3 E1:1/2 F1:1/2 | G1:3 B1:1"),
        ("a neighbour", "A1:2 B1:.5 A1:1.5 | F1:4 | C2:4 | G1:4"),
        ("a semitone into the next root", "A1:3.5 F#1:.5 | F1:3.5 B1:.5 | C2:3.5 F#1:.5 | G1:4"),
        ("a push of an eighth", "A1:3.5 F1:.5~3 | .:3.5 C2:.5~3 | .:3.5 G1:.5~3.5 | .:4"),
        ("a push of a sixteenth", "A1:3.75 F1:.25~3 | .:3.75 C2:.25~3 | .:3.75 G1:.25~3.5 | .:4"),
        ("played late by 20 ms", ".:.05 A1:3.9 | .:.1 F1:3.9 | .:.1 C2:3.9 | .:.1 G1:3.9"),
        ("held a little over", "A1:4~.25 | .:.25 F1:3.75~.25 | .:.25 C2:3.75~.25 | .:.25 G1:3.75"),
        ("rolls on the root", "A1:3 A1:1/6x6 | F1:4 | C2:4 | G1:3 G2:1/8x8"),
    ],
)
def test_a_right_line_is_left_alone(why: str, sub: str) -> None:
    assert found(f"{KEYS}sub | {sub} |*4") == [], why


def test_played_early_by_a_hair() -> None:
    """The whole bass 15 ms before the grid: every onset lies under the chord before."""
    early = ".:.965 | F1:4 | C2:4 | G1:4 |".replace(".:.965", "A1:3.965")
    assert found(f"{KEYS}sub | {early}*4") == []


def test_steps_down_after_four_bars() -> None:
    keys = "A3+C4+E4:4 |*4 || G3+B3+D4:4 |*2 || F3+A3+C4:4 |*2"
    assert found(f"tempo 140\nkeys | {keys}\nsub | A1:4 |*4 || G1:4 |*2 || F1:4 |*2") == []


def test_steps_over_one_chord() -> None:
    """The stepwise pattern under a harmony that stays: common practice, no source."""
    keys = "tempo 140\nkeys | A3+C4+E4:4 |*16\n"
    line = "sub | A1:4 |*4 || G1:4 |*2 || F1:4 |*2 || A1:4 |*4 || G1:4 |*2 || F1:4 |*2"
    assert [f for f in found(keys + line) if f[0] == "off-root" and f[1] != "note"] == []


WRONG = [
    ("a semitone over the root", "F#1", "error", "F1", "safe"),
    ("a semitone under the root", "E1", "error", "F1", "safe"),
    ("a semitone under the third", "G#1", "error", "F1", "by-ear"),
    ("outside the scale", "D#1", "error", "F1", "by-ear"),
    ("a fourth over the root", "Bb1", "error", "F1", "by-ear"),
]


@pytest.mark.parametrize(
    ["why", "note", "level", "right", "kind"], WRONG, ids=[w[0] for w in WRONG]
)
def test_a_wrong_note_is_flagged_and_brought_home(
    why: str, note: str, level: str, right: str, kind: str
) -> None:
    roots = "A1:4 | F1:4 | C2:4 | G1:4"
    sub = f"sub | A1:4 | {note}:4 | C2:4 | G1:4 || {roots} |*3"
    (only,) = judged(KEYS + sub, BOOK).findings
    assert (only.rule, only.level, only.where.bar) == ("off-root", level, 2)
    assert only.fix is not None
    assert (only.fix.title, only.fix.kind) == (f"Move {note} to {right}", kind)
    assert only.message.startswith(f"{note} holds 4 beats under F; the root is F. ")
    said = ("Nobody else plays " + note[:-1], "The bass begins all 15 other chords on their root")
    assert any(words in only.message for words in said)


@pytest.mark.parametrize("note", ["G1", "D2"])
def test_a_note_of_the_scale_that_rubs_with_nothing_may_be_meant(note: str) -> None:
    """A ninth, and a third under the root, which makes Dm7: told of a bass that else plays roots,
    and never as an error; in one that never plays the same there they are colours."""
    sub = f"sub | A1:4 | {note}:4 | C2:4 | G1:4 || A1:4 | F1:4 | C2:4 | G1:4 |*3"
    assert [f[:3] for f in found(KEYS + sub)] == [("off-root", "warning", 2)]
    turns = "C2:4 | F1:4 | E2:4 | B1:4 || C2:4 | A1:4 | E2:4 | B1:4 || C2:4 | F1:4 | G1:4 | G1:4"
    moving = f"sub | A1:4 | {note}:4 | C2:4 | G1:4 || {turns} |"
    assert [f for f in found(KEYS + moving) if f[0] == "off-root" and f[1] != "note"] == []


def test_a_third_under_all_through_is_only_noted() -> None:
    """A under C–E–G is Am7 (Open Music Theory): a way to write, not a slip."""
    keys = "tempo 140\nkeys | C4+E4+G4:4 | C4+E4+G4:4 | G3+B3+D4:4 | F3+A3+C4:4 |*4\n"
    levels = {f[1] for f in found(f"{keys}sub | A1:4 | A1:4 | G1:4 | F1:4 |*4")}
    assert levels <= {"note"}


def test_one_wrong_note_is_one_finding() -> None:
    """It is off the root, outside the scale, and rubs with the held C: the first says it all."""
    sub = "sub | A1:4 | F1:4 | C#2:4 | G1:4 || A1:4 | F1:4 | C2:4 | G1:4 |*3"
    assert found(KEYS + sub) == [("off-root", "error", 3, 1.0)]


def test_the_fix_takes_the_octave_that_the_line_uses() -> None:
    """C#2 could go to C2 a semitone down; where the part plays C1 all along, C1 it is not, unless
    it is near: the nearest root wins against a pitch in use that lies an octave off.
    """
    sub = "sub | A1:4 | F1:4 | C#2:4 | G1:4 || A1:4 | F1:4 | C1:4 | G1:4 |*3"
    (only,) = judged(KEYS + sub, BOOK).findings
    assert only.fix is not None and only.fix.title == "Move C#2 to C2"


@pytest.mark.parametrize(
    ("sub", "bar", "says"),
    [
        ("A1:4~1 | .:1 F1:3 | C2:4 | G1:4", 1, "A1 stays 1 beat after the harmony has gone on."),
        ("A1:2 F1:2~4 | .:4 | C2:4 | G1:4", 1, "F1 comes 2 beats before the harmony changes"),
        # the bass has gone on to the fifth of A minor meanwhile, and F is no tone of that
        ("A1:1 E2:1 F1:2~4 | .:4 | C2:4 | G1:4", 1, "F1 comes 2 beats before the harmony"),
        # it began a hair before its own chord
        ("A1:3.98 F1:4.02~1.5 | .:4 | .:1.5 C2:2.5 | G1:4", 1, "F1 stays 1.5 beats after"),
    ],
)
def test_late_and_early_changes(sub: str, bar: int, says: str) -> None:
    found = judged(f"{KEYS}sub | {sub} || A1:4 | F1:4 | C2:4 | G1:4 |*3", BOOK).findings
    (only,) = [f for f in found if f.where.bar == bar]
    assert only.rule == "late-change"
    assert only.message.startswith(says)
    assert only.fix is not None and only.fix.kind == "by-ear"


def test_a_late_note_that_began_a_hair_early_is_mended_at_its_end() -> None:
    sub = "A1:3.98 F1:4.02~1.5 | .:4 | .:1.5 C2:2.5 | G1:4 || A1:4 | F1:4 | C2:4 | G1:4 |*3"
    found = [f for f in judged(f"{KEYS}sub | {sub}", BOOK).findings if f.rule == "late-change"]
    assert found[0].fix is not None
    assert {e.after for e in found[0].fix.edits} == {8 * 480}


def test_a_late_change_is_mended_onto_the_kick_that_plays_the_change() -> None:
    """Where the harmony stands on the grid and the drummer a little behind it."""
    sub = "A1:4~1 | .:1 F1:3 | C2:4 | G1:4 || A1:4 | F1:4 | C2:4 | G1:4 |*3"
    drums = "drums | C2:2 D2:2 | .:.02 C2:1.98 D2:2 | C2:2 D2:2 | C2:2 D2:2 |*4"
    chart = heard(f"{KEYS}sub | {sub}\n{drums}")
    found = [f for f in judge(chart, BOOK).findings if f.rule == "late-change"]
    assert found[0].fix is not None
    kick = round(4.02 * chart.song.division)
    assert {edit.after for edit in found[0].fix.edits} == {kick}


@pytest.mark.parametrize("row", [0, 1])
def test_a_change_is_only_noted_where_either_chord_is_in_doubt(row: int) -> None:
    chart = heard(f"{KEYS}sub | A1:4~1 | .:1 F1:3 | C2:4 | G1:4 || A1:4 | F1:4 | C2:4 | G1:4 |*3")
    chart.roots.certainty[row] = 0.6
    (first, *_) = [f for f in judge(chart, BOOK).findings if f.rule == "late-change"]
    assert (first.level, first.where.bar) == ("note", 1)


@pytest.mark.parametrize(
    "sub",
    [
        "C2:2 G2:2~1.5 | .:1.5 A1:2.5 | F1:4 | G1:4",  # G over Am is its seventh
        "C2:2 E2:2~1.5 | .:1.5 A1:2.5 | F1:4 | G1:4",  # E is in both
    ],
)
def test_a_tone_that_the_new_chord_takes_is_not_late(sub: str) -> None:
    keys = "tempo 140\nkeys | C3+E3+G3:4 | A3+C4+E4:4 | F3+A3+C4:4 | G3+B3+D4:4 |*4\n"
    rest = "C2:4 | A1:4 | F1:4 | G1:4"
    found = judged(f"{keys}sub | {sub} || {rest} |*3", BOOK).findings
    assert not [f for f in found if f.rule == "late-change"]


def test_a_fifth_that_ends_at_the_change_has_not_come_early_for_the_next_root() -> None:
    keys = "tempo 140\nkeys | C3+E3+G3:4 | G3+B3+D4:4 | A3+C4+E4:4 | F3+A3+C4:4 |*4\n"
    sub = "sub | C2:2 G2:2~.02 | .:.02 G1:3.98 | A1:4 | F1:4 |*4"
    assert not [f for f in judged(keys + sub, BOOK).findings if f.rule == "late-change"]


@pytest.mark.parametrize("early", ["0.5", "0.54"])
def test_a_push_of_an_eighth_may_be_played_a_little_early(early: str) -> None:
    sub = f"A1:{4 - float(early)} F1:{early}~4 | .:4 | C2:4 | G1:4"
    assert judged(f"{KEYS}sub | {sub} |*4", BOOK).findings == ()


@pytest.mark.parametrize(
    ("gap_beats", "flagged"),
    # a beat at 140 bpm lasts 60 000 / 140 = 428.6 ms
    [
        (0.0, False),
        (0.004, False),
        (0.02, False),
        (0.03, True),
        (0.08, True),
        (0.12, False),
        (0.5, False),
    ],
)
def test_kick_flam_lies_between_10_and_40_ms(gap_beats: float, flagged: bool) -> None:
    rest = f".:{gap_beats} " if gap_beats else ""
    sub = f"sub | {rest}A1:3 | A1:4 |*4"
    text = f"tempo 140\nkeys | A3+C4+E4:4 |*8\nkick | C2:4 |*8\n{sub}"
    assert any(rule == "kick-flam" for rule, *_ in found(text)) is flagged


@pytest.mark.parametrize(
    ("note", "flagged"),
    # ISO 16 and equal temperament: B0 30.87 Hz, A#0 29.14 Hz
    [("B0", False), ("A#0", True)],
)
def test_too_low_is_a_matter_of_hertz(note: str, flagged: bool) -> None:
    text = f"tempo 140\nkeys | B3+D4+F#4:4 |*4\nsub | B1:4 | {note}:4 | B1:4 | B1:4 |"
    assert any(rule == "too-low" for rule, *_ in found(text)) is flagged


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("A2:4 | A4:4 | A2:4 | E2:4", "Move A4 2 octaves down"),  # where the part plays it
        ("D2:4 | A4:4 | C2:4 | E2:4", "Move A4 3 octaves down"),  # near its middle
        ("A1:4 | A4:4 | A1:4 | A2:4", "Move A4 3 octaves down"),
        ("A2:4 | A0:4 | A2:4 | E2:4", "Move A0 2 octaves up"),
        # one note far off says nothing of where the part plays
        ("C2:4 | A0:4 | A5:1 E2:3 | E2:4", "Move A0 2 octaves up"),
        # nothing goes where few systems sound it
        ("A0:4 | A4:4 | A0:4 | A0:4", "Move A4 3 octaves down"),
    ],
)
def test_a_note_out_of_register_goes_where_its_part_plays_that_tone(line: str, says: str) -> None:
    found = judged(f"tempo 140\nkeys | A3+C4+E4:4 |*4\nsub | {line}", BOOK).findings
    fixes = [f.fix.title for f in found if f.rule in ("too-high", "too-low") and f.fix]
    assert says in fixes


@pytest.mark.parametrize(
    ("figure", "octaves"),
    [
        ("A4:1 C5:1 E5:1 C5:1", {"2"}),  # E by itself would go to E2, which the part plays
        ("A4:1 E6:1", {"3"}),  # A by itself would go to A2
        ("A4:2 D7:2", {"2", "4"}),  # what no octave carries together goes each by itself
    ],
)
def test_notes_that_follow_one_another_out_of_register_move_alike(
    figure: str, octaves: set[str]
) -> None:
    """A figure keeps its shape: common practice, no source."""
    text = f"tempo 140\nkeys | A3+C4+E4:4 |*6\nsub | A2:4 |*3 || {figure} | E2:4 | A2:4 |"
    chart = heard(text)
    fixes = [octave_down(chart, row, {"highest_hz": 250.0}) for row in range(len(chart.bass))]
    assert {fix.title.split()[2] for fix in fixes if fix} == octaves
    assert [fix is None for fix in fixes[:3]] == [True] * 3


def test_what_is_said_counts_frequencies() -> None:
    text = "tempo 140\nkeys | A3+C4+E4:4 |*4\nsub | A1:4 | A0:4 | A1:4 | A1:4 |"
    messages = [f.message for f in judge(heard(text), BOOK).findings]
    assert messages == ["A0 is 27.5 Hz; below 30 Hz few systems sound it."]


@pytest.mark.parametrize(
    ("sub", "level"),
    [
        ("A1:2 F1:2~4 | .:4 | C2:4 | G1:4", "warning"),  # F is no tone of A minor
        ("A1:4 | F1:2 C2:2~4 | .:4 | G1:4", "note"),  # C is the fifth of F
    ],
)
def test_a_new_root_that_the_old_chord_has_is_only_noted_when_early(sub: str, level: str) -> None:
    found = judged(f"{KEYS}sub | {sub} || A1:4 | F1:4 | C2:4 | G1:4 |*3", BOOK).findings
    assert [(f.rule, f.level) for f in found] == [("late-change", level)]


@pytest.mark.parametrize(("push", "told"), [("1/2", False), ("1.5", True)])
def test_a_push_of_an_eighth_is_one_in_compound_time_too(push: str, told: bool) -> None:
    """In 6/8 a beat of the meter is an eighth; common practice, no source."""
    length = {"1/2": "2.5", "1.5": "1.5"}[push]
    keys = "tempo 120\nmeter 6/8\nkeys | A3+C4+E4:3 | F3+A3+C4:3 | C3+E3+G3:3 | G3+B3+D4:3 |*4\n"
    sub = f"sub | A1:{length} F1:{push}~3 | .:3 | C2:3 | G1:3 || A1:3 | F1:3 | C2:3 | G1:3 |*3"
    assert (("late-change", "warning") in [f[:2] for f in found(keys + sub)]) == told


@pytest.mark.parametrize(
    ("line", "whole"),
    [("A0:4 | F0:4 | C1:4 | G0:4", True), ("A1:4 | A0:4 | C2:4 | A0:4", False)],
)
def test_a_part_that_lies_an_octave_low_is_one_finding_that_says_so(line: str, whole: bool) -> None:
    keys = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4"
    more = f"{line} || A1:4 | F1:4 | C2:4 | G1:4 |*3" if not whole else f"{line} |*4"
    found = judged(f"tempo 140\n{keys}\nsub | {more}", BOOK).findings
    (only,) = [f for f in found if f.rule == "too-low"]
    assert ("an octave too low as a whole" in only.message) is whole
    assert only.fix is not None
    assert (only.fix.title == "Move all of sub an octave up") is whole
