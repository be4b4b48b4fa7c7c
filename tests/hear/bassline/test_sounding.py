"""A bass note is judged at the pitch that sounds: its key and the bend under it.

Bend ranges: MIDI 1.0 detailed specification (RPN 0); ±2 semitones where nothing is stated: General
MIDI 1. How long a note must stand on a pitch to have it: common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard, judged
from slide_songs import bend_range, note, ramp, song_of, to_wheel, wheel

from basslint.fixes.harmony import note_to_harmony
from basslint.hear.bassline.sounding import Sounding, hear_sounding
from basslint.judging.results import Finding
from basslint.rulebook.loader import read_book

BOOK = read_book()
E2 = 40


def sounding(*events: object, reach: float | None = None) -> Sounding:
    song = song_of(*events)  # type: ignore[arg-type]
    return hear_sounding(song, song.notes, reach, one_shot=False)


@pytest.mark.parametrize(
    ("case", "events", "semitones"),
    [
        ("no bend", [], 0.0),
        ("set before the note", [(0, 2.0)], 2.0),
        ("set with the note", [(480, 2.0)], 2.0),
        ("a string bent at once, and held", [(490, 0.5), (520, 1.2), (560, 2.0)], 2.0),
        ("a slide that leaves after a beat", [(960, 1.0), (1000, 2.0)], 0.0),
        ("a scoop from a semitone below", [(470, -1.0), (800, -0.5), (830, 0.0)], 0.0),
        ("a slide all through", [(480 + i * 48, -0.1 * i) for i in range(20)], 0.0),
        ("a fall at the end", [(1300, -1.0), (1350, -2.0)], 0.0),
        ("vibrato about a bent pitch", [(0, 1.0), *((480 + i * 40, 1 + (-1) ** i * 0.3)
                                                   for i in range(20))], 1.0),
        ("out of tune by a quarter tone", [(0, 0.4)], 0.4),
        ("home again before the note", [(0, 2.0), (400, 0.0)], 0.0),
    ],
)  # fmt: skip
def test_a_note_sounds_where_it_stands(
    case: str, events: list[tuple[int, float]], semitones: float
) -> None:
    bends = [wheel(tick, to_wheel(value, 2)) for tick, value in events]
    heard_as = sounding(*bend_range(0, 2), *bends, note(480, 1440, E2))
    assert heard_as.written.tolist() == [E2]
    assert heard_as.pitch[0] == pytest.approx(E2 + semitones, abs=0.06), case
    assert heard_as.shift.tolist() == [round(semitones)]


def test_the_range_in_force_counts_and_a_guess_is_said_to_be_one() -> None:
    full = wheel(0, 8191)
    assert sounding(*bend_range(0, 12), full, note(480, 960, E2)).shift.tolist() == [12]
    guess = sounding(full, note(480, 960, E2))
    assert (guess.shift.tolist(), guess.assumed.tolist()) == ([2], [True])
    stated = sounding(full, note(480, 960, E2), reach=5)
    assert (stated.shift.tolist(), stated.assumed.tolist()) == ([5], [False])
    assert not sounding(note(480, 960, E2)).assumed.any()


def test_a_bend_that_an_earlier_note_left_behind_is_that_bend_s_fault() -> None:
    curve = ramp([(480, 0), (720, 5)], 12, 20)
    left = sounding(*bend_range(0, 12), *curve, note(0, 960, E2), note(1000, 1900, E2),
                    note(2000, 2900, E2))  # fmt: skip
    assert left.shift.tolist() == [0, 0, 0]


def test_only_the_bent_notes_move() -> None:
    notes = [note(i * 480, i * 480 + 400, E2) for i in range(6)]
    bends = [wheel(950, to_wheel(2, 2)), wheel(1400, 0)]
    assert sounding(*bend_range(0, 2), *bends, *notes).shift.tolist() == [0, 0, 2, 0, 0, 0]


# --- every rule of pitch ------------------------------------------------------------------------

HEAD = "tempo 140\nkeys | D3+F#3+A3:4 | F#3+A#3+C#4:4 | B2+D3+F#3:4 | A2+C#3+E3:4 |*4\n"
PLAIN = "D2:3.5 .:.5 | F#1:3.5 .:.5 | B1:3.5 .:.5 | A1:3.5 .:.5"


def beat(bar: str, bend: str, wheel: str = "sub wheel 2\n") -> str:
    """Bar 2 (under F#) written as ``bar`` and bent by ``bend``."""
    return (
        f"{HEAD}{wheel}sub bend | 1:0 4.9:0 | {bend} | 1:0 |\n"
        f"sub | D2:3.5 .:.5 | {bar} | B1:3.5 .:.5 | A1:3.5 .:.5 || {PLAIN} |*3"
    )


def found(text: str, *rules: str) -> list[Finding]:
    return [f for f in judged(text, BOOK).findings if f.rule in rules]


PITCH = ("off-root", "outside-scale", "inverted-root", "rubs-with-harmony", "too-low", "too-high")


def test_a_bent_string_that_sounds_the_root_is_right() -> None:
    assert found(beat("F1:3.5 .:.5", "1:0 1.1:1 4.8:1 4.9:0"), *PITCH) == []
    assert found(beat("F1:3.5 .:.5", "1:0"), *PITCH) != []


def test_a_root_bent_off_its_pitch_is_wrong_and_both_are_named() -> None:
    (off,) = found(beat("F#1:3.5 .:.5", "1:1 4.8:1 4.9:0"), "off-root")
    assert "G1 (written F#1)" in off.message
    assert off.pitch == 30  # the key, by which the note is found in the file
    assert off.fix is not None
    (edit,) = off.fix.edits
    assert (edit.before, edit.after) == (30, 29)  # F1 bent by a semitone sounds F#1


def test_no_fix_is_safe_while_the_range_is_a_guess() -> None:
    texts = [beat("F#1:3.5 .:.5", "1:1 4.8:1 4.9:0", wheel) for wheel in ("sub wheel 2\n", "")]
    assert [len(found(text, "off-root")) for text in texts] == [1, 0]  # nor is it accused of it
    fixes = [note_to_harmony(heard(text), 1, {"sure": 0.8}) for text in texts]
    assert [fix.kind for fix in fixes if fix is not None] == ["safe", "by-ear"]


def test_the_register_is_that_of_what_sounds() -> None:
    low = beat("B0:3.5 .:.5", "1:-2 4.8:-2 4.9:0").replace("F#3+A#3+C#4", "A2+C#3+E3")
    assert [f.message[:17] for f in found(low, "too-low")] == ["A0 (written B0) i"]
    chart = heard(low)
    assert np.flatnonzero(chart.sounding.shift).tolist() == [1]
