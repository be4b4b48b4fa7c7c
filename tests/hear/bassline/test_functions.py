"""What each bass note does. Non-chord tones by Open Music Theory; the rest is common
practice, no source, unless a test names one."""

from __future__ import annotations

from collections.abc import Sequence

import music21
import numpy as np
import pytest
from bass_lines import (
    TPQ,
    Chord,
    Note,
    a_minor,
    bars_of,
    functions_in,
    pattern_of,
    roots_of,
    song_of,
)
from beats import heard
from made_roots import made_roots

from basslint.hear.bassline.functions import FUNCTIONS
from basslint.hear.harmony.cover import chord_rows
from basslint.hear.key.keys import Keys
from basslint.hear.memo import own_answers


def functions_of(notes: Sequence[Note], chords: Sequence[Chord], bars: int) -> list[str]:
    song, roots = song_of(notes, bars), roots_of(chords)
    return functions_in(song, roots, a_minor(bars), pattern_of(song, roots, 0, bars))


@pytest.mark.parametrize(
    ("notes", "chords", "names"),
    [
        # the root, its octave, third, fifth
        (
            bars_of([33, 45, 36, 40]),
            [(4, "Am")],
            ["root", "octave", "chord-tone", "chord-tone"],
        ),
        # a passing note fills the third between two chord tones (Open Music Theory)
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
        # nor here, whatever the pitch class
        (bars_of(35, 35), [(8, "-")], ["other", "other"]),
        # on the downbeat a foreign note is no neighbour
        ([(0, 4, 33), (4, 5, 34), (5, 8, 33)], [(8, "Am")], ["root", "other", "root"]),
        # a turn: a step up, and by way of the semitone back
        (bars_of([33, 35, 34, 33]), [(4, "Am")], ["root", "neighbour", "passing", "root"]),
        # a short note that is not slurred, a leap away
        (
            [(0, 2, 33), (3.75, 4, 26), (4, 8, 29)],
            [(4, "Am"), (4, "F")],
            ["root", "other", "root"],
        ),
        # leaps in, and steps into a note that is not the next root
        (
            [(0, 3, 33), (3, 4, 38), (4, 8, 36)],
            [(4, "Am"), (4, "F")],
            ["root", "other", "chord-tone"],
        ),
        # a held foreign note, a tritone away
        (bars_of([33, 33], [33, 39]), [(8, "Am")], ["root", "root", "root", "other"]),
    ],
)
def test_each_note_is_told_what_it_does_under_its_chord(
    notes: list[Note], chords: list[Chord], names: list[str]
) -> None:
    assert functions_of(notes, chords, 2) == names


@pytest.mark.parametrize(
    ("notes", "names"),
    [
        # the leading note at the end of a walk in quarters, the chord the same
        (bars_of([40, 40, 40, 32], [33]), ["chord-tone"] * 3 + ["approach", "root"]),
        (bars_of([33, 36, 40, 35], [36]), ["root", "chord-tone", "chord-tone", "approach"]),
        # the one note that is long among short ones, or off the beat, walks nowhere
        (
            [(0, 1, 40), (1, 2, 40), (2, 2.5, 40), (2.5, 3, 40), (3, 4, 32), (4, 8, 33)],
            ["chord-tone"] * 4 + ["other", "root"],
        ),
        (
            [(0, 1.25, 40), (1.25, 2.25, 40), (2.25, 3.25, 40), (3.25, 4, 32), (4, 5, 33)],
            ["chord-tone"] * 3 + ["other", "root"],
        ),
    ],
)
def test_the_last_step_of_a_walk_leads_into_the_bar_line(
    notes: list[Note], names: list[str]
) -> None:
    assert functions_of(notes, [(8, "Am")], 2)[: len(names)] == names


def test_an_eighth_that_is_a_tick_too_long_still_leads_on() -> None:
    line = [(0, 3.5, 38), (3.5, 4 + 2 / TPQ, 35), (4 + 2 / TPQ, 8, 36)]
    chords: list[Chord] = [(4, "Bb"), (4, "E")]  # C is no root: a chord heard without its own
    assert functions_of(line, chords, 2)[1] == "approach"


def test_a_tonic_pedal_stands_under_other_chords() -> None:
    chords: list[Chord] = [(4, "Am"), (4, "G"), (4, "Am"), (4, "G")]
    assert functions_of(bars_of(33, 33, 33, 33), chords, 4) == ["root", "pedal", "root", "pedal"]


def test_a_tonic_that_goes_on_is_a_pedal_in_a_mixed_line_too() -> None:
    line = bars_of(33, 33, [38, 42, 35, 40], [30, 37, 32, 41])
    assert functions_of(line, [(4, "Am"), (4, "G"), (8, "Am")], 4)[:2] == ["root", "pedal"]


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


def test_a_leap_inside_a_stepwise_line_is_not_part_of_it() -> None:
    line = bars_of(33, 33, 33, 33, 31, 31, [29, 29, 35, 29], 29)
    assert functions_of(line, [(32, "Am")], 8)[6:10] == [
        "stepwise-line",
        "stepwise-line",
        "other",
        "stepwise-line",
    ]


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
        start=np.zeros(0, np.int64),
        end=np.zeros(0, np.int64),
        tonic=np.zeros(0, np.int8),
        mode=(),
        scale=np.zeros((0, 12), bool),
        certainty=np.zeros(0),
        scale_certainty=np.zeros(0),
        fit=np.zeros((0, 12)),
    )
    for quality, suffix in symbols.items():
        for root, name in ((0, "C"), (2, "D"), (7, "G")):
            pitches = music21.harmony.ChordSymbol(name + suffix).pitches
            tones = {p.pitchClass for p in pitches}
            roots = made_roots([0], [12 * TPQ], [root], [quality], certainty=1.0)
            found = functions_in(song, roots, keys, pattern_of(song, roots, 0, 3))
            heard = {i for i in range(12) if found[i] in ("root", "chord-tone")}
            assert heard == tones, (quality, name)


def test_a_pedal_stays_one_where_slips_or_rolls_break_four_bars_of_it() -> None:
    """D under A minor and C, the root of the last bar alone: a pedal by its pattern."""
    chords: list[Chord] = [(8, "Am"), (8, "C"), (24, "Am"), (4, "C"), (4, "Dm")]
    pitches = [38] * 12
    assert functions_of(bars_of(*pitches), chords, 12) == [*["pedal"] * 11, "root"]
    for bar in (5, 8):
        pitches[bar] = 40
    found = functions_of(bars_of(*pitches), chords, 12)
    assert [name for bar, name in enumerate(found) if bar not in (5, 8)] == [
        *["pedal"] * 9,
        "root",
    ]
    assert "pedal" not in (found[5], found[8])


def test_one_note_alone_in_an_octave_line_is_no_pedal_though_it_is_some_chords_root() -> None:
    chords: list[Chord] = [(4, "Am"), (4, "F"), (4, "C"), (4, "G")]
    octaves = [[33, 33, 45, 33], [29, 29, 41, 29], [36, 36, 48, 36], [31, 31, 43, 31]]
    assert "pedal" not in functions_of(bars_of(*octaves), chords, 4)
    slipped = [*octaves[:3], [41, 31, 43, 31]]
    assert functions_of(bars_of(*slipped), chords, 4)[12] == "other"
    # struck on from the chord that it is the root of, it stays for a while
    goes_on = [octaves[0], [29, 29, 41, 41], [41, 36, 48, 36], octaves[3]]
    assert functions_of(bars_of(*goes_on), chords, 4)[8] == "pedal"


def test_roots_that_nobody_can_name_make_no_pedal() -> None:
    chords: list[Chord] = [(4, "F"), (1, "G"), (1, "C"), (2, "Bb")]
    song, roots = song_of([(0, 4, 29), (4, 8, 30)], 2), roots_of(chords)
    for certainty, function in ((0.95, "pedal"), (0.2, "other")):
        roots.certainty[1:] = certainty
        found = functions_in(song, roots, a_minor(2), pattern_of(song, roots, 0, 2))
        assert found[1] == function


@pytest.mark.parametrize(
    ("start", "end", "row"),
    [
        (3.95, 8.0, -1),  # struck a hair before the harmony stops: into the silence
        (3.8, 4.1, 0),  # more of it under the chord
        (3.9, 4.0, 0),
        (3.5, 8.0, 0),  # an eighth is no slip of the hand: held over
        (4.0, 8.0, -1),
    ],
)
def test_a_note_into_the_silence_belongs_to_no_chord(start: float, end: float, row: int) -> None:
    song = song_of([(start, end, 33)], 3)
    assert chord_rows(song.notes, roots_of([(4, "G")]), song.division).tolist() == [row]


@pytest.mark.parametrize(
    ("first", "last", "name"),
    [
        ((0, 4, 33), (15, 16, 32), "approach"),  # G# into the A that the loop begins with
        ((0.25, 4, 33), (15, 16, 32), "approach"),
        ((0, 4, 33), (15, 15.25, 32), "other"),  # a rest before it comes round
        ((1, 4, 33), (15, 16, 32), "other"),  # the part waits for a beat
        ((0, 4, 36), (15, 16, 32), "other"),  # no step: a third above
    ],
)
def test_the_last_bar_of_a_loop_leads_back_to_its_first(first: Note, last: Note, name: str) -> None:
    """An approach by step into the next root (Open Music Theory), as the loop repeats."""
    notes = [first, (4, 8, 29), (8, 12, 36), (12, 15, 38), last]
    chords = [(4, "Am"), (4, "F"), (4, "C"), (4, "G")]
    assert functions_of(notes, chords, 4)[-1] == name


@pytest.mark.parametrize(("third", "asked"), [("E1", False), ("D#1", True)])
def test_only_what_is_no_tone_of_its_chord_asks_what_the_line_does(third: str, asked: bool) -> None:
    chart = heard(f"tempo 100\nkey A minor\nkeys | A3+C4+E4:4 |\nsub | A1:2 {third}:2 |")
    assert chart.functions[0] == FUNCTIONS.index("root")
    assert ("pattern" in own_answers(chart)) is asked
