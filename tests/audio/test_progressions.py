"""Roots within keys: what the notes leave open, the key and what went before decide."""

from __future__ import annotations

import numpy as np
import pytest

from basslint.audio.progressions import chord_table, roots_in_keys

_SAME = 0.035


def heard(chords, eighths=8):
    """Rows [n, 48] in which the pitch classes of each chord sound, and are struck at first."""
    rows = np.zeros((len(chords) * eighths, 4, 12), np.float32)
    for k, classes in enumerate(chords):
        rows[k * eighths : (k + 1) * eighths, 0, list(classes)] = 1.0
        rows[k * eighths, 1, list(classes)] = 1.0
    return rows.reshape(-1, 48)


def roots(chords, eighths=8):
    """Chance of each root in the middle of each chord, [chords, 12]."""
    change = np.full(len(chords) * eighths, 0.02)
    change[::eighths] = 0.9
    by_root = roots_in_keys(heard(chords, eighths), change, _SAME)
    assert by_root.sum(axis=1) == pytest.approx(1.0, abs=1e-4)
    return by_root[eighths // 2 :: eighths]


@pytest.mark.parametrize("up", range(12))
def test_what_is_open_is_decided_by_the_key_alike_in_all_keys(up):
    """C and G without a third, among Am, F and G: on C."""
    song = [(9, 0, 4), (5, 9, 0), (0, 7), (7, 11, 2)] * 2
    chance = roots([tuple((p + up) % 12 for p in chord) for chord in song])
    assert ((chance.argmax(axis=1) - up) % 12).tolist() == [9, 5, 0, 7] * 2
    assert chance == pytest.approx(np.roll(roots(song), up, axis=1), abs=1e-3)


def test_the_same_notes_stand_on_other_roots_in_other_keys():
    """A and C alone: F or Am among the chords of C major, rarely F among those of G major."""
    in_c = roots([(0, 4, 7), (5, 9, 0), (7, 11, 2), (9, 0)])[3]
    in_g = roots([(7, 11, 2), (2, 6, 9), (4, 7, 11), (9, 0)])[3]
    assert in_c[5] > 2 * in_g[5]


def test_a_song_may_leave_its_key():
    c_major = [(0, 4, 7), (5, 9, 0), (7, 11, 2), (0, 4, 7)] * 2
    far = [tuple((p + 6) % 12 for p in chord) for chord in c_major]
    assert roots(c_major + far).argmax(axis=1).tolist() == [0, 5, 7, 0] * 2 + [6, 11, 1, 6] * 2
    open_there = [*far[:4], (3, 6)]  # heard in the new key alone, as if nothing had been before
    assert roots(c_major + open_there)[-1] == pytest.approx(roots(open_there)[-1], abs=0.07)


def test_silence_is_open_and_long_sounds_do_not_underflow():
    silent = roots_in_keys(np.zeros((64, 48), np.float32), np.full(64, 0.1), _SAME)
    assert silent.max() < 0.2
    long = roots([(0, 4, 7)] * 300)
    assert np.isfinite(long).all() and (long[:, 0] > 0.9).all()


def test_chances_of_the_table_are_chances():
    table = chord_table()
    assert table.degrees.sum() == pytest.approx(1.0, abs=1e-3)
    assert table.following.sum(axis=1) == pytest.approx(1.0, abs=1e-3)
    assert not np.diag(table.following).any()
    assert table.qualities.sum(axis=0) == pytest.approx(1.0, abs=1e-3)
    strongest = table.evidence[:12].reshape(12, -1, 12)[:, 0]  # what sounds, of major chords
    assert all(strongest[root, root] > strongest[(root + 1) % 12, root] for root in range(12))
