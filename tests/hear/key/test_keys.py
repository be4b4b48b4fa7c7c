"""Keys. Scales and modes: Open Music Theory; profiles against music21 in
tests/outside/test_music21_roots.py.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from chord_songs import Note, blocks, song_of
from hypothesis import given
from hypothesis import strategies as st

from basslint.hear.facts import StatedKey
from basslint.hear.harmony.roots import hear_roots
from basslint.hear.key.keys import Keys, hear_keys, stated_key

MAJOR = ((48, 52, 55), (53, 57, 60), (55, 59, 62), (48, 52, 55))  # I IV V I in C
MINOR = ((45, 48, 52), (50, 53, 57), (52, 56, 59), (45, 48, 52))  # i iv V i in A
NATURAL = ((45, 48, 52), (53, 57, 60), (48, 52, 55), (43, 47, 50), (45, 48, 52))  # i VI III VII i


def keys_of(notes: Sequence[Note]) -> Keys:
    song = song_of(notes)
    return hear_keys(song, (0,), hear_roots(song, (0,)))


def up(chords: Sequence[Sequence[int]], by: int) -> list[tuple[int, ...]]:
    return [tuple(p + by for p in chord) for chord in chords]


@pytest.mark.parametrize(
    ("name", "chords", "tonic", "mode"),
    [
        ("I IV V I", MAJOR * 3, 0, "major"),
        ("i iv V i", MINOR * 3, 9, "minor"),
        ("i VI III VII i", NATURAL * 3, 9, "minor"),
        # i IV i VII: the raised sixth of D dorian
        ("dorian", ((50, 53, 57), (55, 59, 62), (50, 53, 57), (48, 52, 55)) * 4, 2, "dorian"),
        # i II: A minor and B flat major over A, the lowered second
        ("phrygian", ((45, 52, 57, 60), (45, 53, 58, 62)) * 8, 9, "phrygian"),
    ],
)
def test_the_key_of_a_cadence(
    name: str, chords: Sequence[Sequence[int]], tonic: int, mode: str
) -> None:
    keys = keys_of(blocks(chords))
    assert len(keys) == 1, name
    assert (int(keys.tonic[0]), keys.mode[0]) == (tonic, mode)


def test_a_minor_key_holds_the_raised_seventh_where_it_is_used() -> None:
    harmonic, natural = keys_of(blocks(MINOR * 3)), keys_of(blocks(NATURAL * 3))
    assert np.flatnonzero(harmonic.scale[0]).tolist() == [0, 2, 4, 5, 7, 8, 9, 11]
    assert np.flatnonzero(natural.scale[0]).tolist() == [0, 2, 4, 5, 7, 9, 11]


def test_a_song_that_moves_up_a_tone_has_two_keys() -> None:
    keys = keys_of(blocks([*MAJOR * 4, *up(MAJOR * 4, 2)]))
    assert keys.tonic.tolist() == [0, 2]
    assert keys.mode == ("major", "major")
    assert abs(int(keys.start[1]) - 16 * 4 * 96) <= 4 * 96


def test_a_chromatic_passing_bar_is_no_change_of_key() -> None:
    chords = [*MAJOR * 3, (49, 53, 56), *MAJOR * 3]
    assert keys_of(blocks(chords)).tonic.tolist() == [0]


def test_keys_cover_the_song_and_are_sure_of_a_plain_cadence() -> None:
    keys = keys_of(blocks(MAJOR * 4))
    assert (int(keys.start[0]), int(keys.end[-1])) == (0, 16 * 4 * 96)
    assert keys.certainty[0] > 0.8
    assert not keys.stated


def test_no_notes_no_keys() -> None:
    song = song_of([])
    keys = hear_keys(song, (), hear_roots(song, ()))
    assert len(keys) == 0
    assert keys.scale.shape == (0, 12)


def test_a_stated_key_holds_all_through_and_hears_only_the_raised_seventh() -> None:
    song = song_of(blocks(up(MINOR * 2, 2)))
    keys = stated_key(song, (0,), StatedKey(11, "minor"))
    assert (keys.tonic.tolist(), keys.mode, keys.certainty.tolist()) == ([11], ("minor",), [1.0])
    assert keys.stated
    assert bool(keys.scale[0, 10])  # A# sounds as the third of F# major
    major = stated_key(song, (0,), StatedKey(11, "major"))
    assert np.flatnonzero(major.scale[0]).tolist() == [1, 3, 4, 6, 8, 10, 11]


@given(st.sampled_from([MAJOR, MINOR, NATURAL]), st.integers(-5, 6))
def test_a_transposed_song_has_the_transposed_key(chords: Sequence[Sequence[int]], by: int) -> None:
    plain, moved = keys_of(blocks(chords * 3)), keys_of(blocks(up(chords * 3, by)))
    assert (plain.tonic[0] + by) % 12 == moved.tonic[0]
    assert plain.mode == moved.mode
    assert np.array_equal(np.roll(plain.scale[0], by), moved.scale[0])


@given(
    st.lists(st.tuples(st.integers(0, 600), st.integers(1, 90), st.integers(0, 127)), max_size=30)
)
def test_keys_follow_each_other_without_gap(notes: list[tuple[int, int, int]]) -> None:
    keys = keys_of([(s / 8, (s + d) / 8, p) for s, d, p in notes])
    assert len(keys) == len(keys.mode) == len(keys.scale)
    assert (keys.end[:-1] == keys.start[1:]).all()
    assert ((keys.certainty >= 0) & (keys.certainty <= 1 + 1e-9)).all()
    assert (keys.scale.sum(axis=1) >= 7).all()


def test_the_whole_song_says_which_mode_a_doubtful_stretch_is_in() -> None:
    """vi IV I V goes round in either mode: after a minor song it is minor, alone it may be major
    (common practice, no source)."""
    doubtful = up(((45, 48, 52), (53, 57, 60), (48, 52, 55), (55, 59, 62)) * 2, 2)
    minor = ((45, 48, 52), (50, 53, 57), (52, 55, 59), (45, 48, 52)) * 5
    assert keys_of(blocks(doubtful)).mode == ("major",)
    assert keys_of(blocks([*minor, *doubtful])).mode == ("minor", "minor")


def test_a_cadence_of_its_own_outweighs_the_whole_song() -> None:
    minor = ((45, 48, 52), (50, 53, 57), (52, 55, 59), (45, 48, 52)) * 10
    keys = keys_of(blocks([*minor, *up(MAJOR * 2, 2)]))
    assert keys.mode == ("minor", "major")
    assert keys.tonic.tolist() == [9, 2]
