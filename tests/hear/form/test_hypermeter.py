"""Where fours of bars begin. Common practice, no source; the figures on songs that people marked
are in tests/bench/hearing_phrases.py."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from basslint.hear.form.hypermeter import four_bar_groups, four_bar_share, hear_four_bars
from basslint.hear.form.phrase_names import unnamed
from basslint.hear.form.phrases import Phrases


def phrases(bars: int, chances: dict[int, float], first: int = 0) -> Phrases:
    """Phrases of which only the chances matter here."""
    chance = np.zeros(bars + 1)
    chance[[first, bars]] = 1.0
    for bar, likely in chances.items():
        chance[bar] = likely
    one = np.array([1.0])
    return Phrases(
        start_bar=np.array([first]),
        end_bar=np.array([bars]),
        certainty=one,
        chance=chance,
        names=unnamed,
    )


def groups(heard: Phrases) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    return four_bar_groups(heard, four_bar_share(heard))


@pytest.mark.parametrize(
    ("bars", "chances", "expected"),
    [
        # nothing is known: fours from the first bar
        (16, {}, [0, 4, 8, 12]),
        # a tune that waits two bars hides one start; all others say the same
        (16, {4: 0.9, 6: 0.6, 8: 0.9, 12: 0.9}, [0, 4, 8, 12]),
        (16, {2: 0.56, 4: 0.35}, [0, 4, 8, 12]),
        # an intro of two bars, then fours
        (18, {2: 0.8, 6: 0.8, 10: 0.8, 14: 0.8}, [0, 2, 6, 10, 14]),
        # one bar more in the middle, and a start that is sure
        (17, {4: 0.8, 9: 0.99, 13: 0.8}, [0, 4, 8, 9, 13]),
        # a sure start always is one, whatever the others say
        (16, {4: 0.6, 6: 0.97, 8: 0.6, 12: 0.6}, [0, 4, 6, 8, 12]),
    ],
)
def test_where_fours_begin(bars: int, chances: dict[int, float], expected: list[int]) -> None:
    begin, end = groups(phrases(bars, chances))
    lines = [line for a, b in zip(begin, end, strict=True) for line in range(a, b, 4)]
    assert lines == expected


def test_lines_are_the_begins_of_groups_and_the_end_of_the_last() -> None:
    heard = hear_four_bars(phrases(19, {4: 0.8, 9: 0.99, 13: 0.8}, first=1))
    assert heard.lines.tolist() == [1, 5, 9, 13, 17, 19]
    none = np.zeros(0, dtype=np.int64)
    silent = Phrases(
        start_bar=none, end_bar=none, certainty=np.zeros(0), chance=np.zeros(3), names=unnamed
    )
    assert hear_four_bars(silent).lines.tolist() == []


@given(
    bars=st.integers(1, 80),
    chance=st.dictionaries(st.integers(1, 79), st.floats(0.0, 1.0)),
    first=st.integers(0, 5),
)
def test_fours_tile_the_phrases_and_move_with_them(
    bars: int, chance: dict[int, float], first: int
) -> None:
    inner = {bar: likely for bar, likely in chance.items() if bar < bars}
    begin, end = groups(phrases(bars, inner))
    assert begin[0] == 0 and end[-1] == bars and (begin[1:] == end[:-1]).all()
    assert (end > begin).all()
    later = {bar + first: likely for bar, likely in inner.items()}
    moved, _ = groups(phrases(bars + first, later, first))
    assert (moved - first).tolist() == begin.tolist()


def test_the_share_of_a_line_counts_the_starts_whole_fours_away() -> None:
    share = four_bar_share(phrases(16, {4: 0.8, 6: 0.2, 8: 0.8, 12: 0.8}))
    # around bar 8: .5 + .8 + .8 + .8 + .5 on fours, .2 beside
    assert share[8] == pytest.approx(3.4 / 3.6)
    assert share[6] == pytest.approx(0.2 / 3.1)
