"""A loop of sound and the MIDI part beside it: which of the two is heard, and how surely?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from made_roots import made_roots

from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import LOOP, MIDI, Roots
from basslint.hear.harmony.together import heard_together

Row = tuple[int, int, int, float]  # start, end, root, certainty

BELOW, ABOVE = CERTAIN - 0.2, CERTAIN + 0.05


def layer(rows: Sequence[Row], source: int) -> Roots:
    start, end, root, certainty = zip(*rows, strict=True) if rows else ((), (), (), ())
    made = made_roots(start, end, list(root), source=source)
    return replace(made, certainty=np.array(certainty, dtype=np.float64))


def told(roots: Roots) -> list[tuple[int, int, int, str]]:
    ends = zip(roots.start.tolist(), roots.end.tolist(), roots.root.tolist(), strict=True)
    return [(s, e, r, roots.source_name(row)) for row, (s, e, r) in enumerate(ends)]


@pytest.mark.parametrize(
    ("loop", "midi", "expected"),
    [
        # one of them alone
        ([], [(0, 8, 2, 0.9)], [(0, 8, 2, "midi")]),
        ([(0, 8, 2, 0.5)], [], [(0, 8, 2, "loop")]),
        # MIDI speaks in the gaps
        ([(4, 8, 2, 0.5)], [(0, 12, 2, 0.4)],
         [(0, 4, 2, "midi"), (4, 8, 2, "loop"), (8, 12, 2, "midi")]),
        # a sure loop stands, however sure the part is
        ([(0, 8, 2, ABOVE)], [(0, 8, 3, 0.999)], [(0, 8, 2, "loop")]),
        # an unsure one gives way to a surer part, for as long as that speaks
        ([(0, 8, 2, BELOW)], [(2, 6, 3, ABOVE)],
         [(0, 2, 2, "loop"), (2, 6, 3, "midi"), (6, 8, 2, "loop")]),
        ([(0, 8, 2, BELOW)], [(0, 8, 3, BELOW - 0.1)], [(0, 8, 2, "loop")]),
        # no root is told of either where the loop moves, and a part without a root says nothing
        ([(0, 8, -1, 0.9)], [(0, 8, 3, 0.99)], [(0, 8, -1, "loop")]),
        ([(0, 8, 2, BELOW)], [(0, 8, -1, 0.99)], [(0, 8, 2, "loop")]),
        # stretches of one chord are not cut up by a part that agrees as unsurely
        ([(0, 8, 2, ABOVE)], [(0, 4, 2, BELOW), (4, 8, 2, 0.3)], [(0, 8, 2, "loop")]),
    ],
)  # fmt: skip
def test_which_of_the_two_is_heard(
    loop: Sequence[Row], midi: Sequence[Row], expected: list[tuple[int, int, int, str]]
) -> None:
    assert told(heard_together(layer(loop, LOOP), layer(midi, MIDI))) == expected


def test_two_that_agree_are_as_sure_as_the_surer() -> None:
    both = heard_together(layer([(0, 8, 2, BELOW)], LOOP), layer([(4, 8, 2, ABOVE)], MIDI))
    assert told(both) == [(0, 4, 2, "loop"), (4, 8, 2, "loop")]
    assert both.certainty.tolist() == pytest.approx([BELOW, ABOVE])


@pytest.mark.parametrize(("mine", "other", "left"), [
    (0.5, 0.5, 1 / 3),  # one, the other, or none of the two
    (0.8, 0.6, 8 / 13),  # .8 × .4 against .6 × .2 and .2 × .4, by hand
    (0.6, 0.8, 8 / 13),
    (0.8, 0.0, 0.8),  # who knows nothing takes nothing away, and adds nothing
])  # fmt: skip
def test_two_that_differ_leave_what_is_left_when_one_or_both_are_wrong(
    mine: float, other: float, left: float
) -> None:
    both = heard_together(layer([(0, 8, 2, mine)], LOOP), layer([(0, 8, 3, other)], MIDI))
    assert both.certainty.tolist() == pytest.approx([left])


def test_every_tick_is_told_once() -> None:
    draw = np.random.default_rng(11)
    for _ in range(50):
        layers = []
        for source in (LOOP, MIDI):
            edges = np.unique(draw.integers(0, 200, 20)).tolist()
            rows = [
                (a, b, int(draw.integers(-1, 4)), float(draw.random()))
                for a, b in pairwise(edges)
                if draw.random() < 0.7
            ]
            layers.append(layer(rows, source))
        both = heard_together(*layers)
        assert (both.start[1:] >= both.end[:-1]).all() and (both.end > both.start).all()
        covered = np.zeros(200, dtype=bool)
        for one in layers:
            for start, end in zip(one.start, one.end, strict=True):
                covered[start:end] = True
        assert int((both.end - both.start).sum()) == int(covered.sum())


def test_each_hearing_counts_as_far_as_it_is_sure() -> None:
    """Of how well a pitch class fits: (0.6 · 0.5 + 0.2 · 0.1) / 0.8."""
    loop, midi = layer([(0, 8, 2, 0.6)], LOOP), layer([(0, 8, 3, 0.2)], MIDI)
    loop, midi = (replace(r, fit=np.full((1, 12), f)) for r, f in ((loop, 0.5), (midi, 0.1)))
    assert heard_together(loop, midi).fit[0] == pytest.approx([0.4] * 12)


def test_a_chord_has_changed_when_it_is_felt_to_whoever_tells_it() -> None:
    """The loop's chord is felt from 2 on, the part's from 3; what goes on has begun before."""
    loop = replace(layer([(4, 16, 2, BELOW)], LOOP), since=np.array([2]))
    midi = replace(layer([(8, 12, 3, ABOVE)], MIDI), since=np.array([3]))
    both = heard_together(loop, midi)
    assert told(both) == [(4, 8, 2, "loop"), (8, 12, 3, "midi"), (12, 16, 2, "loop")]
    assert both.since.tolist() == [2, 8, 12]
