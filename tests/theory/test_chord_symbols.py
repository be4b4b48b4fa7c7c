"""Chord symbols of lead sheets: root, tones, bass, lengths, and what cannot be read."""

from __future__ import annotations

from fractions import Fraction

import pytest

from basslint.errors import UsageError
from basslint.theory.chord_symbols import read_chords, read_symbol

# Pitch classes as Open Music Theory spells the chords: C major triad C E G, and so on.
SPELLED = {
    "C": "C E G",
    "Cm": "C Eb G",
    "C-": "C Eb G",
    "Dm": "D F A",
    "Bb": "Bb D F",
    "F#m7b5": "F# A C E",
    "F♯ø": "F# A C E",
    "Cdim": "C Eb Gb",
    "C°7": "C Eb Gb A",
    "Caug": "C E G#",
    "C7+": "C E G# Bb",
    "C+7": "C E G# Bb",
    "C7": "C E G Bb",
    "Cmaj7": "C E G B",
    "CM7": "C E G B",
    "CΔ": "C E G B",
    "Cm(maj7)": "C Eb G B",
    "CmM7": "C Eb G B",
    "C6": "C E G A",
    "C6/9": "C E G A D",
    "C69": "C E G A D",
    "Cm6": "C Eb G A",
    "C9": "C E G Bb D",
    "Cmaj9": "C E G B D",
    "Cadd9": "C E G D",
    "C(add9)": "C E G D",
    "Csus4": "C F G",
    "Csus": "C F G",
    "Csus2": "C D G",
    "C9sus4": "C F G Bb D",
    "C7(b9)": "C E G Bb Db",
    "C7-9": "C E G Bb Db",
    "C7(b9,#11)": "C E G Bb Db F#",
    "C7b5": "C E Gb Bb",
    "C7alt": "C E Bb Db Eb Gb Ab",
    "C5": "C G",
    "Cno3": "C G",
    "C/E": "C E G",
    "D/C": "C D F# A",
    "Bbm7/Ab": "Bb Db F Ab",
    "Cb9": "Cb Eb Gb Bbb Db",
    "Fbmaj7": "Fb Ab Cb Eb",
}
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def pitch_class(name: str) -> int:
    return (LETTERS[name[0]] + name.count("#") - name[1:].count("b")) % 12


@pytest.mark.parametrize(("symbol", "spelled"), SPELLED.items())
def test_a_symbol_names_its_notes(symbol: str, spelled: str) -> None:
    assert set(read_symbol(symbol).tones) == {pitch_class(name) for name in spelled.split()}


@pytest.mark.parametrize(
    ("symbol", "root", "bass"),
    [("C/E", 0, 4), ("D/C", 2, 0), ("Bbm7/Ab", 10, 8), ("C6/9", 0, -1), ("F#", 6, -1)],
)
def test_root_and_bass(symbol: str, root: int, bass: int) -> None:
    chord = read_symbol(symbol)
    assert (chord.root, chord.bass) == (root, bass)


@pytest.mark.parametrize("symbol", ["N.C.", "N.C", "NC"])
def test_no_chord_is_no_root(symbol: str) -> None:
    assert read_symbol(symbol).root == -1
    assert read_symbol(symbol).tones == ()


def test_a_root_alone_is_told_from_a_chord() -> None:
    assert [read_symbol(s).plain for s in ("C", "Bb", "F#", "Cm", "Cmaj", "C/E", "C5")] == [
        *(True, True, True, False, False),
        *(True, False),
    ]


@pytest.mark.parametrize(
    "symbol",
    ["H7", "Hm", "dm", "bb", "C2", "Cmin5", "Cdimsus9", "C7x", "C(b9)", "Cm#11", "C/", "C/9", "/C",
     "C//E", "Dm|", "m7", "C77", "Cmaj7maj7", "Cdom", "C###", "C/e", ""],
)  # fmt: skip
def test_what_is_no_symbol_or_may_mean_two_is_refused(symbol: str) -> None:
    with pytest.raises(ValueError, match=r"written|Write"):
        read_symbol(symbol)


def test_lengths_in_bars() -> None:
    spans = read_chords("Dm Bb*2 C*1/2 C7*.5 N.C.*0.25", "--chords")
    assert [s.bars for s in spans] == [1, 2, *map(Fraction, ("1/2", "1/2", "1/4"))]
    assert [s.chord.written for s in spans] == ["Dm", "Bb", "C", "C7", "N.C."]


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("Dm Bb H7 C", "“H7”, chord 3 of 4,"),
        ("Dm*x", "“Dm*x”, chord 1 of 1, has no length"),
        ("Dm C*0", "“C*0”, chord 2 of 2, has no length"),
        ("Dm C*1/0", "“C*1/0”, chord 2 of 2, has no length"),
        ("C*1/17", "“C*1/17”, chord 1 of 1, has no length"),
        ("C*10001", "“C*10001”, chord 1 of 1, has no length"),
        ("C*", "“C*”, chord 1 of 1, has no length"),
        ("Dm | C", "“|”, chord 2 of 3, is no chord"),
        ("", "no chord is given"),
        ("C " * 5000, "more than 4,096 chords"),
    ],
)
def test_what_cannot_be_read_is_named_with_its_place(text: str, named: str) -> None:
    with pytest.raises(UsageError) as caught:
        read_chords(text, "--chords")
    assert caught.value.message.startswith("--chords: ")
    assert named in caught.value.message
    assert caught.value.advice
