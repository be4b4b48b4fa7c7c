"""Readings that no shipped page asks and house rules may: each value counted by hand.

How long a sound takes to fall by 60 dB: ISO 3382. The range of a wheel by RPN 0, in semitones: MIDI
1.0 detailed specification. All else: common practice, no source.
"""

from __future__ import annotations

import pytest
from beats import heard

from basslint.readings.base import Subject, registered


def read(text: str, subject: Subject, name: str) -> list[object]:
    return registered(subject)[name].column(heard(f"tempo 120\n{text}")).tolist()


NAN = float("nan")
AM = "keys | A3+C4+E4:4 | F3+A3+C4:4 |*8\n"


@pytest.mark.parametrize(
    ("line", "rests"),
    [
        ("A1:1 .:1 A1:2 | .:1.5 E2:2.5", [NAN, 1.0, 1.5]),
        ("A1:1~.5 E2:1 A1:2 | A1:4", [NAN, -0.5, 0.0, 0.0]),  # it sounds on over the next
        ("A1+E2:1 .:1 A1:2 | A1:4", [NAN, NAN, 1.0, 0.0]),  # what starts with it is not before it
    ],
)
def test_the_rest_before_a_note(line: str, rests: list[float]) -> None:
    found = read(f"keys | A3+C4+E4:4 |*2\nsub | {line} |\n", "bass-note", "rest_before")
    assert found == pytest.approx(rests, nan_ok=True)


@pytest.mark.parametrize(
    ("name", "pitches"), [("pitch", [33, 35, 33, 33]), ("written_pitch", [33, 33, 33, 33])]
)
def test_the_key_of_a_bent_note_stays_what_is_written(name: str, pitches: list[int]) -> None:
    bend = "sub wheel 2\nsub bend | 1:0 4.9:0 | 1:2 4.8:2 4.9:0 | 1:0 | 1:0 |\n"
    text = f"keys | A3+C4+E4:4 |*4\n{bend}sub | A1:3.5 .:.5 |*4\n"
    assert read(text, "bass-note", name) == pitches


@pytest.mark.parametrize(("stated", "told"), [("decay 600ms\n", 600.0), ("", NAN)])
def test_the_decay_as_stated(stated: str, told: float) -> None:
    text = f"{stated}{AM}sub | A1:3.5~.25 E2:.5 | F1:3.5 .:.5 |*8\n"
    assert read(text, "slide", "decay_ms") == pytest.approx([told] * 8, nan_ok=True)


@pytest.mark.parametrize(
    ("part", "roll", "change"),
    [
        ("sub", "A2:1/6x6", 0.0),
        ("sub", "A2:1/6 B2:1/6 C3:1/6 D3:1/6 E3:1/6 F3:1/6", 8.0),
        ("sub", "F3:1/6 E3:1/6 D3:1/6 C3:1/6 B2:1/6 A2:1/6", -8.0),
        ("drums", "D2:1/6 F2:1/6 A2:1/6 D2:1/6 F2:1/6 A2:1/6", NAN),  # drums have no pitch to rise
    ],
)
def test_how_far_a_fill_rises(part: str, roll: str, change: float) -> None:
    line = "D2:3.5 .:.5" if part == "drums" else "A1:3.5 .:.5"
    text = f"{AM}{part} | {line} |*7 | A1:3 {roll} || {line} |*8\n"
    if part == "drums":
        text = text.replace("A1:3 ", "D2:3 ") + "sub | A1:4 |*16\n"
    assert read(text, "fill", "pitch_change") == pytest.approx([change], nan_ok=True)


@pytest.mark.parametrize(
    ("second", "apart"),
    [
        ("A#3+D4+F4", 0.0),  # Bb as stated
        ("B3+D#4+F#4", 1.0),
        ("C4+E4+G4", 2.0),
        ("G3+B3+D4", 3.0),  # the shorter way round: nine up are three down
        ("E3+G#3+B3", 6.0),
    ],
)
def test_how_far_two_roots_lie_apart(second: str, apart: float) -> None:
    keys = f"chords Dm Bb\nkick | C2:1x4 |*8\nkeys | D4+F4+A4:4 | {second}:4 |*4\n"
    found = read(f"{keys}sub | D1:3.5 .:.5 | A#1:3.5 .:.5 |*4\n", "chord", "roots_apart")
    assert set(found) == {0.0, apart}


KEYS = "A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8\n"
KEYS_UP = "A#3+C#4+F4:4 | F#3+A#3+C#4:4 | C#3+F3+G#3:4 | G#3+C4+D#4:4 |*8\n"
LEAD = "lead | A4:1 C5:1 E5:2 | F4:1 A4:1 C5:2 | C5:1 E5:1 G5:2 | G4:1 B4:1 D5:2 |*8\n"
SUB = "sub | A1:2x2 | F1:2x2 | C2:2x2 | G1:2x2 |*8\n"
SUB_UP = "sub | A#1:2x2 | F#1:2x2 | C#2:2x2 | G#1:2x2 |*8\n"


@pytest.mark.parametrize(
    ("text", "side"),
    [
        (f"keys | {KEYS}{SUB_UP}", "unknown"),  # two opinions
        (f"keys | {KEYS}{LEAD}{SUB_UP}", "bass"),  # two against one
        (f"keys | {KEYS_UP}{LEAD}{SUB}", "others"),  # one goes with the bass, one does not
        (f"keys | {KEYS}{LEAD}{SUB}", None),
    ],
)
def test_the_side_that_lies_off(text: str, side: str | None) -> None:
    assert read(text, "stretch", "shift_side") == ([side] if side else [])
