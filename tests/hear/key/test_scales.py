"""Which course of scales is the likeliest. Source: the definition, all courses tried."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest

from basslint.hear.key.scales import scale_path

CHANGE = 3.0  # log-odds against a change
BARS, USED = 5, 4  # four scales in five bars: 1,024 courses


def likeliest(score: np.ndarray) -> list[int]:
    def weight(course: tuple[int, ...]) -> float:
        changes = sum(a != b for a, b in pairwise(course))
        return sum(row[k] for row, k in zip(score, course, strict=True)) - CHANGE * changes

    return list(max(product(range(USED), repeat=BARS), key=weight))


@pytest.mark.parametrize("contrast", [0.3, 1.0, 2.0, 4.0], ids=["one", "mostly", "often", "each"])
def test_the_likeliest_course(contrast: float) -> None:
    rng = np.random.default_rng(int(10 * contrast))
    for _ in range(6):
        score = np.full((BARS, 12), -99.0)
        score[:, :USED] = rng.normal(size=(BARS, USED)) * contrast
        assert scale_path(score).tolist() == likeliest(score)


def test_two_scales_that_share_the_song_beat_the_one_that_is_best_all_through() -> None:
    # 2 gained by each of two stretches, for one change between them
    score = np.full((BARS, 12), -99.0)
    score[:, 0] = 0.0
    score[:2, 1], score[2:, 1] = 1.0, -2.0
    score[:2, 2], score[2:, 2] = -2.0, 2 / 3
    assert scale_path(score).tolist() == likeliest(score) == [1, 1, 2, 2, 2]
