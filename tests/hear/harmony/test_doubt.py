"""What can be told where the root, or the scale, is not sure: what fits all of its likely answers.

Chords and scales: Open Music Theory.
"""

from __future__ import annotations

import numpy as np
import pytest
from chord_songs import Note, blocks, song_of
from hypothesis import given
from hypothesis import strategies as st

from basslint.hear.harmony.melody import chord_weight
from basslint.hear.harmony.roots import CERTAIN, hear_roots
from basslint.hear.harmony.segments import cut
from basslint.hear.key.keys import hear_keys

THIRD = (72, 76)  # C and E: C major or A minor
TUNE = (69, 71, 72, 74, 76, 74, 72, 71)  # by step
BROKEN = (57, 64, 72, 64)  # fifth, sixth: leaps


def line(pitches: tuple[int, ...], bars: int, beats: float = 1.0) -> list[Note]:
    count = round(4 * bars / beats)
    return [(i * beats, (i + 1) * beats, pitches[i % len(pitches)]) for i in range(count)]


def test_a_note_foreign_to_both_likely_chords_fits_neither() -> None:
    roots = hear_roots(song_of(blocks([THIRD])), (0,))
    assert len(roots) == 1 and roots.certainty[0] < CERTAIN
    fit = roots.fit[0]
    assert fit[9] > 0.5 and fit[0] > 0.15  # either may be the root
    assert fit[4] == pytest.approx(0.1, abs=0.03)  # a tone of both: a tenth of a root
    assert fit[[1, 2, 3, 6, 8, 10, 11]].max() < 0.03


@given(st.lists(st.lists(st.integers(40, 80), min_size=1, max_size=5), min_size=1, max_size=6))
def test_fit_is_a_chance_and_at_least_that_of_the_root(chords: list[list[int]]) -> None:
    song = song_of(blocks([sorted(set(chord)) for chord in chords]))
    roots = hear_roots(song, (0,))
    assert ((roots.fit >= -1e-6) & (roots.fit <= 1 + 1e-6)).all()
    told = np.flatnonzero(roots.root >= 0)
    assert (roots.fit[told, roots.root[told]] >= roots.certainty[told] - 1e-6).all()


@pytest.mark.parametrize(
    ("what", "notes", "least", "most"),
    [
        ("block chords", blocks([(57, 60, 64), (53, 57, 60)] * 4), 1.0, 1.0),
        ("broken chords, one note at a time", line(BROKEN, 8, 0.5), 1.0, 1.0),
        ("a tune by step", line(TUNE, 8), 0.35, 0.4),
        ("two voices in thirds", [*line(TUNE, 8), *[(s, e, p - 4) for s, e, p in line(TUNE, 8)]],
         1.0, 1.0),
    ],
)  # fmt: skip
def test_a_tune_alone_has_little_weight(
    what: str, notes: list[Note], least: float, most: float
) -> None:
    song = song_of(sorted(notes))
    weight = chord_weight(song.notes, cut(song.notes, song.grid))
    assert least <= weight.min() and weight.max() <= most, what


def test_a_tune_after_chords_weighs_little_from_where_the_chords_are_out_of_reach() -> None:
    tune = [(s + 32, e + 32, p) for s, e, p in line(TUNE, 8)]
    song = song_of([*blocks([(57, 60, 64)] * 8), *tune])
    segments = cut(song.notes, song.grid)
    weight = chord_weight(song.notes, segments)
    assert weight[segments.bar < 6].min() == 1.0
    assert weight[segments.bar >= 11].max() < 0.5


def test_the_roots_of_a_tune_alone_are_not_sure() -> None:
    roots = hear_roots(song_of(line(TUNE, 16)), (0,))
    assert (roots.certainty < 0.6).all()


def test_a_note_outside_both_likely_scales_is_outside() -> None:
    """C D E G A: the scale of C, F and G major alike; C♯ is in none of them, F♯ in one."""
    song = song_of(line((60, 62, 64, 67, 69, 67, 64, 62), 4))
    keys = hear_keys(song, (0,), hear_roots(song, (0,)))
    fit = keys.fit[0]
    assert keys.scale_certainty[0] < 0.9
    assert fit[[0, 2, 4, 7, 9]].min() > 0.9
    assert fit[[1, 8]].max() < 0.1
    assert 0.1 < fit[6] < 0.9 and 0.1 < fit[5] < 0.95


def test_the_degree_that_colors_a_mode_fits_and_the_plain_one_does_not() -> None:
    """D dorian by its major IV: B natural, no B flat (Open Music Theory)."""
    chords = ((50, 53, 57), (55, 59, 62), (50, 53, 57), (48, 52, 55)) * 4
    song = song_of(blocks(chords))
    keys = hear_keys(song, (0,), hear_roots(song, (0,)))
    assert keys.mode[0] == "dorian"
    assert keys.fit[0, 11] > 0.9 > 0.1 > keys.fit[0, 10]


def test_a_silent_bar_is_trusted_the_more_the_oftener_its_loop_came_round() -> None:
    am, f = (57, 60, 64), (53, 57, 60)
    sure = []
    for rounds in (2, 4, 8):
        song = song_of([*blocks([am, f] * rounds), (8.0 * rounds + 8, 8.0 * rounds + 9, 57)])
        roots = hear_roots(song, (0,))
        row = int(np.searchsorted(roots.start, 96 * (8 * rounds + 2), side="right")) - 1
        assert roots.root[row] == 9
        sure.append(float(roots.certainty[row]))
    assert sure == sorted(sure) and sure[0] < 0.85 < sure[2]
