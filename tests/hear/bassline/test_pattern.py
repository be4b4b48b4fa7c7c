"""Bass patterns. Expected names are common practice, no source."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from bass_lines import (
    LOOP,
    ON_A,
    Chord,
    Note,
    a_minor,
    bars_of,
    functions_in,
    pattern_of,
    roots_of,
    song_of,
)

from basslint.hear.bassline.pattern import KINDS


def kinds_of(
    notes: Sequence[Note], chords: Sequence[Chord], bars: int, *edges: int
) -> list[tuple[int, int, str]]:
    song = song_of(notes, bars)
    heard = pattern_of(song, roots_of(chords), *(edges or (0, bars)))
    assert all(kind in KINDS for kind in heard.kind)
    assert ((heard.certainty >= 0) & (heard.certainty <= 1)).all()
    return list(zip(heard.start_bar.tolist(), heard.end_bar.tolist(), heard.kind, strict=True))


CASES: list[tuple[str, list[Note], list[Chord], str]] = [
    ("one root", bars_of(*[[33, 33, 33, 33]] * 8), ON_A, "root-pedal"),
    ("one root under all chords", bars_of(*[33] * 8), LOOP, "root-pedal"),
    ("one note held all through", [(0, 32, 33)], LOOP, "root-pedal"),
    ("each root", bars_of(33, 29, 36, 31, 33, 29, 36, 31), LOOP, "root-follow"),
    ("each root, struck", bars_of(*[[p] * 4 for p in (33, 29, 36, 31)] * 2), LOOP, "root-follow"),
    (
        "each root, an approach note at the end of each bar",
        bars_of(*[[33] * 7 + [28], [29] * 7 + [35], [36] * 7 + [30], [31] * 7 + [32]] * 2),
        LOOP,
        "root-follow",
    ),
    ("root and octave", bars_of(*[[33, 33, 45, 33]] * 8), ON_A, "octave"),
    (
        "each root and its octave",
        bars_of(*[[p, p + 12] for p in (33, 29, 36, 31)] * 2),
        LOOP,
        "octave",
    ),
    ("root and fifth", bars_of(*[[33, 33, 40, 33]] * 8), ON_A, "two-note"),
    ("root and the note below", bars_of(*[[33, 33, 33, 31]] * 8), ON_A, "two-note"),
    (
        "each root and its fifth",
        bars_of(*[[p, p + 7] for p in (33, 29, 36, 31)] * 2),
        LOOP,
        "two-note",
    ),
    (
        "two notes without regard to the chords",
        bars_of(*[[33, 33, 33, 36]] * 8),
        LOOP,
        "two-note",
    ),
    (
        "four bars, a step down, a step down",
        bars_of(33, 33, 33, 33, 31, 31, 29, 29),
        ON_A,
        "stepwise",
    ),
    (
        "the same with the chords",
        bars_of(33, 33, 33, 33, 31, 31, 29, 29),
        [(16, "Am"), (8, "G"), (8, "F")],
        "stepwise",
    ),
    ("the same going up", bars_of(33, 33, 33, 33, 35, 35, 36, 36), ON_A, "stepwise"),
    (
        "twice as fast",
        bars_of(*[33, 33, 31, 29] * 2),
        [(8, "Am"), (4, "G"), (4, "F")] * 2,
        "stepwise",
    ),
    (
        "stepwise, struck, with a rest in the second bar",
        [
            n
            for n in bars_of(*[[p] * 4 for p in (33, 33, 33, 33, 31, 31, 29, 29)])
            if not 4 <= n[0] < 8
        ],
        ON_A,
        "stepwise",
    ),
    (
        "leaps all over",
        bars_of(*[[33, 38, 35, 42], [30, 37, 32, 40]] * 4),
        ON_A,
        "mixed",
    ),
    ("one note that is the root of nothing", bars_of(*[34] * 8), LOOP, "mixed"),
    ("roots a semitone off", bars_of(*[34, 30, 37, 32] * 2), LOOP, "mixed"),
    (
        "two roots, both a tone off",
        bars_of(35, 31, 35, 31, 35, 31, 35, 31),
        [(4, "Am"), (4, "F")] * 4,
        "mixed",
    ),
    (
        "a tonic pedal where its chord is far",
        bars_of(*[33] * 8),
        [(4, "Am"), *[(4, "F"), (4, "G")] * 3, (4, "F")],
        "root-pedal",
    ),
    (
        "each root, an eighth early",
        [(max(2 * i - 0.5, 0), 2 * i + 1.4, (33, 29)[i % 2]) for i in range(16)],
        [(2, "Am"), (2, "F")] * 8,
        "root-follow",
    ),
    ("one note, no roots told", bars_of(*[33] * 8), [(32, "-")], "root-pedal"),
]


@pytest.mark.parametrize(
    ("notes", "chords", "kind"), [c[1:] for c in CASES], ids=[c[0] for c in CASES]
)
def test_a_line_of_one_pattern_is_told_as_that(
    notes: list[Note], chords: list[Chord], kind: str
) -> None:
    assert kinds_of(notes, chords, 8) == [(0, 8, kind)]


@pytest.mark.parametrize("shift", range(12))
def test_kinds_do_not_depend_on_the_key(shift: int) -> None:
    for _, notes, chords, kind in CASES:
        song, roots = song_of([(s, e, p + shift) for s, e, p in notes], 8), roots_of(chords)
        moved = np.where(roots.root >= 0, (roots.root + shift) % 12, -1).astype(np.int8)
        roots = replace(roots, root=moved)
        assert pattern_of(song, roots, 0, 8).kind == (kind,)


def test_patterns_change_with_the_phrases_and_rests_have_none() -> None:
    notes = bars_of(*[33] * 6, *[[31, 43]] * 4)
    notes += [(s + 56, e + 56, p) for s, e, p in bars_of(33, 31, 29, 28)]
    chords: list[Chord] = [
        (24, "Am"),
        (16, "G"),
        (16, "Am"),
        (4, "Am"),
        (4, "G"),
        (4, "F"),
        (4, "C"),
    ]
    assert kinds_of(notes, chords, 18, 0, 6, 10, 14, 18) == [
        (0, 6, "root-pedal"),
        (6, 10, "octave"),
        (14, 18, "mixed"),
    ]


def test_down_and_up_again_is_no_stepwise_line() -> None:
    line = bars_of(33, 33, 33, 33, 31, 31, 33, 33)
    assert kinds_of(line, ON_A, 8) == [(0, 4, "root-pedal"), (4, 8, "two-note")]


def test_certainty_falls_with_what_the_pattern_leaves_over_and_with_the_roots() -> None:
    song = song_of(bars_of(33, 29, 36, 31), 4)
    sure = roots_of(LOOP[:4])
    unsure = replace(sure, certainty=sure.certainty / 2)
    by_roots = [float(pattern_of(song, r, 0, 4).certainty[0]) for r in (sure, unsure)]
    assert by_roots == pytest.approx([0.95, 0.475])
    # one sixteenth of the time is another note: 15/16 are explained
    song = song_of(bars_of(*[[33] * 15 + [34]] * 4), 4)
    heard = pattern_of(song, roots_of(ON_A), 0, 4)
    assert heard.kind == ("root-pedal",)
    assert float(heard.certainty[0]) == pytest.approx(15 / 16)


def test_a_stepwise_line_may_take_two_phrases_of_four_bars() -> None:
    line = bars_of(33, 33, 33, 33, 31, 31, 29, 29)
    assert kinds_of(line, ON_A, 8, 0, 4, 8) == [(0, 8, "stepwise")]


@pytest.mark.parametrize("bar", range(8))
def test_one_slip_of_a_bar_leaves_a_stepwise_line_one(bar: int) -> None:
    """And the slip itself, though it stands in the scale, is none of the line's notes."""
    pitches = [33, 33, 33, 33, 31, 31, 29, 29] * 2
    pitches[bar] = 35
    song, roots = song_of(bars_of(*pitches), 16), roots_of(ON_A * 2)
    heard = pattern_of(song, roots, 0, 8, 16)
    assert heard.kind == ("stepwise",)
    functions = functions_in(song, roots, a_minor(16), heard)
    assert functions[bar] == "other"
    assert "other" not in functions[:bar] + functions[bar + 1 :]


@pytest.mark.parametrize("early", [0.0, 0.03, 0.12])
def test_notes_played_a_little_early_belong_to_the_bar_that_follows(early: float) -> None:
    line = bars_of(33, 33, 33, 33, 31, 31, 29, 29)
    pushed = [(s - early if s in (16, 24) else s, e, p) for s, e, p in line]
    assert kinds_of(pushed, ON_A, 8) == [(0, 8, "stepwise")]
    heard = pattern_of(song_of(pushed, 8), roots_of(ON_A), 0, 8)
    functions = functions_in(song_of(pushed, 8), roots_of(ON_A), a_minor(8), heard)
    assert functions == ["root"] * 4 + ["stepwise-line"] * 4


def test_row_at_finds_the_stretch_of_a_bar() -> None:
    song = song_of(bars_of(33, 33, 33, 33), 8)
    heard = pattern_of(song, roots_of(ON_A), 0, 8)
    assert heard.row_at(np.array([0, 3, 4, 7])).tolist() == [0, 0, -1, -1]


def test_no_bass_no_pattern() -> None:
    song = song_of([], 4)
    heard = pattern_of(song, roots_of(LOOP), 0, 4)
    assert len(heard) == 0
    assert heard.row_at(np.array([0])).tolist() == [-1]
    assert functions_in(song, roots_of(LOOP), a_minor(4), heard) == []


def test_a_stepwise_line_may_begin_four_bars_into_a_phrase() -> None:
    line = bars_of([33, 45], [33, 45], [33, 45], [33, 45], 33, 33, 33, 33, 31, 31, 29, 29)
    assert kinds_of(line, [(48, "Am")], 12) == [(0, 4, "octave"), (4, 12, "stepwise")]
    # but not from within a phrase across its edge
    assert kinds_of(line, [(48, "Am")], 12, 0, 8, 12)[1] == (4, 8, "root-pedal")
