"""Where the sound moves without a step: what is strong enough to be a glide."""

from __future__ import annotations

import numpy as np
import pytest

from basslint.audio.glides import hear_glides
from basslint.audio.spectra import FRAME_S
from basslint.audio.strokes import STROKE_S

EIGHTHS, EIGHTH_S = 32, 0.3


@pytest.mark.parametrize(
    ("strength", "between", "begins"),
    [
        (0.4, 0.5, [15]),
        # where a fifth of what stands moves, tones only swell and fade, as on a recorded piano
        (0.2, 0.5, []),
        # and where nothing stands between the notes of the scale, they are struck or fade
        (0.4, 0.1, []),
    ],
)
def test_what_moves_and_lies_between_the_notes_is_a_glide(strength, between, begins):
    edges = np.arange(EIGHTHS + 1) * EIGHTH_S
    frames = round(float(edges[-1]) / FRAME_S)
    time = np.arange(frames) * FRAME_S
    moves = np.where((time >= edges[15]) & (time < edges[17]), strength, 0.02)
    stands, whole = np.full(frames, 0.8), np.ones(frames)
    off = np.where((time >= edges[15]) & (time < edges[17]), between, 0.1)
    columns = (moves, moves * stands, stands, whole, off, whole)
    moving = np.stack(columns, axis=1).astype(np.float32)
    strokes = np.full(round(float(edges[-1]) / STROKE_S), 0.3, dtype=np.float32)
    strokes[:: round(2 * EIGHTH_S / STROKE_S)] = 1.0
    assert hear_glides(moving, strokes, edges).start.tolist() == begins
