"""Is the sampler tuned to its one-shot? Sounding pitch = written + own pitch − root key."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from beats import heard, judged

from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.rulebook.loader import read_book

BOOK = read_book()
BEAT = """tempo 140
{facts}
keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*2
sub  | {line} |*2
"""
IN_TUNE = "A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5"
SIX_OFF = "D#2:3.5 .:.5 | B1:3.5 .:.5 | F#2:3.5 .:.5 | C#2:3.5 .:.5"  # sounds right six lower


def beat(facts: str, line: str = IN_TUNE) -> str:
    return BEAT.format(facts=facts.replace("; ", "\n"), line=line)


def long_beat(facts: str, line: str) -> str:
    """Sixteen bars: with eight notes too little says that a line lies off by itself."""
    return beat(facts, line).replace("|*2", "|*4")


def told(text: str) -> dict[str, tuple[str, str]]:
    return {f.rule: (f.level, f.message) for f in judged(text, BOOK).findings}


@pytest.mark.parametrize(
    ("facts", "off"),
    [
        ("sound-pitch F#1; root-key F#1", 0),
        ("sound-pitch F#1; root-key C3", 6),
        ("sound-pitch F#1; root-key F#3", 0),
        ("sound-pitch G1; root-key C3", -5),
        ("sound-pitch B0; root-key C2", -1),
        ("sound-pitch F#1", 6),
    ],
)
def test_how_far_every_note_sounds_from_its_key(facts: str, off: int) -> None:
    assert heard(beat(facts)).tuning.off == off


@pytest.mark.parametrize(
    ("sound", "root", "far", "back"),
    [  # sounding = written + own pitch − root key, octaves and all
        ("F#1", "C2", "6 semitones down", "+6"),
        ("F#1", "C1", "6 semitones up", "−6"),
        ("F#1", "C3", "18 semitones down", "+18"),
        ("C#2", "C2", "1 semitone up", "−1"),
        ("G2", "C2", "7 semitones up", "−7"),
    ],
)
def test_both_facts_stated_make_an_error_that_names_the_cause(
    sound: str, root: str, far: str, back: str
) -> None:
    level, message = told(beat(f"sound-pitch {sound}; root-key {root}"))["sampler-off-key"]
    assert level == "error"
    assert f"sounds {sound} and is played as if it were {root}: every note is {far}." in message
    assert f"Set the root key to {sound}, or transpose by {back}." in message


@pytest.mark.parametrize(
    ("sound", "root", "far"),
    [
        ("F#1", "F#2", "1 octave down"),
        ("F#1", "F#4", "3 octaves down"),
        ("F#4", "F#1", "3 octaves up"),
        ("F#1", "F#0", None),  # an octave up the line is a bass still
        ("F#1", "F#1", None),
    ],
)
def test_a_line_out_of_a_bass_s_register_is_told_in_octaves(
    sound: str, root: str, far: str | None
) -> None:
    found = told(beat(f"sound-pitch {sound}; root-key {root}"))
    if far is None:
        assert "sampler-off-key" not in found
    else:
        level, message = found["sampler-off-key"]
        assert level == "warning"
        assert f"with {root} for its root key: the whole line sounds {far}," in message


def test_it_explains_away_the_notes_that_it_causes() -> None:
    assert set(told(beat("sound-pitch F#1; root-key C3"))) == {"sampler-off-key"}


def test_a_line_that_fits_as_it_sounds_is_not_accused() -> None:
    assert told(beat("sound-pitch F#1; root-key C2", SIX_OFF)) == {}


def test_what_sounds_is_judged_and_what_is_written_is_named() -> None:
    text = beat("sound-pitch F#1; root-key C2", SIX_OFF.replace("B1", "C2"))
    level, message = told(text)["off-root"]
    assert level == "error"
    assert "F#1 (written C2)" in message


@pytest.mark.parametrize(
    ("facts", "line", "words"),
    [
        ("sound-pitch F#1", IN_TUNE, "root key F#1, or −6 semitones, octaves aside, if"),
        ("sound-pitch F#1", SIX_OFF, "with its root key left at C"),
    ],
)
def test_without_a_root_key_the_harmony_is_asked(facts: str, line: str, words: str) -> None:
    level, message = told(beat(facts, line))["sampler-off-key"]
    assert level == "note"
    assert words in message


ONE_OFF = "G#1:3.5 .:.5 | E1:3.5 .:.5 | B1:3.5 .:.5 | F#1:3.5 .:.5"  # sounds right one higher


@pytest.mark.parametrize(
    ("facts", "fits", "fitting"),
    [
        ("sound-pitch F#1; root-key C3", "other", 1),  # it sounds six higher
        ("sound-pitch F#1; root-key F1", "sounding", 1),
        ("sound-pitch F#1", "other", 1),
        ("sound-pitch F#1; root-key F#1", "unknown", None),  # in tune: the line is off by itself
    ],
)
def test_of_twelve_shifts_the_one_that_makes_the_line_fit_is_found(
    facts: str, fits: str, fitting: int | None
) -> None:
    tuning = heard(long_beat(facts, ONE_OFF)).tuning
    assert (tuning.fits, tuning.fitting) == (fits, fitting)


def test_where_another_root_key_makes_the_line_fit_it_is_named_in_one_finding() -> None:
    found = told(long_beat("sound-pitch F#1; root-key C3", ONE_OFF))
    (level, message) = found.pop("sampler-off-key")
    assert not found and level == "error"
    assert "is 18 semitones down, and the line fits when every note is 1 semitone up" in message
    assert "Set the root key to F1, or transpose by +19." in message


def test_a_line_that_an_unknown_root_key_makes_fit_is_told_no_shift() -> None:
    """The notes stay as they are: the sampler is left at C, or to be stated."""
    found = told(long_beat("sound-pitch F#1", SIX_OFF))
    assert {rule: level for rule, (level, _) in found.items()} == {"sampler-off-key": "note"}
    line = long_beat("sound-pitch F#1", SIX_OFF.replace("B1", "C2"))  # sounds F# under F
    assert told(line)["off-root"][1].startswith("F#2 (written C2)")


@pytest.mark.parametrize("off", ["A1", "G1", "E1"])
def test_a_pedal_does_not_hide_that_the_sampler_is_off(off: str) -> None:
    """G under Gm7, F7, Ebmaj7 and F7: F is in all of them, and would be no worse."""
    keys = "keys | G3+A#3+D4+F4:4 | F3+A3+C4+D#4:4 | D#3+G3+A#3+D4:4 | F3+A3+C4:4 |*4"
    text = f"tempo 140\nsound-pitch F1\nroot-key {off}\n{keys}\nsub | G1:2x2 |*16"
    found = told(text)
    assert set(found) == {"sampler-off-key"}
    assert found["sampler-off-key"][0] == "error"
    assert "Set the root key to F1" in found["sampler-off-key"][1]


def test_notes_are_judged_where_the_line_fits() -> None:
    text = long_beat("sound-pitch F#1; root-key C3", ONE_OFF)
    found = told(text.replace("| E1:3.5 .:.5", "| F1:3.5 .:.5"))  # would sound F# under F
    assert set(found) == {"sampler-off-key", "off-root"}
    assert found["off-root"][1].startswith("F#1 (written F1)")


def test_names_follow_the_middle_c_of_the_user() -> None:
    chart = heard(beat("sound-pitch F#1; root-key C3"))
    chart = Chart(chart.song, replace(chart.facts, middle_c=3))
    (only,) = [f for f in judge(chart, BOOK).findings if f.rule == "sampler-off-key"]
    assert "sounds F#0 and is played as if it were C2" in only.message
    assert "Set the root key to F#0" in only.message


def test_a_default_of_the_file_is_a_guess() -> None:
    chart = heard(beat("sound-pitch F#1; root-key C4"))
    guess = replace(chart.facts, root_key_source="default")
    tuning = Chart(chart.song, guess).tuning
    assert (tuning.source, tuning.fits, tuning.shift) == ("default", "written", 0.0)


def test_sounding_pitch_has_its_cents() -> None:
    chart = heard(beat("sound-pitch F#1; root-key F#1"))
    sharp = replace(chart.facts, sound_pitch=30.2, cents=-5.0)
    sounding = Chart(chart.song, sharp).sounding
    assert np.allclose(sounding.pitch - sounding.written, 0.15)
    assert (sounding.nearest == sounding.written).all()


def test_an_octave_up_dies_twice_as_fast() -> None:
    text = beat("decay 1s; glide 100ms; sound-pitch {own}; root-key {own}",
                "A1:2~.5 C2:1.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5")  # fmt: skip
    low, high = (heard(text.replace("{own}", own)).slides.level_db[0] for own in ("A1", "A0"))
    assert high == pytest.approx(2 * low)
