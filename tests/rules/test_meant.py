"""What is written on purpose is no fault: figures that return, pedals, chords of the bass, a feel.

Harmony: Open Music Theory (non-chord tones, pedal point, seventh chords).
Figures, feel and ruffs: common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard, judged
from slide_songs import note, songs_of

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.judging.judge import judge
from basslint.judging.results import Finding
from basslint.readings.base import registered as readings
from basslint.rulebook.loader import read_book

BOOK = read_book()

KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
ROOTS = "A1:4 | F1:4 | C2:4 | G1:4"


def found(text: str, *rules: str) -> list[Finding]:
    return [f for f in judged(text, BOOK).findings if f.rule in rules]


def test_a_clash_that_returns_is_told_once_and_mended_in_all_copies_or_none() -> None:
    """Beats are pasted loops, so a mistake is pasted with them: no excuse, and no four findings."""
    riff = "A1:2 D#2:1.5 .:.5 | F1:4 | C2:4 | G1:4"
    (only,) = found(f"{KEYS}sub | {riff} |*4", "off-root", "outside-scale", "rubs-with-harmony")
    assert only.level == "error" and "4 bars" in only.message
    assert [where.bar for where in only.places] == [1, 5, 9, 13]
    assert only.fix is not None and (only.fix.kind, len(only.fix.edits)) == ("by-ear", 4)


def test_a_short_clash_that_stands_alone_is_an_error() -> None:
    once = f"{KEYS}sub | A1:2 D#2:1.5 .:.5 | F1:4 | C2:4 | G1:4 || {ROOTS} |*3"
    (only,) = found(once, "off-root")
    assert only.fix is not None and (only.level, only.fix.kind) == ("error", "safe")


def test_a_short_step_away_is_never_mended_unasked() -> None:
    """An escape note steps away and leaps on: it may be one on a strong beat, too."""
    once = f"{KEYS}sub | A1:2 G#1:.75 .:1.25 | F1:4 | C2:4 | G1:4 || {ROOTS} |*3"
    (only,) = found(once, "off-root")
    assert only.fix is not None and (only.level, only.fix.kind) == ("error", "by-ear")


def test_two_parts_that_agree_on_a_clash_are_never_mended_unasked() -> None:
    both = f"A1:4 | F#1:3.5 .:.5 | C2:4 | G1:4 || {ROOTS} |*3"
    errors = found(f"{KEYS}sub | {both}\nbass | {both}", "off-root")
    assert errors and {f.fix and f.fix.kind for f in errors} == {"by-ear"}


def test_a_long_semitone_in_every_copy_is_an_error_and_never_mended_unasked() -> None:
    (only,) = found(f"{KEYS}sub | A1:4 | F#1:3.5 .:.5 | C2:4 | G1:4 |*4", "off-root")
    assert (only.level, only.fix and only.fix.kind, len(only.also)) == ("error", "by-ear", 3)


def test_a_note_of_the_stated_scale_is_never_mended_unasked() -> None:
    text = f"{KEYS}key A minor\nsub | A1:4 | E1:4 | C2:4 | G1:4 || {ROOTS} |*3"
    (only,) = found(text, "off-root")
    assert only.fix is not None and (only.level, only.fix.kind) == ("error", "by-ear")


@pytest.mark.parametrize(
    ("why", "line"),
    [
        ("chromatic steps down through the octave", "A1:1 A2:1 G#1:.5 .:.5 G1:.75 .:.25"),
        ("a neighbour an octave off", "A1:1.5 G#2:.5 A2:1.75 .:.25"),
        ("a leading tone back into the same root", "A1:2 .:1 G#2:.5 A1:.5"),
    ],
)
def test_steps_count_in_whatever_octave(why: str, line: str) -> None:
    text = f"{KEYS}sub | {line} | F1:4 | C2:4 | G1:4 || {ROOTS} |*3"
    assert [f for f in found(text, "off-root") if f.where.bar == 1] == [], why


def test_a_floor_under_three_chords_is_a_pedal_whatever_the_key() -> None:
    """D under F and C and G, once in the song: a pedal point on no tonic."""
    text = f"{KEYS}sub | A1:4 | D1:4 | D1:4 | D1:4 || {ROOTS} |*3"
    assert [f for f in found(text, "off-root", "rubs-with-harmony") if f.level != "note"] == []


def test_a_chord_from_the_bass_up_is_noted_by_its_name() -> None:
    """C under G–B–D#: C minor with a major seventh (Open Music Theory)."""
    keys = "tempo 140\nkeys | E3+G3+B3:4 | G3+B3+D#4:4 | A3+C4+E4:4 | B3+D#4+F#4:4 |*4\n"
    text = f"{keys}sub | E1:4 | C2:4 | A1:4 | B1:4 || E1:4 | G1:4 | A1:4 | B1:4 |*3"
    assert [f.level for f in found(text, "off-root") if f.where.bar == 2] in ([], ["note"])


@pytest.mark.parametrize(("wrong", "right"), [("F1", "E1"), ("G#1", "G1")])
def test_no_fix_goes_under_what_systems_carry(wrong: str, right: str) -> None:
    """Equal temperament, A4 = 440 Hz: E0 20.6 Hz, G0 24.5 Hz, both under 30 Hz."""
    root = right[:-1]
    chord = {"E": "E3+G3+B3", "G": "G3+B3+D4"}[root]
    low = f"{root}0:4"
    text = (
        f"tempo 140\nkeys | A3+C4+E4:4 | {chord}:4 |*8\n"
        f"sub | A1:4 | {wrong}:3.5 .:.5 || A1:4 | {low} |*7"
    )
    (only,) = [f for f in found(text, "off-root") if f.where.bar == 2]
    assert only.fix is not None and only.fix.title == f"Move {wrong} to {right}"


def test_a_steady_offset_to_the_kick_is_a_feel_and_a_stray_is_not() -> None:
    """0.05 beats at 140 bpm are 21 ms; the last bar is 0.09 beats, 39 ms, instead."""
    head = "tempo 140\nkeys | A3+C4+E4:4 |*8\nkick | C2:4 |*8\n"
    late, stray = ".:.05 A1:3 .:.95", ".:.09 A1:3 .:.91"
    (only,) = found(f"{head}sub | {late} |*8", "kick-flam")
    assert (only.level, only.where.bar, only.fix) == ("note", 1, None)
    both = found(f"{head}sub | {late} |*7 || {stray} |", "kick-flam")
    assert [(f.level, f.where.bar) for f in both] == [("note", 1), ("warning", 8)]


@pytest.mark.parametrize("division", [96, 480])
def test_a_feel_is_a_feel_in_a_coarse_file_too(division: int) -> None:
    """16 to 20 ms behind the kick at 84 bpm: 2 or 3 ticks of 96 (7.4 ms each), or 11 to 13 of 480.

    The last note, 40 ms early for it, and by three ticks and more, strays.
    """
    beat_ms = 60_000 / 84
    late = [16.0, 20.0, 18.0, 19.5, 17.0, 18.5, 20.0, 16.5] * 2
    late[-1] -= 40.0
    keys, kick, sub = [], [], []
    for bar, ms in enumerate(late):
        start = round((4 * bar + ms / beat_ms) * division)
        kick += note(4 * bar * division, (4 * bar + 1) * division, 36, channel=10)
        sub += note(start, start + 3 * division, 33, channel=2)
        for pitch in (57, 60, 64):
            keys += note(4 * bar * division, (4 * bar + 4) * division, pitch)
    song = songs_of(keys, kick, sub, tempo=round(beat_ms * 1000), division=division)
    rules = [r for r in BOOK if r.name == "kick-flam"]
    told = [(f.level, f.where.bar) for f in judge(Chart(song, Facts()), rules).findings]
    assert told[0] == ("note", 1)
    assert told[1:] == [("warning", 15)]  # which starts in bar 15, before its kick


def test_a_note_that_is_slid_to_is_no_stroke_beside_the_kick() -> None:
    """It comes 0.05 beats, 21 ms at 140 bpm, after the kick, and is not struck there."""
    head = (
        "tempo 140\nkeys | A3+C4+E4:4 |*8\nkick | C2:4 |*7 || C2:2 C2:2 |\nsub | A1:3.5 .:.5 |*7 "
    )
    assert not found(f"{head}|| A1:2.05~.2 C2:1.95 |", "kick-flam")
    (struck,) = found(f"{head}|| A1:2.05 C2:1.95 |", "kick-flam")
    assert struck.where.bar == 8


def test_a_second_bass_flams_though_the_first_is_on_the_kick() -> None:
    """0.03 beats at 140 bpm are 13 ms."""
    head = "tempo 140\nkeys | A3+C4+E4:4 |*8\nkick | C2:4 |*8\nsub | A1:3.5 .:.5 |*8\n"
    assert not found(f"{head}bass | A1:3.5 .:.5 |*8", "kick-flam")
    (late,) = found(
        f"{head}bass | A1:3.5 .:.5 |*4 || .:.03 A1:3.47 .:.5 || A1:3.5 .:.5 |*3", "kick-flam"
    )
    assert late.part is not None and (late.part.name, late.where.bar) == ("bass", 5)


def test_a_double_matters_in_the_bass_and_is_noted_elsewhere() -> None:
    keys = "tempo 140\nkeys | A3+C4+C4+E4:4 | A3+C4+E4:4 | A3+C4+E4:4 | A3+C4+E4:4 |\n"
    (only,) = found(f"{keys}sub | A1:3.5 .:.5 |*4", "doubled-note")
    assert only.level == "note"


@pytest.mark.parametrize(
    ("bars", "level"),
    [
        ("Bb1:1x4 | Bb1:1x4 | F1:4 | C2:4", "note"),
        ("Bb1:4 | Bb1:3.5 .:.5 | F1:4 | C2:4", "note"),  # held or struck
        ("Bb1:2 .:2 | .:2 Bb1:2 | F1:4 | C2:4", "warning"),  # across a long rest it is struck anew
        ("Bb1:4 | C2:4 | F1:4 | C2:4", "warning"),
        ("Bb1:1x4 | C2:4 | F1:4 | C2:4", "note"),  # struck again in its bar: chosen
        ("Bb1:4 | C2:4 | Bb1:4 | C2:4", "note"),  # played again on its place: chosen
    ],
)
def test_a_tone_that_the_bass_stays_on_or_plays_again_alone_is_only_noted(
    bars: str, level: str
) -> None:
    """A breakdown: the keys rest, and the bass goes to a chord that they never played."""
    keys = "tempo 140\nkeys | C3+E3+G3:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*2\nsub | "
    home = "C2:4 | F1:4 | C2:4 | G1:4 | C2:4 | F1:4 | C2:4 | G1:4"
    told = found(f"{keys}{home} | {bars} |", "outside-scale")
    assert told and {f.level for f in told} == {level}


def test_what_lies_apart_in_two_silences_is_not_stayed_on() -> None:
    keys = "C3+E3+G3:4 | .:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 | C3+E3+G3:4"
    text = f"tempo 140\nkeys | {keys} |*2\nsub | C2:4 | C2:4 | F1:4 | C2:4 | G1:4 | C2:4 |*2"
    column = readings("bass-note")["stands_in_silence"].column(heard(text))
    assert np.nanmax(np.append(column, 0.0)) <= 1.0


SLIDES = "A1:4 | F1:4 | C2:4 | G1:4"


def test_a_legato_bass_slides_nowhere() -> None:
    hairs = "A1:1~.02 C2:1~.1 E2:1~.03 C2:1~.05 | F1:1~.02 A1:1~.1 C2:1~.02 A1:1~.04 | C2:4 | G1:4"
    rules = ("accidental-slide", "slide-off-scale", "slide-never-lands")
    assert found(f"{KEYS}bass | {hairs} |*4", *rules) == []


@pytest.mark.parametrize(
    ("bar", "flagged"),
    [
        ("F1:2~.25 F#1:1.5 .:.5", True),  # it stops there
        ("F1:2~.25 F#1:1~.25 G1:1", False),  # it passes, by semitones
        ("F1:2~.25 F#1:1~.25 F1:1", True),  # it turns back
        ("F1:1~.25 F#1:2~.25 G1:1", True),  # it stands for longer than a beat
    ],
)
def test_a_slide_that_passes_chromatically_is_not_off_the_scale(bar: str, flagged: bool) -> None:
    beat = f"{KEYS}sub | A1:4 | {bar} | C2:4 | G1:4 || {SLIDES} |*3"
    assert bool(found(beat, "slide-off-scale")) == flagged


@pytest.mark.parametrize(("tone", "flagged"), [("F#4", False), ("A4", True)])
def test_a_slide_to_what_another_part_sounds_is_not_off_the_scale(tone: str, flagged: bool) -> None:
    tune = f"lead | A4:4 | A4:2 {tone}:2 | G4:4 | G4:4 || A4:4 | A4:4 | G4:4 | G4:4 |*3\n"
    beat = f"{KEYS}{tune}sub | A1:4 | F1:2~.25 F#1:1.5 .:.5 | C2:4 | G1:4 || {SLIDES} |*3"
    assert bool(found(beat, "slide-off-scale")) == flagged


@pytest.mark.parametrize(("stray_ms", "flagged"), [(0.0, False), (12.0, False), (34.0, True)])
def test_a_loose_hand_scatters_about_the_kick(stray_ms: float, flagged: bool) -> None:
    """Offsets of up to 7 ms either way; what lies three of their spreads off is none of them."""
    loose = [4.0, -6.0, 2.0, 7.0, -3.0, 5.0, -7.0, 0.0, 6.0, -5.0, 1.0, -2.0, 3.0, -6.5, 6.5, -1.0]
    loose[9] = stray_ms or loose[9]
    keys, kick, sub = [], [], []
    for bar, ms in enumerate(loose):  # 120 bpm of 480 ticks: a tick is about a millisecond
        start = 960 + bar * 1920 + round(ms * 0.96)
        kick += note(960 + bar * 1920, 1000 + bar * 1920, 36, channel=10)
        sub += note(start, start + 700, 33, channel=2)
        for pitch in (57, 60, 64):
            keys += note(bar * 1920, (bar + 1) * 1920, pitch)
    song = songs_of(keys, kick, sub)
    rules = [r for r in BOOK if r.name == "kick-flam"]
    told = [f.where.bar for f in judge(Chart(song, Facts()), rules).findings]
    assert told == ([10] if flagged else [])


@pytest.mark.parametrize(("lead", "flagged"), [("D5:1 C5:1 B4:2", True), ("D5:2 C#5:2", False)])
def test_what_another_part_sounds_is_no_slip(lead: str, flagged: bool) -> None:
    tune = f"lead | A4:1 C5:1 E5:2 | {lead} | D5:1 C5:1 B4:2 | A4:4 |"
    tune += "| A4:4 | E5:4 | D5:4 | A4:4 |*2"
    line = "sub | A1:3.5 .:.5 | E1:2 C#2:1.5 .:.5 | D2:3.5 .:.5 | A1:3.5 .:.5 |"
    line += "| A1:4 | E1:4 | D2:4 | A1:4 |*2"
    beat = f"tempo 140\nkey A minor\n{tune}\n{line}"
    assert bool(found(beat, "outside-scale")) == flagged
