"""Whole basses, and stretches of them, that lie semitones off the other parts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from beats import heard, judged

from basslint.hear.bassline import shift
from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.rulebook.loader import read_book

KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8\n"
ROOTS = (33, 29, 36, 31)  # A1, F1, C2, G1
NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def line(moved: int, bars: int) -> str:
    """The roots of the loop, all moved by some semitones, for some bars."""
    notes = [ROOTS[bar % 4] + moved for bar in range(bars)]
    return " | ".join(f"{NAMES[p % 12]}{p // 12 - 1}:2x2" for p in notes)


@pytest.mark.parametrize("moved", [-6, -3, -2, -1, 1, 2, 3, 6])
def test_a_whole_bass_that_lies_off_is_told_with_its_shift(moved: int) -> None:
    shifts = heard(f"{KEYS}sub | {line(moved, 32)} |").shifts
    assert len(shifts.start) == 1 and bool(shifts.whole[0])
    assert abs(int(shifts.semitones[0])) == abs(moved)
    assert (int(shifts.semitones[0]) - moved) % 12 == 0
    assert shifts.certainty[0] > 0.5


@pytest.mark.parametrize(
    "sub",
    [
        line(0, 32),
        " | ".join(["A1:3.5 .:.5"] * 32),  # one root all through
        " | ".join(["A1:2 A2:1.5 .:.5", "F1:2 C2:1.5 .:.5", "C2:4", "G1:2 B1:1.5 .:.5"] * 8),
    ],
)
def test_a_right_line_is_not_off(sub: str) -> None:
    assert len(heard(f"{KEYS}sub | {sub} |").shifts.start) == 0


def test_a_stretch_of_eight_bars_is_told_where_it_lies() -> None:
    sub = " | ".join((line(0, 16), line(1, 8), line(0, 8)))
    chart = heard(f"{KEYS}sub | {sub} |")
    shifts, bar = chart.shifts, 4 * chart.song.division
    assert shifts.semitones.tolist() == [1] and not bool(shifts.whole[0])
    assert int(shifts.start[0]) <= 16 * bar < 24 * bar <= int(shifts.end[0])


@pytest.mark.parametrize("moved", [1, -1, 2])
def test_a_stretch_of_four_bars_is_told_where_it_lies(moved: int) -> None:
    sub = " | ".join((line(0, 12), line(moved, 4), line(0, 16)))
    chart = heard(f"{KEYS}sub | {sub} |")
    shifts, bar = chart.shifts, 4 * chart.song.division
    assert shifts.semitones.tolist() == [moved] and not bool(shifts.whole[0])
    assert (int(shifts.start[0]), int(shifts.end[0])) == (12 * bar, 16 * bar)


def test_two_stretches_are_told_apart() -> None:
    sub = " | ".join((line(0, 4), line(1, 4), line(0, 8), line(-1, 8), line(0, 8)))
    assert heard(f"{KEYS}sub | {sub} |").shifts.semitones.tolist() == [1, -1]


def test_what_the_bounds_rule_out_would_be_told_no_shift_either(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    random = np.random.default_rng(16)
    ruled_out = told = 0
    for _ in range(60):
        bars = [line(0, 32).split(" | ")[bar] for bar in range(32)]
        off, many = random.integers(-6, 7), random.integers(0, 6)
        first = random.integers(0, 28)
        for bar in (*range(first, first + many), *random.integers(0, 32, many // 2)):
            bars[bar] = line(int(off), int(bar) + 1).split(" | ")[-1]
        chart = heard(f"{KEYS}sub | {' | '.join(bars)} |")
        root = chart._root_under(chart.bass_chords)
        asked = (chart.bass, chart.accompaniment, root, chart.song.grid)
        found = [0, 0]
        for place, bound in enumerate((shift._may_lie_off, lambda *_: True)):
            with monkeypatch.context() as patched:
                patched.setattr(shift, "_may_lie_off", bound)
                found[place] = len(shift.hear_shifts(*asked).start)
        assert found[0] == found[1]
        ruled_out += not shift._may_lie_off(
            *asked[:3],
            shift._weight(*asked[:2], chart.song.division),
            int(asked[0].part[0]),
            asked[3],
        )
        told += found[0] > 0
    assert ruled_out >= 10 and told >= 3


def test_two_bars_are_no_stretch() -> None:
    sub = " | ".join((line(0, 12), line(1, 2), line(0, 18)))
    assert len(heard(f"{KEYS}sub | {sub} |").shifts.start) == 0


def test_it_is_one_finding_and_the_notes_that_it_explains_stay_silent() -> None:
    found = judged(f"{KEYS}sub | {line(1, 32)} |", read_book()).findings
    (only,) = [f for f in found if f.family == "harmony"]
    assert (only.rule, only.level) == ("bass-shifted", "error")
    assert only.message.startswith("Sub lies a semitone above the other parts for 32 bars")
    assert only.fix is not None and (only.fix.kind, len(only.fix.edits)) == ("by-ear", 64)
    assert {(e.before or 0) - (e.after or 0) for e in only.fix.edits} == {1}


def test_too_few_notes_tell_nothing() -> None:
    assert len(heard(f"{KEYS}sub | {line(1, 4)} |").shifts.start) == 0


LEAD = "lead | A4:1 C5:1 E5:2 | F4:1 A4:1 C5:2 | C5:1 E5:1 G5:2 | G4:1 B4:1 D5:2 |*8\n"
UP = "tempo 140\nkeys | A#3+C#4+F4:4 | F#3+A#3+C#4:4 | C#3+F3+G#3:4 | G#3+C4+D#4:4 |*8\n"


def message(text: str) -> str:
    (only,) = [f for f in judged(text, read_book()).findings if f.rule == "bass-shifted"]
    return only.message


def test_alone_with_one_part_it_is_not_told_which_of_the_two_is_off() -> None:
    said = message(f"{KEYS}sub | {line(1, 32)} |")
    assert "Nothing else sounds that tells which of the two lies off" in said


def test_parts_that_agree_with_each_other_speak_against_the_bass() -> None:
    said = message(f"{KEYS}{LEAD}sub | {line(1, 32)} |")
    assert "keys and lead agree with each other: it is the bass that lies off" in said


def test_a_tune_that_goes_with_the_bass_tells_that_the_chords_lie_off_and_they_are_moved() -> None:
    text = f"{UP}{LEAD}sub | {line(0, 32)} |"
    (only,) = [f for f in judged(text, read_book()).findings if f.rule == "bass-shifted"]
    assert "The bass fits lead as it is: what lies off is keys" in only.message
    assert only.fix is not None and only.fix.title == "Move all of keys there by −1"
    assert {(e.channel, (e.after or 0) - (e.before or 0)) for e in only.fix.edits} == {(1, -1)}


def test_two_keys_from_start_to_end_are_one_finding_that_shows_both() -> None:
    """A minor under D minor: each root is the fifth of its chord, and no note of the scale rubs."""
    keys = "tempo 140\nkeys | D3+F3+A3:4 | A#3+D4+F4:4 | F3+A3+C4:4 | C3+E3+G3:4 |*8\n"
    text = f"{keys}sub | {line(0, 32)} |"
    (only,) = [f for f in judged(text, read_book()).findings if f.family == "harmony"]
    assert (only.rule, only.level) == ("bass-shifted", "warning")
    assert "(it plays in A minor, they in D minor): moved by +5 it fits them" in only.message


@pytest.mark.parametrize(("middle_c", "sound", "key"), [(4, "F#1", "G1"), (3, "F#0", "G0")])
def test_the_root_key_of_a_known_one_shot_is_named_first(
    middle_c: int, sound: str, key: str
) -> None:
    chart = heard(f"{KEYS}sub | {line(1, 32)} |")
    chart = Chart(chart.song, replace(chart.facts, sound_pitch=30.0, middle_c=middle_c))
    (only,) = [f for f in judge(chart, read_book()).findings if f.rule == "bass-shifted"]
    assert f"one-shot sounds {sound}, and with the root key on {key}" in only.message


def test_without_a_one_shot_it_is_asked_for() -> None:
    assert "state its one-shot with --sound" in message(f"{KEYS}sub | {line(1, 32)} |")


def test_a_pedal_is_not_told_to_lie_a_fourth_off() -> None:
    """G under G, Bm, C and D: C fits as well, which says nothing of a line of one tone."""
    keys = "tempo 140\nkeys | G3+B3+D4:4 | B3+D4+F#4:4 | C4+E4+G4:4 | D4+F#4+A4:4 |*4\n"
    assert len(heard(f"{keys}sub | {' | '.join(['G1:2x2'] * 16)} |").shifts.start) == 0


def test_a_pedal_is_not_told_to_lie_a_whole_tone_off() -> None:
    """G under Gm7, F7, Ebmaj7 and F7: F is in all of them, which speaks of the chords alone."""
    keys = "tempo 140\nkeys | G3+A#3+D4+F4:4 | F3+A3+C4+D#4:4 | D#3+G3+A#3+D4:4 | F3+A3+C4:4 |*4\n"
    assert len(heard(f"{keys}sub | {' | '.join(['G1:2x2'] * 16)} |").shifts.start) == 0


def test_a_pedal_that_rubs_a_semitone_is_told() -> None:
    keys = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | A3+C4+E4:4 | D3+F3+A3:4 |*4\n"
    found = heard(f"{keys}sub | {' | '.join(['A#1:2x2'] * 16)} |").shifts
    assert found.semitones.tolist() == [1]


@pytest.mark.parametrize("moved", [0, 1, -1])
def test_under_short_chords_a_line_that_is_far_ahead_is_told(moved: int) -> None:
    """They sound for less than half of each note: by itself the line fits poorly."""
    keys = (
        "keys | A3+C4+E4:1.5 .:2.5 | F3+A3+C4:1.5 .:2.5 | C3+E3+G3:1.5 .:2.5 | G3+B3+D4:1.5 .:2.5"
    )
    text = f"tempo 140\n{keys} |*8\nsub | {line(moved, 32).replace(':2x2', ':3.5 .:.5')} |"
    assert heard(text).shifts.semitones.tolist() == [moved] * (moved != 0)


@pytest.mark.parametrize(("with_it", "level"), [(1, "error"), (2, "note")])
def test_where_parts_go_with_it_and_others_do_not_the_song_has_two_camps(
    with_it: int, level: str
) -> None:
    """One that doubles a bass which was moved as well, or agrees by chance, is no camp."""
    lead = "lead | " + " | ".join(["E5:4", "C5:4", "G5:4", "D5:4"] * 8) + " |\n"
    off = " | ".join(["A#4+C#5+F5:4", "F#4+A#4+C#5:4", "C#5+F5+G#5:4", "G#4+C5+D#5:4"] * 8)
    camp = "".join(f"pad{n} | {off} |\n" for n in range(with_it))
    organ = KEYS.splitlines()[1].replace("keys", "organ")
    beat = heard(f"{KEYS}{organ}\n{lead}{camp}sub | {line(1, 32)} |")
    assert [f.level for f in judge(beat, read_book()).findings if f.rule == "bass-shifted"] == [
        level
    ]


@pytest.mark.parametrize(
    ("third", "told"),
    [("A#1:2x2", []), ("A#2:2x2", []), ("A#1:2 C#2:2", [1])],
)
def test_a_stretch_of_one_tone_lies_off_nothing(third: str, told: list[int]) -> None:
    """Bb for four bars under chords with A; an octave is no other tone, a single C# is one."""
    keys = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | A3+C4+E4:4 | D3+F3+A3:4 |*8\n"
    roots = "A1:2x2 | F1:2x2 | A1:2x2 | D2:2x2"
    sub = f"{roots} |*3 | A#1:2x2 | A#1:2x2 | {third} | A#1:2x2 || {roots} |*4"
    assert heard(f"{keys}sub | {sub}").shifts.semitones.tolist() == told
