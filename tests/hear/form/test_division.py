"""Sums over all divisions into phrases, against lists of every division."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from basslint.hear.form.division import best_division, pick_starts, start_probability


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 9), st.integers(1, 5), st.integers(0, 10_000))
def test_probabilities_and_the_best_are_those_of_all_divisions(
    bars: int, most: int, seed: int
) -> None:
    """Against the definition: list every division, weigh it, count the starts."""
    score = np.random.default_rng(seed).normal(0, 3, (bars, most))
    weight_of_start, total = np.zeros(bars), 0.0
    best, best_starts = -np.inf, [0]
    for cuts in itertools.product((False, True), repeat=bars - 1):
        starts = [0, *(i + 1 for i, cut in enumerate(cuts) if cut)]
        lengths = np.diff([*starts, bars])
        if lengths.max() > most:
            continue
        mark = sum(score[s, n - 1] for s, n in zip(starts, lengths, strict=True))
        if mark > best:
            best, best_starts = mark, starts
        weight = np.exp(mark)
        weight_of_start[starts] += weight
        total += weight
    np.testing.assert_allclose(start_probability(score), weight_of_start / total, rtol=1e-9)
    assert best_division(score) == best_starts


def test_start_probability_of_scores_far_apart_stays_finite() -> None:
    score = np.tile(np.linspace(-60.0, 60.0, 16), (400, 1))
    chance = start_probability(score)
    assert np.isfinite(chance).all()
    assert chance[0] == pytest.approx(1.0)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=9), st.integers(1, 4))
def test_picked_starts_are_the_best_set(chance: list[float], apart: int) -> None:
    """Against the definition: no other set of starts far enough apart has more excess."""
    least = 0.4

    def excess(rows: Sequence[int]) -> float:
        return sum(chance[row] - least for row in rows)

    best = max(
        excess(rows)
        for count in range(len(chance))
        for rows in itertools.combinations(range(1, len(chance)), count)
        if all(b - a >= apart for a, b in itertools.pairwise(rows))
    )
    picked = pick_starts(np.array(chance), least, apart)
    assert picked[0] == 0
    assert all(b - a >= apart for a, b in itertools.pairwise(picked[1:]))
    assert excess(picked[1:]) == pytest.approx(best)
