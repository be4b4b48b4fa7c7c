"""Basses judged under chords that the user states, where the file holds no harmony."""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard, judged

from basslint.judging.results import Finding
from basslint.readings.copies import heard_as, makes_chord
from basslint.readings.rootless import third_under
from basslint.rulebook.loader import read_book

BOOK = read_book()
LOOP = "| D1:3.5 .:.5 | A#1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 |*3"


def beat(chords: str, sixth_bar: str = "A#1:3.5 .:.5") -> str:
    fifth_to_eighth = f"| D1:3.5 .:.5 | {sixth_bar} | F1:3.5 .:.5 | C2:3.5 .:.5"
    return f"tempo 140\n{chords}\nkick | C2:1x4 |*16\nsub {LOOP} |{fifth_to_eighth} |\n"


def found(text: str) -> list[Finding]:
    return [f for f in judged(text, BOOK).findings if f.family == "harmony"]


@pytest.mark.parametrize("chords", ["Dm Bb F C", "D Bb F C", "Dm7 Bb6/9 F C7sus4", "Dm*4 Bb/F F C"])
def test_stated_roots_are_right_and_a_semitone_off_is_an_error(chords: str) -> None:
    line = "chords " + (chords if "*" not in chords else "Dm Bb F C")
    assert found(beat(line)) == []
    (finding,) = found(beat(line, "B1:3.5 .:.5"))
    assert (finding.rule, finding.level, finding.where.bar) == ("off-root", "error", 14)
    assert "the root is Bb, as stated." in finding.message
    assert finding.fix is not None
    assert finding.fix.edits[0].after == 34  # Bb1


@pytest.mark.parametrize(
    ("tone", "stated_in_full", "roots_alone"),
    [
        ("F1", "chord-tone", "not judged"),  # fifth of Bb
        ("D1", "chord-tone", "not judged"),  # its third
        ("C#1", "off-root", "not judged"),  # the other third, which may have been meant
        ("E1", "off-root", "off-root"),  # no tone of a common chord on Bb
        ("B1", "off-root", "off-root"),  # a semitone over the root
    ],
)
def test_of_roots_alone_no_chord_tones_are_assumed(
    tone: str, stated_in_full: str, roots_alone: str
) -> None:
    for chords, expected in (("Dm Bb F C", stated_in_full), ("D Bb F C", roots_alone)):
        text = beat(f"chords {chords}", f"A#1:1 {tone}:2.5 .:.5")
        verdict = judged(text, BOOK)
        rules = {f.rule for f in verdict.findings if f.where.bar == 14}
        unjudged = [u.reason for u in verdict.unjudged if u.rule == "off-root"]
        assert ("off-root" in rules) == (expected == "off-root")
        assert any("only the root" in reason for reason in unjudged) == (expected == "not judged")


def test_the_bass_of_a_slash_chord_is_right_and_no_inversion() -> None:
    line = "A1:3.5 .:.5 | {}:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |"
    beat = f"kick | C2:1x4 |*16\nsub | {line.format('C2')}" + line.format("F1") * 3 + "\n"
    assert found(f"tempo 140\nchords Am F/C C G Am*12\nchords 5 Am F C G\n{beat}") == []
    assert [f.rule for f in found(f"tempo 140\nchords Am F C G\n{beat}")] == ["inverted-root"]


def test_a_foreign_slash_bass_is_a_tone_of_its_chord() -> None:
    text = "tempo 140\nchords Am Am/F#\nkick | C2:1x4 |*8\nsub | A1:3.5 .:.5 | F#1:3.5 .:.5 |*4\n"
    assert [f.rule for f in found(text)] == []


def test_where_no_chord_is_said_to_sound_nothing_is_judged() -> None:
    verdict = judged(beat("chords Dm Bb F N.C."), BOOK)
    bars = [(u.start_bar, u.reason) for u in verdict.unjudged if u.rule == "off-root"]
    assert bars == [(bar, "no harmony sounds here") for bar in (4, 8, 12, 16)]


def test_chords_go_on_from_where_they_are_stated() -> None:
    chart = heard(beat("chords Dm\nchords 9 Bb*2 C"))
    starts = (chart.roots.start // (4 * 480) + 1).tolist()
    assert starts == [1, 9, 11, 12, 14, 15]


def test_the_key_is_heard_in_what_is_stated() -> None:
    chart = heard(beat("chords Dm Bb F A7"))
    assert (int(chart.keys.tonic[0]), chart.keys.mode[0]) == (2, "minor")
    assert bool(chart.keys.scale[0][1])  # the leading note of A7, which no part plays
    assert chart.key_source(0) == "stated"
    assert heard("tempo 140\nkeys | D3+F3+A3:4 |*4\n").key_source(0) == "midi"


def scale_of(text: str) -> list[float]:
    return np.round(heard(text).keys.fit[0], 2).tolist()


def test_roots_alone_tell_the_scale_with_their_fifths_whatever_the_bass_plays() -> None:
    """F C G E: with their fifths all notes of C major but one, A, which is of both near scales."""
    loop = "tempo 140\nchords F C G E\nsub |{}*4\n"
    right = scale_of(loop.format(" F1:4 | C2:4 | G1:4 | E1:4 |"))
    wrong = scale_of(loop.format(" F#1:4 | C#2:4 | G#1:4 | D#1:4 |"))
    assert right == wrong
    assert [tone for tone, fits in enumerate(right) if fits > 0.5] == [0, 2, 4, 5, 7, 9, 11]


def test_where_few_roots_are_stated_the_bass_tells_the_scale_with_them() -> None:
    one = "tempo 140\nchords D\nsub | D1:1 F1:1 A#1:1 C2:1 | D1:1 G1:1 A1:1 C2:1 |*8\n"
    minor = scale_of(one)
    assert minor[5] > 0.9 > 0.1 > minor[6]  # F, which the root D and its fifth leave open


PLAYED = "keys | F#3+A3+C#4:4 | D3+F#3+A3:4 | A3+C#4+E4:4 | C#4+E4+G#4:4 |*4\n"


@pytest.mark.parametrize(
    ("note", "level"),
    [
        ("D2", "error"),  # rubs with the root
        ("G1", "error"),  # rubs with the fifth
        ("D#2", "error"),  # of no scale around: the chords are of F# minor
        ("A#1", "warning"),
        ("F#1", "warning"),  # of the scale: the bass begins all other chords on their root
        ("A1", "warning"),  # with C#m above it Amaj7, but the bass has no such habit
    ],
)
@pytest.mark.parametrize("roots_alone", ["", PLAYED], ids=["alone", "beside the keys"])
def test_stated_chords_and_roots_give_the_verdict_of_the_keys_that_play_them(
    note: str, level: str, roots_alone: str
) -> None:
    line = "F#1:3.5 .:.5 | D1:3.5 .:.5 | A1:3.5 .:.5 | {}:3.5 .:.5 |"
    song = f"sub | {line.format('C#2')}*3 {line.format(note)}\n"
    stated = ("chords F#m D A C#m\n", "chords F# D A C#\n" + roots_alone)
    for harmony in (PLAYED, *stated):
        told = [f for f in found(f"tempo 140\n{harmony}{song}") if f.rule == "off-root"]
        assert [(f.level, f.where.bar) for f in told] == [(level, 16)], harmony


@pytest.mark.parametrize(
    ("note", "chord", "heard_up"),
    [("A1", "C#m", "Amaj7"), ("F#1", "A", "F#m7"), ("G1", "C#m", None), ("F1", "C#m", None)],
)
def test_a_bass_note_is_heard_with_the_chord_that_is_stated(
    note: str, chord: str, heard_up: str | None
) -> None:
    """C#m over A is Amaj7 from the bass up; of C# alone the scale tells the third that it has."""
    rest = "F#1:4 | D1:4 | A1:4 |"
    for chords in ("F#m D A C#m E", "F# D A C# E"):
        last = chord if "m" in chords else chord.removesuffix("m")
        chart = heard(
            f"tempo 140\nchords {chords} {last}\nsub | {rest} C#2:4 | E1:4 | {note}:4 |\n"
        )
        assert heard_as(chart)[-1] == heard_up
        assert bool(makes_chord(chart)[-1]) == (heard_up is not None)
        assert bool(third_under(chart)[-1]) == (heard_up is not None)


@pytest.mark.parametrize(
    ("first", "second", "rules"),
    [
        ("A1:3.5 .:.5", "C2:3.5 .:.5", []),  # the third of Am7; the bass had its root under Am
        # no root begins here, but both other turns have A in the second bar
        ("A1:3.5 .:.5", "D2:3.5 .:.5", ["off-root"]),
        ("A1:3.5 .:.5", "B1:3.5 .:.5", ["off-root"]),
        ("A1:3.5 .:.5", "F1:3.5 .:.5", ["off-root"]),
        ("A1:4~1.5", ".:1.5 A1:2 .:.5", []),  # held over: the root has not changed
    ],
)
def test_a_chord_that_changes_over_its_root_is_no_new_root(
    first: str, second: str, rules: list[str]
) -> None:
    rest = "F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 | A1:3.5 .:.5 |"
    loop = f"A1:3.5 .:.5 | A1:3.5 .:.5 | {rest}"
    song = f"sub | {loop} {loop} {first} | {second} | {rest}\n"
    full = "A3+C4+E4:4 | A3+C4+E4+G4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 | A3+C4+E4:4"
    for harmony in ("chords Am Am7 F C G Am", f"keys | {full} |*3"):
        told = found(f"tempo 140\n{harmony}\n{song}")
        assert [f.rule for f in told] == rules, harmony
        if second.startswith("D2"):
            assert told[0].message.endswith("times the bass has A there.")
