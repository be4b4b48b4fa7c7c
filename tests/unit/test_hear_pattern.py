"""Bass patterns and what each bass note does. Expected names are common practice, no source,
unless a test names one."""

from __future__ import annotations

import io
from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import mido
import music21
import numpy as np
import pytest

from basslint.hear.chords import QUALITIES
from basslint.hear.key import Keys
from basslint.hear.pattern import FUNCTIONS, KINDS, hear_pattern, note_functions
from basslint.hear.roots import Roots
from basslint.smf.scan import scan
from basslint.song import Song, build

TPQ = 96
BAR = 4 * TPQ
Note = tuple[float, float, int]  # start and end in quarters, pitch
Chord = tuple[float, str]  # length in quarters, chord such as "Am"

_NAMES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11, "F#": 6, "C#": 1, "Bb": 10}


def song_of(notes: Sequence[Note], bars: int) -> Song:
    track = mido.MidiTrack()
    edges = [(round(s * TPQ), 1, p) for s, _, p in notes]
    edges += [(round(e * TPQ), 0, p) for _, e, p in notes]
    now = 0
    for tick, on, pitch in sorted(edges):
        message = mido.Message("note_on" if on else "note_off", note=pitch, time=tick - now)
        track.append(message)
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(bars * BAR - now, 0)))
    midi = mido.MidiFile(ticks_per_beat=TPQ, tracks=[track])
    out = io.BytesIO()
    midi.save(file=out)
    return build(scan(out.getvalue()))


def roots_of(chords: Sequence[Chord]) -> Roots:
    ends = np.cumsum([round(length * TPQ) for length, _ in chords]).astype(np.int64)
    names = [name for _, name in chords]
    root = [-1 if n == "-" else _NAMES[n.removesuffix("m")] for n in names]
    quality = [QUALITIES.index("minor" if n.endswith("m") else "major") for n in names]
    return Roots(
        np.append(0, ends[:-1]).astype(np.int64),
        ends,
        np.array(root, dtype=np.int8),
        np.array(quality, dtype=np.int8),
        np.full(len(names), 0.95),
    )


def a_minor(bars: int) -> Keys:
    scale = np.zeros((1, 12), dtype=bool)
    scale[0, [9, 11, 0, 2, 4, 5, 7]] = True
    return Keys(
        np.array([0]), np.array([bars * BAR]), np.array([9], np.int8), ("minor",), scale, np.ones(1)
    )


def phrases(*edges: int) -> Any:
    return SimpleNamespace(start_bar=np.array(edges[:-1]), end_bar=np.array(edges[1:]))


def kinds_of(
    notes: Sequence[Note], chords: Sequence[Chord], bars: int, *edges: int
) -> list[tuple[int, int, str]]:
    song = song_of(notes, bars)
    heard = hear_pattern(song, song.notes, roots_of(chords), phrases(*(edges or (0, bars))))
    assert all(kind in KINDS for kind in heard.kind)
    assert ((heard.certainty >= 0) & (heard.certainty <= 1)).all()
    return list(zip(heard.start_bar.tolist(), heard.end_bar.tolist(), heard.kind, strict=True))


def functions_of(notes: Sequence[Note], chords: Sequence[Chord], bars: int) -> list[str]:
    song, roots = song_of(notes, bars), roots_of(chords)
    pattern = hear_pattern(song, song.notes, roots, phrases(0, bars))
    found = note_functions(song, song.notes, roots, a_minor(bars), pattern)
    return [FUNCTIONS[f] for f in found.tolist()]


def bars_of(*pitches: int | Sequence[int]) -> list[Note]:
    """One entry a bar: a pitch held for the bar, or pitches of equal length."""
    notes: list[Note] = []
    for bar, entry in enumerate(pitches):
        line = [entry] if isinstance(entry, int) else list(entry)
        step = 4 / len(line)
        notes += [
            (4 * bar + i * step, 4 * bar + (i + 1) * step, pitch) for i, pitch in enumerate(line)
        ]
    return notes


LOOP: list[Chord] = [(4, "Am"), (4, "F"), (4, "C"), (4, "G")] * 2
ON_A: list[Chord] = [(32, "Am")]

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
    ("one note, no roots told", bars_of(*[33] * 8), [(32, "-")], "root-pedal"),
]


@pytest.mark.parametrize(
    ("notes", "chords", "kind"), [c[1:] for c in CASES], ids=[c[0] for c in CASES]
)
def test_kinds(notes: list[Note], chords: list[Chord], kind: str) -> None:
    assert kinds_of(notes, chords, 8) == [(0, 8, kind)]


@pytest.mark.parametrize("shift", range(12))
def test_kinds_do_not_depend_on_the_key(shift: int) -> None:
    for _, notes, chords, kind in CASES:
        song, roots = song_of([(s, e, p + shift) for s, e, p in notes], 8), roots_of(chords)
        moved = np.where(roots.root >= 0, (roots.root + shift) % 12, -1).astype(np.int8)
        roots = Roots(roots.start, roots.end, moved, roots.quality, roots.certainty)
        assert hear_pattern(song, song.notes, roots, phrases(0, 8)).kind == (kind,)


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
    unsure = Roots(sure.start, sure.end, sure.root, sure.quality, sure.certainty / 2)
    by_roots = [
        float(hear_pattern(song, song.notes, r, phrases(0, 4)).certainty[0]) for r in (sure, unsure)
    ]
    assert by_roots == pytest.approx([0.95, 0.475])
    # one sixteenth of the time is another note: 15/16 are explained
    song = song_of(bars_of(*[[33] * 15 + [34]] * 4), 4)
    heard = hear_pattern(song, song.notes, roots_of(ON_A), phrases(0, 4))
    assert heard.kind == ("root-pedal",)
    assert float(heard.certainty[0]) == pytest.approx(15 / 16)


def test_row_at_finds_the_stretch_of_a_bar() -> None:
    song = song_of(bars_of(33, 33, 33, 33), 8)
    heard = hear_pattern(song, song.notes, roots_of(ON_A), phrases(0, 8))
    assert heard.row_at(np.array([0, 3, 4, 7])).tolist() == [0, 0, -1, -1]


def test_no_bass_no_pattern() -> None:
    song = song_of([], 4)
    heard = hear_pattern(song, song.notes, roots_of(LOOP), phrases(0, 4))
    assert len(heard) == 0
    assert heard.row_at(np.array([0])).tolist() == [-1]
    assert len(note_functions(song, song.notes, roots_of(LOOP), a_minor(4), heard)) == 0


@pytest.mark.parametrize(
    ("notes", "chords", "names"),
    [
        # the root, its octave, third, fifth
        (
            bars_of([33, 45, 36, 40]),
            [(4, "Am")],
            ["root", "octave", "chord-tone", "chord-tone"],
        ),
        # a passing note fills the third between two chord tones (handbook of counterpoint)
        (bars_of([33, 35, 36, 36]), [(4, "Am")], ["root", "passing", "chord-tone", "chord-tone"]),
        # a chromatic one too
        (
            [(0, 2, 31), (2, 3, 31), (3, 4, 32), (4, 8, 33)],
            [(4, "G"), (4, "Am")],
            ["root", "root", "passing", "root"],
        ),
        # a neighbour steps away and back
        (bars_of([33, 34, 33, 33]), [(4, "Am")], ["root", "neighbour", "root", "root"]),
        # an approach note leaps in and steps into the root of the next chord
        (
            [(0, 3, 33), (3, 4, 30), (4, 8, 29)],
            [(4, "Am"), (4, "F")],
            ["root", "approach", "root"],
        ),
        # struck twice, still one beat long
        (
            [(0, 3, 33), (3, 3.5, 30), (3.5, 4, 30), (4, 8, 29)],
            [(4, "Am"), (4, "F")],
            ["root", "approach", "approach", "root"],
        ),
        # too long, on the downbeat, and leading nowhere: nothing explains it
        ([(0, 4, 33), (4, 7, 30), (7, 8, 29)], [(4, "Am"), (4, "F")], ["root", "other", "root"]),
        # on the first beat a foreign note is no passing note
        ([(0, 4, 33), (4, 5, 30), (5, 8, 29)], [(4, "Am"), (4, "F")], ["root", "other", "root"]),
        # a rest before the target undoes the approach
        (
            [(0, 2, 33), (2, 2.5, 30), (4, 8, 29)],
            [(4, "Am"), (4, "F")],
            ["root", "other", "root"],
        ),
        # a short note slurred into the next: a slide sets out from it
        (
            [(0, 2, 33), (3.75, 4.1, 26), (4, 8, 29)],
            [(4, "Am"), (4, "F")],
            ["root", "grace", "root"],
        ),
        # no root is told
        (bars_of(33, 34), [(8, "-")], ["other", "other"]),
        # a held foreign note, a tritone away
        (bars_of([33, 33], [33, 39]), [(8, "Am")], ["root", "root", "root", "other"]),
    ],
)
def test_functions(notes: list[Note], chords: list[Chord], names: list[str]) -> None:
    assert functions_of(notes, chords, 2) == names


def test_a_tonic_pedal_stands_under_other_chords() -> None:
    chords: list[Chord] = [(4, "Am"), (4, "G"), (4, "Am"), (4, "G")]
    assert functions_of(bars_of(33, 33, 33, 33), chords, 4) == ["root", "pedal", "root", "pedal"]


def test_a_pedal_off_the_key_is_none() -> None:
    chords: list[Chord] = [(4, "Am"), (4, "G"), (4, "Am"), (4, "G")]
    assert functions_of(bars_of(34, 34, 34, 34), chords, 4) == ["other"] * 4


def test_the_second_note_of_a_two_note_line() -> None:
    line = bars_of(*[[33, 33, 33, 31]] * 4)
    assert functions_of(line, [(16, "Am")], 4) == (["root"] * 3 + ["second-note"]) * 4


def test_each_second_note_counts_where_the_chords_change() -> None:
    line = bars_of(*[[p, p + 10] for p in (33, 29, 36, 31)])
    chords: list[Chord] = [(4, "Am"), (4, "F"), (4, "C"), (4, "G")]
    # the minor seventh of F and C is not in A minor
    assert functions_of(line, chords, 4) == (
        ["root", "second-note", "root", "other", "root", "other", "root", "second-note"]
    )


def test_a_long_rub_of_a_semitone_is_no_second_note() -> None:
    line = bars_of(*[[33, 34]] * 4)
    assert functions_of(line, [(16, "Am")], 4) == ["root", "other"] * 4
    # in the scale, but a semitone below the root and two beats long
    line = bars_of(*[[29, 28]] * 4)
    assert functions_of(line, [(16, "F")], 4) == ["root", "other"] * 4


def test_a_stepwise_line_over_one_chord() -> None:
    line = bars_of(33, 33, 33, 33, 31, 31, 29, 29)
    assert functions_of(line, [(32, "Am")], 8) == ["root"] * 4 + ["stepwise-line"] * 4


def test_chord_tones_agree_with_music21() -> None:
    """Outside: chord symbols as music21 spells them, for every quality and root."""
    symbols = {
        "major": "",
        "minor": "m",
        "dominant-7": "7",
        "minor-7": "m7",
        "major-7": "maj7",
        "suspended-4": "sus4",
        "suspended-2": "sus2",
        "diminished": "dim",
        "half-diminished": "m7b5",
        "diminished-7": "dim7",
        "augmented": "aug",
    }
    notes = [(float(i), i + 0.9, 24 + i) for i in range(12)]
    song = song_of(notes, 3)
    keys = Keys(
        *(np.zeros(0, np.int64),) * 2,
        np.zeros(0, np.int8),
        (),
        np.zeros((0, 12), bool),
        np.zeros(0),
    )
    for quality, suffix in symbols.items():
        for root, name in ((0, "C"), (2, "D"), (7, "G")):
            pitches = music21.harmony.ChordSymbol(name + suffix).pitches
            tones = {p.pitchClass for p in pitches}
            roots = Roots(
                np.array([0]),
                np.array([12 * TPQ]),
                np.array([root], np.int8),
                np.array([QUALITIES.index(quality)], np.int8),
                np.ones(1),
            )
            pattern = hear_pattern(song, song.notes, roots, phrases(0, 3))
            found = note_functions(song, song.notes, roots, keys, pattern)
            heard = {i for i in range(12) if FUNCTIONS[found[i]] in ("root", "chord-tone")}
            assert heard == tones, (quality, name)
