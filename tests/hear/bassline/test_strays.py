"""Bars of a bass, or a hit, that lie beside their own places. Common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard, judged

from basslint.rulebook.loader import read_book

CHORDS = ("A3+C4+E4", "F3+A3+C4", "C4+E4+G4", "G3+B3+D4")
KEYS = f"keys  | {' | '.join(f'{chord}:4' for chord in CHORDS)} |*4"
DRUMS = "drums | C2:.75 C2:1.25 D2:.75 C2:1.25 |*16"
ROOTS = ("A1", "F1", "C2", "G1")
TRAP = (0, 3, 11)  # sixteenths of a bar
EIGHTHS = tuple(range(0, 16, 2))


def song(
    hits: dict[int, tuple[int, ...]],
    usual: tuple[int, ...] = TRAP,
    late: tuple[int, int, int] = (0, 0, 0),
    harmony: str = KEYS,
) -> str:
    """Sixteen bars, the root of each on each of ``usual``; some bars with other ``hits``.

    ``late``: bars from and to, and by how many sixteenths all in them is.
    """
    line = ["."] * 16 * 17
    for bar in range(16):
        for hit in hits.get(bar, usual):
            by = late[2] if late[0] <= bar < late[1] else 0
            line[16 * bar + hit + by] = ROOTS[bar % 4]
    bars = (" ".join(f"{slot}:.25" for slot in line[at : at + 16]) for at in range(0, 256, 16))
    return f"tempo 140\n{harmony}\n{DRUMS}\nsub | {' | '.join(bars)} |"


def told(text: str) -> list[tuple[float, int, int]]:
    """How many quarters late, and from which bar to which, counted from 0."""
    chart = heard(text)
    moved, grid = chart.displacements, chart.song.grid
    first = grid.bar_of(moved.start - moved.ticks)
    last = grid.bar_of(moved.end - 1 - moved.ticks)
    quarters = moved.ticks / chart.song.division
    return list(zip(quarters.tolist(), first.tolist(), last.tolist(), strict=True))


@pytest.mark.parametrize("late", [-2, -1, 1, 2])
def test_four_bars_beside_their_places_are_told_with_how_far(late: int) -> None:
    assert told(song({}, late=(8, 12, late))) == [(late / 4, 8, 11)]


def test_a_line_in_its_place_is_silent() -> None:
    assert told(song({})) == []


@pytest.mark.parametrize("late", [3, 4])
def test_more_than_an_eighth_is_not_tried(late: int) -> None:
    assert told(song({}, late=(8, 12, late))) == []


def test_a_figure_that_eight_bars_have_is_a_second_figure() -> None:
    moved = tuple(hit + 1 for hit in TRAP)
    assert told(song(dict.fromkeys((2, 3, 6, 7, 10, 11, 14, 15), moved))) == []


def test_bars_with_other_hits_are_a_variation() -> None:
    assert told(song(dict.fromkeys(range(8, 12), (0, 6, 10, 14)))) == []


def test_a_push_of_all_is_meant() -> None:
    """The chords come with the bass: they meet it where it stands."""
    chords = [CHORDS[bar % 4] for bar in range(16)]
    bars = [f".:.5 {c}:3.5" if 8 <= bar < 12 else f"{c}:4" for bar, c in enumerate(chords)]
    late = song({}, late=(8, 12, 2), harmony=f"keys | {' | '.join(bars)} |")
    assert told(late.replace(DRUMS, "")) == []
    assert told(song({}, late=(8, 12, 2)).replace(DRUMS, "")) == [(0.5, 8, 11)]


@pytest.mark.parametrize(("late", "found"), [(2, [(0.5, 8, 11)]), (-2, [])])
def test_even_eighths_are_told_by_their_changes_of_tone(
    late: int, found: list[tuple[float, int, int]]
) -> None:
    """Late ones: a root that comes an eighth early is a push."""
    line = song({}, EIGHTHS)
    assert told(line) == []
    lines = line.splitlines()
    roots = [root for bar in range(16) for root in [ROOTS[bar % 4]] * 8]
    moved = roots[64 - late // 2 : 96 - late // 2]
    roots[64:96] = moved
    bars = (" ".join(f"{r}:.25 .:.25" for r in roots[at : at + 8]) for at in range(0, 128, 8))
    lines[-1] = f"sub | {' | '.join(bars)} |"
    assert told("\n".join(lines)) == found


@pytest.mark.parametrize("by", [1, 2])
def test_a_hit_that_one_bar_has_late_is_told(by: int) -> None:
    late = {9: (by, *TRAP[1:])}
    assert told(song(late)) == [(by / 4, 9, 9)]
    assert told(song({**late, 5: late[9]})) == []  # twice is a variation


@pytest.mark.parametrize("bar", [0, 15])
def test_a_line_enters_and_ends_as_it_likes(bar: int) -> None:
    assert told(song({bar: (1, *TRAP[1:])})) == []


def test_an_early_hit_is_a_push() -> None:
    assert told(song({9: (0, 2, 11)})) == []


def test_a_hit_with_which_others_come_or_that_none_misses_is_meant() -> None:
    late = song({9: (1, *TRAP[1:])})
    with_it = [DRUMS.split("|")[1]] * 16
    with_it[9] = " .:.25 C2:.5 C2:1.25 D2:.75 C2:1.25 "
    assert told(late.replace(DRUMS, f"drums |{'|'.join(with_it)}|").replace("keys", "pad")) == []
    assert len(told(late)) == 1
    assert told(song({9: (0, 9, 11)}, (0, 8, 11))) == []


def test_a_hit_that_two_bars_have_late_is_a_variation() -> None:
    """In 32 bars two are still seldom."""
    head, rest = song({}).replace("|*4", "|*8").replace("|*16", "|*32").split("sub | ")
    late = (1, *TRAP[1:])
    for hits, found in (({9: late}, [(0.25, 9, 9)]), ({9: late, 13: late}, [])):
        assert told(f"{head}sub | {song(hits).split('sub | ')[1]} {rest}") == found


@pytest.mark.parametrize(
    "hits",
    [
        (0, 1, 3, 11),  # struck where it is due, too: one hit more
        (1, 4, 11),  # two late
        (1, 3, 7, 11),  # and one more
        (1, 11),  # and one less
        (1, 3, 5, 7, 8),  # a turn: its hits stand between the eighths of other parts
    ],
)
def test_a_bar_of_another_rhythm_is_a_turn(hits: tuple[int, ...]) -> None:
    assert told(song({9: hits})) == []


THREES, TENS, TWOS, ONES = (0, 3, 11), (0, 10, 11), (0, 2, 11), (0, 1, 11)  # sixteenths


@pytest.mark.parametrize(
    ("other", "hits", "keys", "found"),
    [
        (TENS, (1, 3, 11), (0, 2, 4), []),  # keys, bass, keys, bass
        (TENS, (0, 10, 12), (0, 9, 11), []),  # the late hit is the last of them
        (TENS, (1, 3, 11), (0, 4), [(0.25, 9, 9)]),  # no keys between the two
        (TENS, (1, 3, 11), (0, 2, 3), [(0.25, 9, 9)]),  # keys come with the other
        (TENS, (1, 3, 11), (2, 4), [(0.25, 9, 9)]),  # none before the late hit
        (TENS, (1, 11), (0, 2, 4), [(0.25, 9, 9)]),  # no other hit
        (TWOS, (1, 2, 3, 11), (0, 2, 4), [(0.25, 9, 9)]),  # the bass strikes with the keys
        (THREES, (1, 3, 11), (0, 2, 4), [(0.25, 9, 9)]),  # the other hit stands there in any bar
        (ONES, (1, 3, 11), (0, 4), []),  # the late hit does in every other bar
    ],
)
def test_a_bass_that_strikes_in_turn_with_the_keys_is_meant(
    other: tuple[int, ...],
    hits: tuple[int, ...],
    keys: tuple[int, ...],
    found: list[tuple[float, int, int]],
) -> None:
    chords = [f"{CHORDS[bar % 4]}:4" for bar in range(16)]
    slots = (f"{CHORDS[1]}:.25" if slot in keys else ".:.25" for slot in range(16))
    chords[9] = " ".join(slots)
    line = {**dict.fromkeys(range(0, 16, 2), other), 9: hits}
    assert told(song(line, harmony=f"keys | {' | '.join(chords)} |")) == found


def test_what_keeps_another_distance_to_the_grid_was_moved_otherwise() -> None:
    """Three eighths of a sixteenth short of it: what moved it is no sixteenth."""
    text = song({}, late=(8, 12, 1))
    chart = heard(text)
    bass = chart.bass
    inside = (bass.start >= 8 * 1920) & (bass.start < 12 * 1920)
    bass.start[inside] -= 45
    assert len(chart.displacements.part) == 0
    assert len(heard(text).displacements.part) == 1


def test_they_are_findings_whose_fixes_bring_them_back() -> None:
    book = read_book()
    for text, words, title in (
        (
            song({}, late=(8, 12, 2)),
            "Sub lies an eighth late in bars 9 to 12",
            "Move these 12 notes of sub an eighth earlier",
        ),
        (
            song({9: (1, *TRAP[1:])}),
            "Sub strikes a sixteenth late, here alone: 100 % of its other bars have it on beat 1",
            "Move the hit a sixteenth earlier",
        ),
    ):
        (only,) = [f for f in judged(text, book).findings if f.family in ("harmony", "low-end")]
        assert (only.rule, only.level) == ("bass-misplaced", "warning")
        assert only.message.startswith(words)
        assert only.fix is not None and (only.fix.kind, only.fix.title) == ("by-ear", title)
        places = np.array([edit.after or 0 for edit in only.fix.edits]) % 1920
        assert set((places // 120).tolist()) <= set(TRAP)


FIGURES = ((0, 3, 11), (0, 6, 10), (0, 4, 14), (0, 7, 13))


def test_a_line_of_several_figures_is_told_by_their_copies() -> None:
    """No place but the first is struck in many bars; moved, they are copies of others."""
    line = {bar: FIGURES[bar // 4 % 4] for bar in range(16)}
    assert told(song(line)) == []
    for bars in ((9, 12), (4, 7)):
        alone = {bar: FIGURES[(bar - bars[0] + 1) % 3] for bar in range(*bars)}
        found = told(song({**{b: FIGURES[b % 3] for b in range(16)}, **alone}, late=(*bars, 1)))
        assert found == [(0.25, bars[0], bars[1] - 1)]


@pytest.mark.parametrize(
    ("late", "figures"),
    [
        (1, ((0, 5, 9), (2, 6, 14), (3, 7, 12))),
        (2, ((0, 5, 9), (2, 6, 10), (3, 7, 12))),
        (-1, ((4, 9, 12), (0, 6, 10), (0, 7, 15))),
        (-2, ((4, 9, 12), (0, 6, 10), (0, 7, 15))),
    ],
)
def test_what_stands_in_its_place_beside_a_stretch_is_none_of_its_hits(
    late: int, figures: tuple[tuple[int, ...], ...]
) -> None:
    """Moved back, its last bar would meet the first hit behind it; or its first the last before."""
    line = {bar: figures[bar % 3] for bar in range(16)}
    assert told(song(line)) == []
    assert told(song(line, late=(9, 12, late))) == [(late / 4, 9, 11)]


def test_bars_that_stand_where_others_strike_oftener_than_they_would_moved_stay() -> None:
    """Moved, they would be copies of two bars, that strike where no other does."""
    figures = ((0, 4, 14), (0, 8, 10), (0, 6, 12))
    line = {bar: figures[bar % 3] for bar in range(16)}
    line |= dict.fromkeys((2, 5), (3, 7, 11)) | dict.fromkeys((8, 9, 10), (4, 8, 12))
    assert told(song(line)) == []
    seldom = {**line, **dict.fromkeys((1, 3, 4), (0, 3, 7)), **dict.fromkeys((6, 12), (0, 7, 11))}
    assert told(song(seldom)) == [(0.25, 8, 10)]
