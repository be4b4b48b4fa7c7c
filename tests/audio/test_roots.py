"""Roots of a loop by two hearings: as sure as both are."""

from __future__ import annotations

import numpy as np
import pytest

from basslint.audio import roots
from basslint.audio.chances import NoteChances
from basslint.audio.columns import soft_segments
from basslint.audio.notes import FIRST_NOTE, NOTES
from basslint.audio.roots import agreed, decode_loop
from basslint.hear.harmony.roots import CERTAIN
from basslint.song.timing import bar_grid

_CHORDS = {"C": (48, 60, 64, 67), "F": (41, 60, 65, 69), "G": (43, 59, 62, 67)}
_CHORDS |= {"Am": (45, 60, 64, 69), "Dm": (50, 62, 65, 69), "Em": (40, 59, 64, 67)}


def segments(bars):
    """Bars of 4/4 in which such notes are heard, struck on the first and the third beat."""
    eighths = len(bars) * 8
    sounds, struck, lowest = (np.full((eighths, NOTES), 0.02, np.float32) for _ in range(3))
    for bar, notes in enumerate(bars):
        rows, played = slice(bar * 8, bar * 8 + 8), np.array(notes) - FIRST_NOTE
        sounds[rows, played] = 0.95
        struck[bar * 8, played] = 0.9
        struck[bar * 8 + 4, played] = 0.6
        lowest[rows, played.min()] = 0.9
    grid = bar_grid(eighths * 240 - 1, [(0, 4, 4)], 480)
    return soft_segments(NoteChances(sounds, struck, lowest), grid)


def fourth_bar(names, notes):
    """Chance of each root in the middle of the fourth bar, played after three others, and again."""
    loop = segments([*(_CHORDS[name] for name in names), notes] * 2)
    return decode_loop(loop, np.ones(len(loop)))[0][3 * 8 + 4]


# a semitone that rubs, with the leading tone of the relative minor, or of G: no third, no fifth
@pytest.mark.parametrize(
    ("names", "notes", "taken"),
    [
        (("Am", "G", "F"), (55, 68), 4),  # G and G#: E7, without an E
        (("Am", "C", "Dm"), (43, 55, 68), 4),
        (("Em", "C", "G"), (65, 66), 2),  # F and F#: D, without a D
        (("Dm", "C", "F"), (41, 66, 69), 2),
    ],
)
def test_a_root_that_the_key_alone_tells_is_in_doubt(monkeypatch, names, notes, taken):
    both = fourth_bar(names, notes)
    monkeypatch.setattr(roots, "agreed", lambda by_keys, _: by_keys)
    by_keys = fourth_bar(names, notes)
    assert by_keys.argmax() == taken and by_keys[taken] >= CERTAIN
    assert both.max() < CERTAIN


@pytest.mark.parametrize(
    ("names", "notes", "root"),
    [
        (("C", "F", "C"), (48, 57, 60, 63, 65), 5),  # F7 over its fifth
        (("C", "F", "G"), (40, 62, 68, 71), 4),  # E7 in C major
        (("C", "F", "G"), (46, 62, 65), 10),  # B flat in C major
        (("C", "F", "G"), (50, 57), 2),  # a fifth alone
        (("Am", "F", "G"), (45, 62, 65, 72), 2),  # Dm7 over its fifth
        (("Dm", "F", "C"), (45, 62), 2),  # a fourth alone, in a song on D
    ],
)
def test_what_notes_and_key_tell_stays_sure(names, notes, root):
    both = fourth_bar(names, notes)
    assert both.argmax() == root and both[root] >= CERTAIN


def test_two_hearings_are_as_sure_as_both():
    sure, other = np.full((1, 12), 0.002, np.float32), np.full((1, 12), 0.002, np.float32)
    sure[0, 9] = other[0, 0] = 0.978
    assert agreed(sure, sure) == pytest.approx(sure, abs=1e-5)
    between = agreed(sure, other)
    assert between == pytest.approx(agreed(other, sure)) and between.sum() == pytest.approx(1.0)
    assert between[0, [0, 9]] == pytest.approx(between[0, 0]) and between.max() < 0.5


def test_a_root_that_one_hearing_rules_out_is_no_fault():
    one, other = np.eye(12, dtype=np.float32)[[3]], np.eye(12, dtype=np.float32)[[7]]
    both = agreed(one, other)
    assert np.isfinite(both).all() and both[0, [3, 7]] == pytest.approx(0.5, abs=1e-3)
