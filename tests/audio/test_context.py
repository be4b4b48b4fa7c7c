"""What other notes and moments say of a note: columns that a table of weights relies on."""

from __future__ import annotations

import numpy as np
import pytest

from basslint.audio import chances
from basslint.audio.context import context, context_names
from basslint.audio.eighths import feature_names
from basslint.audio.notes import FIRST_NOTE, NOTES


def one_note(eighth, note, n=16):
    """Nothing but one note of one eighth."""
    chance = np.zeros((n, NOTES), np.float32)
    chance[eighth, note - FIRST_NOTE] = 1.0
    return chance


@pytest.mark.parametrize(
    ("column", "eighth", "note"),
    [
        ("sounds", 5, 60),
        ("sounds eighth +1", 4, 60),
        ("sounds eighth -2", 7, 60),
        ("sounds bar +1", 13, 60),  # the circle: a bar of 8 after the 14th eighth is the 6th
        ("sounds bar -1", 13, 60),
        ("sounds note +12", 5, 48),
        ("sounds note -7", 5, 67),
    ],
)
def test_a_column_looks_where_its_name_says(column, eighth, note):
    sounds = one_note(5, 60)
    nothing = np.zeros_like(sounds)
    found = context(sounds, nothing, nothing, 8)[column]
    assert np.argwhere(found).tolist() == [[eighth, note - FIRST_NOTE]]


def test_classes_count_in_any_octave_by_how_often_they_sound():
    sounds = one_note(0, 48) + one_note(1, 60) + one_note(2, 67)
    nothing = np.zeros_like(sounds)
    of_72 = {
        k: float(context(sounds, nothing, nothing, 8)[f"class {k:+d} in loop"][9, 72 - FIRST_NOTE])
        for k in range(12)
    }
    assert of_72 == {k: {0: 1.0, 7: 0.5}.get(k, 0.0) for k in range(12)}


def test_notes_off_the_range_are_silent():
    sounds = np.ones((4, NOTES), np.float32)
    above = context(sounds, sounds, sounds, 2)["sounds note +24"]
    assert above[:, -24:].max() == 0.0 and above[:, :-24].min() == 1.0


def test_weights_fit_the_columns_and_blocks_leave_no_seam(monkeypatch):
    first, second = chances.weights()
    assert len(first.into) == len(feature_names())
    assert len(second.into) == len(feature_names()) + len(context_names())
    speaks = np.random.default_rng(3).random((20, NOTES, len(feature_names()))).astype(np.float32)
    whole = chances.note_chances(speaks, 8)
    monkeypatch.setattr(chances, "_EIGHTHS", 7)
    parts = chances.note_chances(speaks, 8)
    for name in ("sounds", "struck", "lowest"):
        assert getattr(parts, name) == pytest.approx(getattr(whole, name), abs=1e-5)


def test_a_table_of_other_columns_is_refused():
    with pytest.raises(AssertionError, match="fit it again"):
        chances._table({"features": {"else": [0.0]}, "nodes": [], "bias": []}, feature_names())
