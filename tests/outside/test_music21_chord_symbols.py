"""Chord symbols against music21's reader of them: root, bass and pitch classes.

The kinds are those that music21 lists (`harmony.CHORD_TYPES`), with alterations that it reads. It
writes flats of roots as ``-``, and has no spelling of its own for the rest of a lead sheet's.
"""

from __future__ import annotations

import random

import pytest
from music21 import harmony

from basslint.theory.chord_symbols import read_symbol

_ROOTS = [letter + sign for letter in "ABCDEFG" for sign in ("", "#", "b")]
_NO_LEAD_SHEETS = ("Neapolitan", "Italian", "French", "German", "pedal", "Tristan")
_KINDS = [w for k, v in harmony.CHORD_TYPES.items() if k not in _NO_LEAD_SHEETS for w in v[1]]
_CHANGES = ("", "", "", "b9", "#9", "#11", "b13", "b5", "#5", "add9", "add11", "omit3", "omit5")
_MOST_REFUSED = 0.15  # of what music21 reads: most alter what the chord has altered already


def symbols(count: int) -> list[str]:
    draw = random.Random(20)
    made = []
    for _ in range(count):
        bass = f"/{draw.choice(_ROOTS)}" if draw.random() < 0.3 else ""
        kind = draw.choice(_KINDS)
        change = draw.choice(_CHANGES) if kind.endswith("7") else ""
        made.append(draw.choice(_ROOTS) + kind + change + bass)
    return made


def music21s(symbol: str) -> harmony.ChordSymbol | None:
    """The symbol as music21 reads it, None where it does not."""
    body, slash, bass = symbol.partition("/")
    flats = [p[:1] + p[1:].replace("b", "-", 1) if p[1:2] == "b" else p for p in (body, bass)]
    try:
        chord = harmony.ChordSymbol(flats[0] + slash + flats[1])
    except Exception:
        return None
    return chord if chord.pitches else None


def test_500_random_symbols_agree_with_music21_or_are_refused() -> None:
    compared, refused, wrong = 0, [], []
    for symbol in symbols(500):
        theirs = music21s(symbol)
        if theirs is None:
            continue
        try:
            mine = read_symbol(symbol)
        except ValueError:
            refused.append(symbol)
            continue
        compared += 1
        root, bass = theirs.root().pitchClass, theirs.bass().pitchClass
        told = (mine.root, mine.bass if mine.bass >= 0 else mine.root, set(mine.tones))
        if told != (root, bass, {p.pitchClass for p in theirs.pitches}):
            wrong.append((symbol, told, (root, bass, {p.pitchClass for p in theirs.pitches})))
    assert not wrong
    assert compared >= 400
    assert len(refused) <= _MOST_REFUSED * (compared + len(refused)), refused


@pytest.mark.parametrize("symbol", ["C7b9", "F#m7b5", "Bb", "Ebmaj7/G"])
def test_common_symbols_are_among_those_compared(symbol: str) -> None:
    theirs = music21s(symbol)
    assert theirs is not None
    assert set(read_symbol(symbol).tones) == {p.pitchClass for p in theirs.pitches}
