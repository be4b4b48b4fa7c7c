"""Roots from several sources: stated chords over bars, and layers of which the upper one wins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from beats import heard
from made_roots import made_roots

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts, StatedChords
from basslint.hear.harmony.sources import LOOP, MIDI, STATED, Roots, joined, laid_over, no_roots
from basslint.hear.harmony.stated import stated_roots
from basslint.theory.chord_symbols import read_chords

BAR = 4 * 480
DRUMS = "tempo 140\nkick | C2:1 C2:1 C2:1 C2:1 |*8\n"


def stated(*lines: tuple[int, str]) -> tuple[StatedChords, ...]:
    return tuple(StatedChords(bar, read_chords(text, "chords")) for bar, text in lines)


def roots_under(text: str, *lines: tuple[int, str]) -> Roots:
    return stated_roots(heard(text).song.grid, stated(*lines))


def bars_and_roots(roots: Roots) -> list[tuple[float, float, int]]:
    ends = zip(roots.start / BAR + 1, roots.end / BAR + 1, roots.root.tolist(), strict=True)
    return [(float(start), float(end), root) for start, end, root in ends]


def with_chords(text: str, *lines: tuple[int, str]) -> Chart:
    plain = heard(text)
    return Chart(plain.song, Facts(chords=stated(*lines)))


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        ([(1, "D Bb")], [(b, b + 1, (2, 10)[(b - 1) % 2]) for b in range(1, 9)]),
        ([(1, "D*2 Bb*2 C*4")], [(1, 3, 2), (3, 5, 10), (5, 9, 0)]),
        ([(1, "D*3")], [(1, 9, 2)]),
        ([(1, "D*1/2 C*3.5")], [(1, 1.5, 2), (1.5, 5, 0), (5, 5.5, 2), (5.5, 9, 0)]),
        ([(1, "D*3"), (5, "F*2 C")], [(1, 5, 2), (5, 7, 5), (7, 8, 0), (8, 9, 5)]),
        ([(5, "F*2 C"), (1, "D*3")], [(1, 5, 2), (5, 7, 5), (7, 8, 0), (8, 9, 5)]),
        ([(3, "D*4 N.C.")], [(3, 7, 2), (7, 8, -1), (8, 9, 2)]),
        ([(20, "D")], []),
    ],
)
def test_chords_go_on_one_a_bar_and_over_again(
    lines: list[tuple[int, str]], expected: list[tuple[float, float, int]]
) -> None:
    assert bars_and_roots(roots_under(DRUMS, *lines)) == expected


def test_lengths_are_of_the_bar_whatever_its_meter() -> None:
    roots = roots_under("tempo 140\nmeter 3/4\nkick | C2:1 C2:1 C2:1 |*4\n", (1, "D*1/3 A*2/3"))
    assert roots.start[:4].tolist() == [0, 480, 1440, 1920]


def test_stated_chords_are_certain_and_name_their_tones() -> None:
    roots = roots_under(DRUMS, (1, "Dm7 Bb/D"))
    assert roots.certainty.tolist() == [1.0] * 8
    assert roots.quality_name(0) == "minor-7"
    assert np.flatnonzero(roots.tones[0]).tolist() == [0, 3, 7, 10]
    assert roots.bass[:2].tolist() == [-1, 2]
    assert roots.fit[1, [10, 2, 5, 1]].tolist() == [1.0, 1.0, 0.1, 0.0]
    assert {roots.source_name(i) for i in range(8)} == {"stated"}


@pytest.mark.parametrize(
    ("text", "quality"),
    [("D Bb C", ""), ("D Bb N.C.", ""), ("Dm Bb C", "minor"), ("D Bb C7", "major")],
)
def test_only_where_no_chord_says_more_are_they_roots_alone(text: str, quality: str) -> None:
    roots = roots_under(DRUMS, (1, text))
    assert roots.quality_name(0) == quality
    assert roots.bare[:2].tolist() == [not quality] * 2
    assert bool(roots.tones[1, 4]) == bool(quality)  # the third of Bb


def test_chords_of_other_kinds_have_their_own_tones() -> None:
    roots = roots_under(DRUMS, (1, "C6 C7b5"))
    assert np.flatnonzero(roots.tones[0]).tolist() == [0, 4, 7, 9]
    assert roots.quality_name(0) == "major"  # the fullest that is within
    assert np.flatnonzero(roots.tones[1]).tolist() == [0, 4, 6, 10]
    assert roots.quality_name(1) == ""
    assert not roots.bare[1]


def layer(rows: Sequence[tuple[int, int, int]], source: int) -> Roots:
    start, end, root = zip(*rows, strict=True) if rows else ((), (), ())
    return made_roots(start, end, list(root), source=source)


@pytest.mark.parametrize(
    ("upper", "lower", "expected"),
    [
        ([], [(0, 4, 1)], [(0, 4, 1)]),
        ([(0, 4, 1)], [], [(0, 4, 1)]),
        ([(0, 9, 1)], [(2, 4, 2)], [(0, 9, 1)]),
        ([(4, 6, 1)], [(0, 10, 2)], [(0, 4, 2), (4, 6, 1), (6, 10, 2)]),
        ([(4, 6, 1)], [(0, 4, 2), (6, 8, 3)], [(0, 4, 2), (4, 6, 1), (6, 8, 3)]),
        ([(2, 4, 1), (6, 8, 1)], [(0, 3, 2), (3, 7, 3), (7, 9, 4)],
         [(0, 2, 2), (2, 4, 1), (4, 6, 3), (6, 8, 1), (8, 9, 4)]),
        ([(2, 4, -1)], [(0, 9, 3)], [(0, 2, 3), (2, 4, -1), (4, 9, 3)]),
    ],
)  # fmt: skip
def test_the_upper_layer_wins_and_the_lower_fills_its_gaps(
    upper: list[tuple[int, int, int]],
    lower: list[tuple[int, int, int]],
    expected: list[tuple[int, int, int]],
) -> None:
    both = laid_over(layer(upper, STATED), layer(lower, MIDI))
    rows = zip(both.start.tolist(), both.end.tolist(), both.root.tolist(), strict=True)
    assert list(rows) == expected
    stated_rows = {(s, e) for s, e, _ in upper}
    for start, end, source in zip(both.start, both.end, both.source, strict=True):
        assert (source == STATED) == ((int(start), int(end)) in stated_rows)


def test_layers_against_a_walk_over_every_tick() -> None:
    draw = np.random.default_rng(7)

    def random_layer(source: int) -> Roots:
        edges = np.unique(draw.integers(0, 200, 20))
        rows = [(int(a), int(b), int(draw.integers(0, 12))) for a, b in pairwise(edges)]
        return layer([r for r in rows if draw.random() < 0.6], source)

    def walk(roots: Roots) -> list[int]:
        at = [-9] * 200
        for s, e, r in zip(roots.start, roots.end, roots.root, strict=True):
            at[s:e] = [int(r)] * int(e - s)
        return at

    for _ in range(50):
        upper, lower = random_layer(STATED), random_layer(MIDI)
        expected = [u if u != -9 else w for u, w in zip(walk(upper), walk(lower), strict=True)]
        assert walk(laid_over(upper, lower)) == expected


def test_what_is_stated_wins_and_what_is_heard_fills_the_rest() -> None:
    keys = "keys | C4+E4+G4:4 | F3+A3+C4:4 |*4\n"
    chart = with_chords("tempo 140\n" + keys, (5, "Dm"))
    assert bars_and_roots(chart.roots)[-1] == (5, 9, 2)
    assert chart.roots.root[:4].tolist() == [0, 5, 0, 5]
    assert [chart.roots.source_name(i) for i in range(5)] == [*["midi"] * 4, "stated"]
    assert len(chart.heard_roots) == 8


def test_no_chord_is_silence_even_where_something_sounds() -> None:
    chart = with_chords("tempo 140\nkeys | C4+E4+G4:4 |*8\n", (1, "C*7 N.C."))
    assert chart.roots.root.tolist() == [0, -1]


def test_nothing_stated_is_no_layer() -> None:
    chart = heard("tempo 140\nkeys | C4+E4+G4:4 |*8\n")
    assert len(chart.stated_roots) == 0
    assert laid_over(no_roots(), chart.heard_roots) is chart.heard_roots
    assert chart.roots.source.tolist() == [MIDI]


@pytest.mark.parametrize(
    ("root", "quality", "name"),
    [(0, "minor", "minor"), (0, "major", "major"), (11, "minor-7", "minor-7"), (-1, "major", "")],
)
def test_a_quality_is_named_wherever_there_is_a_root(root: int, quality: str, name: str) -> None:
    assert made_roots([0], [4], [root], [quality]).quality_name(0) == name


def test_a_root_began_where_its_first_chord_did() -> None:
    """Am goes on as Am7; F comes back after a pause, and stands over A from then on."""
    qualities = ["minor", "minor-7", "major", "major", "major"]
    roots = made_roots([0, 4, 8, 14, 16], [4, 8, 12, 16, 20], [9, 9, 5, 5, 5], qualities)
    slash = replace(roots, bass=np.array([-1, -1, -1, -1, 9], dtype=np.int8))
    assert slash.began.tolist() == [0, 0, 2, 3, 4]


@pytest.mark.parametrize(
    ("second", "only", "ends", "certainty"),
    [
        ((1, 4, 2, MIDI), None, [4], [0.6]),  # (0.9 · 1 + 0.5 · 3) / 4
        ((1, 4, 2, LOOP), None, [1, 4], [0.9, 0.5]),  # of another source
        ((1, 4, 3, MIDI), None, [1, 4], [0.9, 0.5]),  # on another root
        ((2, 4, 2, MIDI), None, [1, 4], [0.9, 0.5]),  # after a pause
        ((1, 4, 2, MIDI), False, [1, 4], [0.9, 0.5]),
    ],
)
def test_stretches_of_one_chord_are_joined_by_their_time(
    second: tuple[int, int, int, int], only: bool | None, ends: list[int], certainty: list[float]
) -> None:
    start, end, root, source = second
    both = made_roots([0, start], [1, end], [2, root])
    sure = np.array([0.9, 0.5])
    both = replace(
        both,
        source=np.array([MIDI, source], dtype=np.int8),
        certainty=sure,
        fit=np.repeat(sure[:, None], 12, axis=1),
    )
    whole = joined(both, None if only is None else np.array([only]))
    assert whole.end.tolist() == ends
    assert whole.certainty == pytest.approx(certainty)
    assert whole.fit[:, 3] == pytest.approx(certainty)


def test_what_is_left_of_a_lower_layer_began_no_earlier_than_it_shows() -> None:
    lower = made_roots([8], [20], [2], since=[6])
    both = laid_over(layer([(4, 12, 1)], STATED), lower)
    assert both.since.tolist() == [4, 12]
    assert laid_over(layer([(0, 4, 1)], STATED), lower).since.tolist() == [0, 6]
