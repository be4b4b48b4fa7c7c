"""Each cue speaks for what it should, all else being equal.

The directions are those of the literature on phrase perception: lengths of four and eight bars,
longer waits before a phrase, long last notes, whole repeats (Cambouropoulos 2001, local boundaries
by change; Lerdahl and Jackendoff 1983, grouping by proximity and parallelism; both from memory).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from basslint.hear.form import cues
from basslint.hear.form.bars import Bars

SIZE = 32


def plain(lead: bool = True) -> Bars:
    """Bars of two seconds in which everything plays and the lead waits a quarter before each."""
    return Bars(
        first=0,
        struck=SIZE - 1,
        layers=(),
        lead=np.ones(SIZE, dtype=bool) if lead else None,
        backing=np.ones((SIZE, 1), dtype=bool),
        gap=np.full(SIZE, 0.25),
        busy=np.full(SIZE, 0.25),
        seconds=np.full(SIZE, 2.0),
    )


def unlike() -> np.ndarray:
    """No bar like another."""
    return np.eye(SIZE, dtype=np.float32)


def with_repeat(at: int, again: int, bars: int) -> np.ndarray:
    """``bars`` bars from ``at`` on come again from ``again`` on."""
    alike = unlike()
    for k in range(bars):
        alike[at + k, again + k] = alike[again + k, at + k] = 1.0
    return alike


def phrase(bars: Bars, alike: np.ndarray, start: int, length: int) -> float:
    return float(cues.phrases(bars, 0, alike)[start, length - 1])


def test_what_would_pass_the_end_of_a_stretch_plays_and_repeats_no_further() -> None:
    active = np.arange(15).reshape(5, 3) % 4 > 0
    share = cues._share(active)
    for start in range(5):
        for bars in range(1, cues.LONGEST + 1):
            told = active[start : start + bars].sum(axis=0) / bars
            assert share[:, start, bars - 1] == pytest.approx(told)
    alike = np.ones((9, 9), dtype=np.float32)
    again, alone = (np.zeros((9, cues.LONGEST), dtype=np.float32) for _ in range(2))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cues, "_again", lambda similarity: (again, alone))
        inner = cues._repetition(alike) / cues.INNER_REPEAT * 4
    for start in range(9):
        for bars in range(1, cues.LONGEST + 1):
            told = bars - 4 if bars > 4 and start + bars <= 9 else 0
            assert inner[start, bars - 1] == pytest.approx(told)


@pytest.mark.parametrize(
    ("better", "worse"),
    [(4, 3), (4, 6), (8, 7), (8, 10), (8, 4), (9, 10), (5, 6), (16, 15), (12, 11)],
)
def test_usual_lengths_score_higher(better: int, worse: int) -> None:
    bars = plain()
    assert phrase(bars, unlike(), 4, better) > phrase(bars, unlike(), 4, worse)


def test_fours_and_eights_are_more_the_rule_where_bars_are_slow() -> None:
    fast, slow = plain(), replace(plain(), seconds=np.full(SIZE, 4.0))
    for length in (4, 8):
        assert phrase(slow, unlike(), 4, length) > phrase(fast, unlike(), 4, length)
    assert phrase(slow, unlike(), 4, 6) == pytest.approx(phrase(fast, unlike(), 4, 6))


@pytest.mark.parametrize("line", ["lead", "backing"])
def test_a_phrase_keeps_to_bars_in_which_the_same_lines_play(line: str) -> None:
    plays = np.arange(SIZE) >= 8
    bars = plain()
    bars = replace(bars, lead=plays) if line == "lead" else replace(bars, backing=plays[:, None])
    assert phrase(bars, unlike(), 8, 8) > phrase(bars, unlike(), 6, 8)


def test_phrases_without_the_lead_are_rare_where_it_is_usual() -> None:
    often = replace(plain(), lead=np.arange(SIZE) < 24)
    seldom = replace(plain(), lead=np.arange(SIZE) < 4)
    assert phrase(often, unlike(), 24, 8) < phrase(seldom, unlike(), 24, 8)
    assert phrase(seldom, unlike(), 24, 8) < phrase(plain(lead=False), unlike(), 24, 8)


def test_a_start_without_lead_is_one_introduction() -> None:
    bars = replace(plain(), lead=np.arange(SIZE) >= 8)
    whole = phrase(bars, unlike(), 0, 8)
    halves = phrase(bars, unlike(), 0, 4) + phrase(bars, unlike(), 4, 4)
    assert whole > halves
    late = replace(plain(), lead=np.arange(SIZE) >= 16)  # so long without lead, but not the start
    assert phrase(late, unlike(), 0, 8) > phrase(late, unlike(), 4, 8)


def test_what_comes_again_as_a_whole_is_a_phrase() -> None:
    again = with_repeat(4, 20, 8)
    assert phrase(plain(), again, 4, 8) > phrase(plain(), unlike(), 4, 8)
    # by its own ends, and still where the repeat is part of a longer one
    longer = with_repeat(2, 18, 12)
    assert phrase(plain(), unlike(), 4, 8) < phrase(plain(), longer, 4, 8)
    assert phrase(plain(), longer, 4, 8) < phrase(plain(), again, 4, 8)


def test_four_bars_twice_are_two_phrases() -> None:
    assert phrase(plain(), with_repeat(4, 8, 4), 4, 8) < phrase(plain(), unlike(), 4, 8)


@pytest.mark.parametrize(
    ("column", "value", "higher"), [("gap", 1.0, True), ("busy", 0.75, False)], ids=["wait", "busy"]
)
def test_the_lead_breathes_before_a_phrase(column: str, value: float, higher: bool) -> None:
    changed = np.array(getattr(plain(), column))
    changed[8] = value
    before = cues.starts(plain(), 0, unlike())
    after = cues.starts(replace(plain(), **{column: changed}), 0, unlike())
    gain = (after - before)[8] - (after - before)[[7, 9]].max()  # over the bars beside it
    assert gain > 0.2 if higher else gain < -0.2
    assert after[12] == pytest.approx(before[12])


def test_a_phrase_begins_where_a_repeat_goes_on_differently() -> None:
    score = cues.starts(plain(), 0, with_repeat(4, 20, 4))
    assert score[8] > score[12]
    assert score[24] > score[12]


def test_twins_of_likely_starts_are_likelier() -> None:
    same = cues.repeats(with_repeat(4, 20, 8))
    chance = np.zeros(SIZE)
    chance[4] = 1.0
    support = cues.twins(same, chance)
    assert support.argmax() == 20
    assert support[20] > 0.2
    assert abs(support[10]) < 1e-9


def test_bars_side_by_side_are_no_twins() -> None:
    same = cues.repeats(np.ones((SIZE, SIZE), dtype=np.float32))
    assert not np.diagonal(same).any()
    assert not np.diagonal(same, 1).any()
    assert np.diagonal(same, 2)[: SIZE - 5].min() == pytest.approx(1.0)
