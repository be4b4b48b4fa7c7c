"""``[[loop]]`` in a settings file: what it may say, and what is told where it is wrong."""

from __future__ import annotations

import math

import pytest
from loop_sounds import chords, write

from basslint.errors import SettingsError, UsageError
from basslint.hear.facts import StatedLoop
from basslint.settings.discovery import settings_for
from basslint.settings.display import settings_text
from basslint.settings.loops import read_stated_loop

WHOLE = {
    "file": "a.wav", "at": "1-16, 25", "bars": 4, "begins": "35ms", "semitones": -3, "cents": 15
}  # fmt: skip


def test_all_that_can_be_said_of_a_loop():
    want = StatedLoop(
        file="a.wav", at=((1, 16), (25, 25)), bars=4, begins_s=0.035, semitones=-3.0, cents=15.0
    )
    assert read_stated_loop(WHOLE, "loop 1") == want
    pickup = read_stated_loop({"file": "a.wav", "begins": "-1.5 beats"}, "loop 1")
    assert pickup == StatedLoop(file="a.wav", begins_beats=-1.5)  # as it is, all through


@pytest.mark.parametrize(
    ("key", "value", "what"),
    [
        ("file", "", "names no file"),
        ("file", 3, "names no file"),
        ("at", "9-4", "names no bars"),
        ("at", 3, "names no bars"),
        ("bars", 0, "no length in bars"),
        ("bars", True, "no length in bars"),
        ("bars", "4", "no length in bars"),
        ("bars", 2.5, "no length in bars"),
        ("begins", 35, "no place"),
        ("begins", "1 beat", "no pickup"),
        ("begins", "soon", "soon"),
        ("semitones", 99, "out of range"),
        ("cents", "x", "no number"),
        ("at", "1-8, 4-12", "names bars twice"),
        ("at", "1-8, 8-12", "names bars twice"),
        ("at", "9-12, 4-9", "names bars twice"),
        ("bars", 1001, "no length in bars"),
        ("begins", "0 beats", "no pickup"),
        ("semitones", True, "no number"),
        ("semitones", -48.5, "out of range"),
        ("cents", 101, "out of range"),
        ("cents", math.nan, "out of range"),
        ("speed", 2, "unknown key `speed`"),
    ],
)
def test_what_is_wrong_is_told_with_what_is_right(key, value, what):
    with pytest.raises(UsageError) as told:
        read_stated_loop({**WHOLE, key: value}, "loop 2")
    assert what in told.value.message and "loop 2" in told.value.message and told.value.advice


@pytest.mark.parametrize(
    ("key", "value"),
    [("at", "9-12, 4-8"), ("bars", 1000), ("bars", 1), ("semitones", -48), ("cents", 100)],
)
def test_the_most_that_can_be_said(key, value):
    assert read_stated_loop({**WHOLE, key: value}, "loop 2")


def test_loops_hold_for_all_songs_or_for_one(tmp_path):
    for name in ("a.wav", "b.wav"):
        write(tmp_path / name, chords(100.0))
    (tmp_path / "basslint.toml").write_text(
        '[[loop]]\nfile = "a.wav"\n[[song]]\nfiles = "x.mid"\n'
        '[[song.loop]]\nfile = "b.wav"\nbars = 4\n[[song.loop]]\nfile = "a.wav"\nat = "5-8"\n'
    )
    every = settings_for(tmp_path / "any.mid").facts.loops
    assert [loop.file for loop in every] == [str(tmp_path / "a.wav")]
    own = settings_for(tmp_path / "x.mid").facts.loops
    assert [loop.at for loop in own] == [(), ((5, 8),)]


def test_a_loop_that_is_missing_is_told_with_its_place(tmp_path):
    (tmp_path / "basslint.toml").write_text('[[loop]]\nfile = "gone.wav"\n')
    with pytest.raises(SettingsError, match=r"loop 1: file.*gone\.wav.*no file"):
        settings_for(tmp_path / "any.mid")


def test_the_settings_in_force_show_all_that_was_said_of_a_loop(tmp_path):
    write(tmp_path / "a.wav", chords(100.0))
    (tmp_path / "basslint.toml").write_text(
        '[[loop]]\nfile = "a.wav"\nat = "1-8"\nbars = 4\nbegins = "-1 beat"\nsemitones = -3\n'
    )
    settings = settings_for(tmp_path / "any.mid")
    (line,) = (
        words
        for words in settings_text(tmp_path / "any.mid", settings, ()).splitlines()
        if words.strip().startswith("loop ")
    )
    assert 'a.wav, at "1-8", bars 4, begins -1 beats, semitones -3' in line
    assert line.endswith("basslint.toml")
