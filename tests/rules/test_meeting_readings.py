"""What a bass note meets in other parts: kicks, a second bass, notes that rub; counted by hand.

At 120 bpm a twentieth of a beat is 25 ms (Standard MIDI Files 1.0). Kicks: percussion
map of General MIDI 1, 35 and 36.
"""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard

from basslint.readings.base import registered

CHORDS = "keys | A3+C4+E4:4 |*4\n"


def read(text: str, name: str, subject: str = "bass-note") -> list[object]:
    return registered(subject)[name].column(heard(f"tempo 120\n{text}")).tolist()


@pytest.mark.parametrize(
    ("drums", "line", "offset"),
    [
        ("kick | C2:2 C2:2 |*4", "A1:2 A1:2", [0, 0]),
        ("kick | C2:2 C2:2 |*4", ".:.05 A1:1.95 A1:2", [25, 0]),
        ("kick | .:.05 C2:1.95 C2:2 |*4", "A1:2 A1:2", [-25, 0]),
        ("kick | C2:2 .:2 |*4", "A1:2 A1:2", [0, np.nan]),  # a whole second away
        ("kick | C2:2 C2:2 |*4", ".:.2 A1:1.8 .:.25 A1:1.75", [100, np.nan]),  # 125 ms
        ("kick | C2:2 C2:2 |*4", "A1:.05 A1:1.95 A1:2", [0, np.nan, 0]),  # one sits on the kick
        ("drums | C2:2 C2:2 |*4", ".:.05 A1:1.95 A1:2", [25, 0]),  # note 36
        ("drums | B1:2 B1:2 |*4", ".:.05 A1:1.95 A1:2", [25, 0]),  # note 35
        ("drums | D2:2 D2:2 |*4", ".:.05 A1:1.95 A1:2", [np.nan, np.nan]),  # a snare
        ("drums | C1:2 C1:2 |*4", ".:.05 A1:1.95 A1:2", [25, 0]),  # a kit of its own numbers
        ("", "A1:2 A1:2", [np.nan, np.nan]),
    ],
)
def test_the_kick_that_a_note_starts_beside(drums: str, line: str, offset: list[float]) -> None:
    text = f"{CHORDS}{drums}\nsub | {line} |*4\n"
    n = len(offset)
    assert read(text, "kick_offset")[:n] == pytest.approx(offset, nan_ok=True, abs=0.2)
    assert read(text, "kick_gap")[:n] == pytest.approx(np.abs(offset), nan_ok=True, abs=0.2)
    sides = read(text, "kick_side")[:n]
    told = [side for side, ms in zip(sides, offset, strict=True) if ms]
    assert told == ["after" if ms > 0 else "before" if ms < 0 else None for ms in offset if ms]


@pytest.mark.parametrize(
    ("above", "rubs"),
    [
        ("A#2", True),  # a semitone
        ("A#3", True),  # a minor ninth
        ("A#4", True),
        ("G#2", True),  # a semitone below
        ("G#3", False),  # a major seventh
        ("B3", False),
        ("A3", False),
        ("E4", False),
    ],
)
def test_which_notes_rub(above: str, rubs: bool) -> None:
    text = f"keys | {above}+A3:4 | A3+C4+E4:4 |*2\nsub | A2:3 .:1 |*4\n"
    assert read(text, "rub_beats")[0] == (3.0 if rubs else 0.0)
    assert read(text, "rub_words")[0] == ("3 beats" if rubs else "0 beats")
    assert read(text, "rub_note")[0] == (above.replace("A#", "Bb") if rubs else None)
    assert read(text, "rub_part")[0] == ("keys" if rubs else None)


@pytest.mark.parametrize(
    ("key", "tone", "inside"), [("A minor", "A#3", False), ("A phrygian", "A#3", True)]
)
def test_whether_the_tone_that_rubs_is_of_the_scale(key: str, tone: str, inside: bool) -> None:
    text = f"key {key}\nkeys | {tone}+E4:4 | A3+C4+E4:4 |*2\nsub | A2:3 .:1 |*4\n"
    assert read(text, "rub_in_scale")[:2] == [inside, None]


def test_the_longest_rub_is_told() -> None:
    text = "keys | A#3+E4:1 A#4+E4:3 | A3+C4+E4:4 |*2\nsub | A2:4 |*4\n"
    assert read(text, "rub_beats")[0] == 3.0
    assert read(text, "rub_note")[0] == "Bb4"


@pytest.mark.parametrize(
    ("other", "beats", "note"),
    [
        ("C3:4", 2.0, "A1"),
        ("A2:4", 0.0, None),  # octaves are one note
        ("E3:1 A2:3", 1.0, "A1"),
        ("C3:2 .:2", 2.0, "A1"),
        (".:2 C3:2", 0.0, None),  # they take turns
        (".:1 C3:3", 1.0, "A1"),
    ],
)
def test_a_second_bass_is_held_against_the_leading_one(
    other: str, beats: float, note: str | None
) -> None:
    """The low bass holds A1 for two beats of each bar."""
    text = f"{CHORDS}low-bass | A1:2 .:2 |*4\nmid-bass | {other} | A2:2 .:2 |*2\n"
    chart = heard(f"tempo 120\n{text}")
    assert len(chart.parts.bass) == 2
    names = registered("bass-note")["part_name"].column(chart).tolist()
    row = names.index("mid-bass")
    assert read(text, "other_bass_beats")[row] == beats
    assert read(text, "other_bass_note")[row] == note
    assert read(text, "other_bass_part")[row] == ("low-bass" if note else None)
    assert read(text, "other_bass_beats")[names.index("low-bass")] == 0.0  # it leads


@pytest.mark.parametrize(
    ("leads", "other", "beats"),
    [
        ("A1:1 C2:1 D2:2", "A2:4", [0.0]),  # a pedal under a line
        ("A1:1 C2:3", "A2:4", [3.0]),  # one other tone is no line …
        ("A1:1 C2:1 C3:2", "A2:4", [2.0]),  # … nor is its octave …
        ("A1:1 C2:1 A1:2", "A2:4", [1.0]),  # … nor the way back
        ("A1:1 E2:3", "A2:4", [0.0]),  # but the fifth
        ("C2:1 D2:1 A1:2", "A2:4", [1.0]),  # not struck together
        (".:.1875 A1:.8125 C2:1 D2:2", "A2:4", [2.0]),  # nor so late
        (".:.125 A1:.875 C2:1 D2:2", "A2:4", [0.0]),
        ("A1:4", "A2:1 E3:3", [0.0, 0.0]),  # the fifth over the tone that it struck as well
        ("A1:4", "E3:1 A2:3", [1.0, 0.0]),
        ("A1:4", "A2:1 D3:3", [0.0, 3.0]),  # a fourth
        ("A1:4", "A2:1 C3:1 D3:2", [0.0, 1.0, 2.0]),  # the line itself meets the tone it moves over
    ],
)
def test_a_tone_that_both_strike_and_one_holds_is_a_pedal(
    leads: str, other: str, beats: list[float]
) -> None:
    """The low bass leads. Common practice, no source."""
    text = f"{CHORDS}low-bass | {leads} | A1:4 |*2\nmid-bass | {other} | A2:4 |*2\n"
    chart = heard(f"tempo 120\n{text}")
    names = registered("bass-note")["part_name"].column(chart).tolist()
    found = read(text, "other_bass_beats")
    mine = [beat for beat, name in zip(found, names, strict=True) if name == "mid-bass"]
    assert mine[: len(beats)] == beats


@pytest.mark.parametrize(("low", "carried"), [(4.0, True), (2.0, True), (1.9, False)])
def test_a_note_is_carried_by_a_bass_octaves_below(low: float, carried: bool) -> None:
    text = f"{CHORDS}low-bass | A1:{low} .:{4 - low} |*4\nmid-bass | A3:4 |*4\n"
    chart = heard(f"tempo 120\n{text}")
    names = registered("bass-note")["part_name"].column(chart).tolist()
    column = registered("bass-note")["carried_below"].column(chart)
    assert column[names.index("mid-bass")] == carried
    assert not column[names.index("low-bass")]
