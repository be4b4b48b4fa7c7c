"""Chord roots. Expected roots are chord spelling (Open Music Theory); see also
tests/outside/test_music21_roots.py for roots and spellings that others published.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from chord_songs import Note, blocks, song_of
from hypothesis import given
from hypothesis import strategies as st

from basslint.hear.harmony.roots import CERTAIN, Roots, hear_roots
from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.theory.chords import QUALITIES

AM, F, C, G = (57, 60, 64), (53, 57, 60), (48, 55, 64), (55, 59, 62)
LOOP = (AM, F, C, G)
LOOP_ROOTS = [9, 5, 0, 7]


def stretches(roots: Roots, tpq: int = 96) -> list[tuple[float, float, int]]:
    return [
        (s / tpq, e / tpq, int(r))
        for s, e, r in zip(roots.start, roots.end, roots.root, strict=True)
    ]


def test_each_chord_of_a_loop_is_one_stretch_from_bar_line_to_bar_line() -> None:
    roots = hear_roots(song_of(blocks(LOOP * 2)), (0,))
    expected = [(4.0 * i, 4.0 * i + 4, r) for i, r in enumerate(LOOP_ROOTS * 2)]
    assert stretches(roots) == expected
    assert [QUALITIES[q] for q in roots.quality[:4]] == ["minor", "major", "major", "major"]
    assert (roots.certainty >= CERTAIN).all()


@pytest.mark.parametrize(
    ("name", "chord", "root"),
    [
        ("first inversion", (52, 55, 60), 0),
        ("second inversion", (55, 60, 64), 0),
        ("minor seventh over its root", (45, 60, 64, 67), 9),
        ("dominant seventh, third below", (47, 55, 62, 65), 7),
        ("suspended fourth", (48, 53, 55), 0),
        ("root and fifth alone", (45, 52), 9),
    ],
)
def test_a_chord_that_lasts_is_named_after_its_root(
    name: str, chord: tuple[int, ...], root: int
) -> None:
    roots = hear_roots(song_of(blocks([chord] * 4)), (0,))
    assert [int(r) for r in roots.root] == [root], name


def test_broken_chords_and_passing_notes_do_not_split_a_chord() -> None:
    notes: list[Note] = []
    for bar, chord in enumerate(LOOP * 2):
        low = chord[0] - 12
        for step, pitch in enumerate((low, chord[1], chord[2], chord[1] + 12) * 2):
            at = 4 * bar + step / 2
            notes.append((at, at + 0.5, pitch))
        notes.append((4 * bar + 3.75, 4 * bar + 4, chord[2] + 1))
    roots = hear_roots(song_of(notes), (0,))
    assert [r for *_, r in stretches(roots)] == LOOP_ROOTS * 2


def test_only_the_harmony_parts_are_heard() -> None:
    harmony = blocks(LOOP * 2)
    wrong = [(4.0 * i, 4.0 * i + 4, 30) for i in range(8)]
    alone = hear_roots(song_of(harmony), (0,))
    beside = hear_roots(song_of(harmony, wrong), (0,))
    assert stretches(alone) == stretches(beside)
    np.testing.assert_allclose(alone.certainty, beside.certainty, atol=1e-6)
    assert set(hear_roots(song_of(harmony, wrong), (1,)).root.tolist()) == {6}


def test_chords_may_change_within_the_bar_and_in_other_meters() -> None:
    halves = hear_roots(song_of(blocks(LOOP * 4, each=2)), (0,))
    assert [r for *_, r in stretches(halves)] == LOOP_ROOTS * 4
    for meter, each in (((3, 4), 3.0), ((6, 8), 3.0), ((12, 8), 6.0), ((5, 4), 5.0), ((2, 2), 4.0)):
        roots = hear_roots(song_of(blocks(LOOP * 2, each=each), meter=meter), (0,))
        assert stretches(roots) == [
            (each * i, each * (i + 1), r) for i, r in enumerate(LOOP_ROOTS * 2)
        ]


def test_bars_stated_half_a_bar_off_do_not_move_the_chords() -> None:
    roots = hear_roots(song_of(blocks(LOOP * 4, begin=2.0)), (0,))
    expected = [(4.0 * i + 2, 4.0 * i + 6, r) for i, r in enumerate(LOOP_ROOTS * 4)]
    assert stretches(roots) == expected


def test_notes_up_to_sixty_milliseconds_off_the_beat_move_no_chord() -> None:
    rng = np.random.default_rng(3)
    late = 0.06 * 2  # quarters at 120 bpm
    ragged = [
        (max(s + float(rng.uniform(-late, late)), 0.0), e - 0.2, p) for s, e, p in blocks(LOOP * 4)
    ]
    roots = hear_roots(song_of(ragged, tpq=480), (0,))
    assert [r for *_, r in stretches(roots, 480)] == LOOP_ROOTS * 4
    assert (np.diff(roots.start) == 4 * 480).all()


def test_an_unclear_bar_is_heard_with_its_repeats() -> None:
    """A C major triad where the loop has A minor 7 elsewhere is that chord without its root."""
    am7, bare = (57, 60, 64, 67), (60, 64, 67)
    clear = (am7, F, (50, 57, 65), G)
    once = (bare, F, (50, 57, 65), G)
    roots = hear_roots(song_of(blocks(clear * 3 + once + clear)), (0,))
    assert int(roots.root[np.searchsorted(roots.start, 48 * 96)]) == 9
    assert int(hear_roots(song_of(blocks([bare] * 4)), (0,)).root[0]) == 0


def test_a_short_silence_between_chords_is_bridged() -> None:
    staccato = [(4.0 * i, 4.0 * i + 0.5, p) for i, chord in enumerate(LOOP * 2) for p in chord]
    roots = hear_roots(song_of(staccato), (0,))
    assert [r for *_, r in stretches(roots)] == LOOP_ROOTS * 2
    assert (roots.end[:-1] == roots.start[1:]).all()


def test_where_a_loop_is_silent_its_repeats_tell_the_root_less_surely() -> None:
    gap = [n for n in blocks(LOOP * 4) if not 24 <= n[0] < 32]  # C and G of the second round
    roots = hear_roots(song_of(gap), (0,))
    assert [r for *_, r in stretches(roots)] == LOOP_ROOTS * 4
    whole = hear_roots(song_of(blocks(LOOP * 4)), (0,))
    assert (roots.certainty[6:8] <= whole.certainty[6:8]).all()


def test_where_nothing_repeats_silence_has_no_root() -> None:
    notes = blocks((C,)) + blocks(((50, 54, 57),), begin=16.0)
    roots = hear_roots(song_of(notes), (0,))
    assert stretches(roots) == [(0.0, 4.0, 0), (4.0, 16.0, -1), (16.0, 20.0, 2)]
    assert roots.certainty[1] == 0.0


def test_no_harmony_no_roots() -> None:
    assert len(hear_roots(song_of(blocks(LOOP)), ())) == 0
    assert len(hear_roots(song_of([]), ())) == 0


def test_one_note_that_is_shorter_than_any_grid_is_no_error() -> None:
    roots = hear_roots(song_of([(0.0, 1 / 96, 60)], tpq=96), (0,))
    assert roots.root.tolist() == [0]
    assert len(hear_roots(song_of([(0.0, 1.0, 60)], tpq=1), (0,))) == 1


_chords = st.lists(
    st.tuples(st.integers(40, 62), st.sampled_from([(0, 4, 7), (0, 3, 7), (0, 4, 7, 10)])),
    min_size=4,
    max_size=12,
)


@given(_chords, st.integers(0, 11))
def test_transposed_harmony_has_transposed_roots(
    chords: list[tuple[int, tuple[int, ...]]], by: int
) -> None:
    """All above middle C, where no note lies low enough to act as a bass."""
    plain = blocks([[63 + low % 12 + t for t in tones] for low, tones in chords])
    first = hear_roots(song_of(plain), (0,))
    second = hear_roots(song_of([(s, e, p + by) for s, e, p in plain]), (0,))
    assert [(s, e, (r + by) % 12) for s, e, r in stretches(first)] == stretches(second)
    np.testing.assert_allclose(first.certainty, second.certainty, atol=1e-4)


@given(_chords)
def test_a_finer_resolution_changes_nothing(chords: list[tuple[int, tuple[int, ...]]]) -> None:
    notes = blocks([[low + t for t in tones] for low, tones in chords])
    coarse, fine = (hear_roots(song_of(notes, tpq=tpq), (0,)) for tpq in (96, 192))
    assert stretches(coarse, 96) == stretches(fine, 192)
    np.testing.assert_allclose(coarse.certainty, fine.certainty, atol=1e-5)


@given(_chords)
def test_a_part_doubled_changes_nothing(chords: list[tuple[int, tuple[int, ...]]]) -> None:
    notes = blocks([[low + t for t in tones] for low, tones in chords])
    once, twice = hear_roots(song_of(notes), (0,)), hear_roots(song_of(notes, notes), (0, 1))
    assert stretches(once) == stretches(twice)


@given(
    st.lists(
        st.tuples(st.integers(0, 400), st.integers(1, 90), st.integers(0, 127)),
        min_size=1,
        max_size=30,
    )
)
def test_stretches_are_ordered_whole_and_certain_between_0_and_1(
    notes: list[tuple[int, int, int]],
) -> None:
    song = song_of([(s / 8, (s + d) / 8, p) for s, d, p in notes])
    roots = hear_roots(song, (0,))
    assert (roots.start < roots.end).all()
    assert (roots.end[:-1] == roots.start[1:]).all()
    assert all(a != b for a, b in pairwise(roots.root.tolist()))
    assert ((roots.certainty >= 0) & (roots.certainty <= 1 + 1e-6)).all()
    assert ((roots.root >= -1) & (roots.root < 12)).all()
    assert (roots.quality[roots.root < 0] == 0).all()


def test_a_song_that_is_over_within_a_tick_has_no_sure_root() -> None:
    """Two strokes of a key a tick into a file, in a bar of one tick: no bar of any meter sounds
    (found by hypothesis; no rule could be asked)."""
    song = build(
        scan(
            bytes.fromhex(
                "4d546864000000060001000100184d54726b0000002300ff510300000101902401008024"
                "4000ff5804010018080090240100ff2f0005ff2f00"
            )
        )
    )
    roots = hear_roots(song, (0,))
    assert (roots.certainty < CERTAIN).all()  # and none is claimed
