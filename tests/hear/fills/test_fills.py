"""Rolls and fills: which are heard, what they are made of, and what is none.

Grids are arithmetic (a sixteenth is a quarter of a quarter note, a triplet packs three steps into
two). What counts as a fill is common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard
from bench.rolls import GRIDS, Score, song
from hypothesis import given
from hypothesis import strategies as st
from slide_songs import note, songs_of

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.hear.fills.fills import Fills, hear_fills
from basslint.hear.fills.grid import GRIDS as NAMED
from basslint.hear.fills.grid import nearest_grid
from basslint.hear.fills.shape import velocity_shape
from basslint.hear.fills.steps import explain
from basslint.hear.parts.parts import hear_parts
from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.theory.names import pitch_name

LINE = "A1:3.5 .:0.5"


def fills_of(bar: str, line: str = LINE, part: str = "sub", tempo: int = 140) -> Fills:
    """Fills of a part that plays ``line`` for 15 bars, and ``bar`` in bar 8."""
    return heard(
        f"tempo {tempo}\n"
        "keys | A3+C4+E4:4 | F3+A3+C4:4 |*8\n"
        f"{part} | {line} |*7 | {bar} || {line} |*8\n"
        + ("sub | A1:4 |*16" if part != "sub" else "")
    ).fills


@pytest.mark.parametrize("tempo", [60, 100, 140, 180])
@pytest.mark.parametrize("name", GRIDS)
def test_every_grid_at_every_tempo(name: str, tempo: int) -> None:
    times = round(1 / GRIDS[name])
    step = f"1/{times}"
    fills = fills_of(f"A1:2.5 .:0.5 A2:{step}@60-110x{times}", tempo=tempo)
    assert fills.grid == (name,)
    assert fills.hits.tolist() == [times]
    assert fills.steps == ("equal",)
    assert fills.start.tolist() == [(7 * 4 + 3) * 480]
    assert fills.end.tolist() == [8 * 4 * 480]
    assert fills.step[0] == pytest.approx(GRIDS[name], abs=0.002)


@pytest.mark.parametrize(
    ("bar", "grid", "steps"),
    [
        ("A1:2 A2:1/4x4 A2:1/8x8", "mixed", "mixed"),
        ("A1:2.5 .:0.5 A2:1/8x2 A2:1/4 A2:1/8x4", "1/32", "mixed"),  # a hole in one grid
        ("A1:2 " + "A2:1/3 A2:1/6 " * 4, "1/16", "swung"),  # a triplet's two to one
        ("A1:3 A2:1/5x5", "free", "equal"),
        ("A1:2 " + " ".join(f"A2:{0.32 - 0.02 * i:.2f}" for i in range(9)), "mixed", "gliding"),
    ],
)
def test_steps_that_are_not_of_one_grid(bar: str, grid: str, steps: str) -> None:
    fills = fills_of(bar)
    assert (fills.grid, fills.steps) == ((grid,), (steps,))


def test_a_stray_hit_makes_a_roll_uneven_and_is_told_where_it_belongs() -> None:
    fills = fills_of("A1:3 A2:1/6x2 A2:71/300 A2:29/300 A2:1/6x2")
    assert (fills.grid, fills.steps) == (("1/16 triplet",), ("uneven",))
    wanted = 31 + np.arange(6) / 6
    assert fills.ideal[0] == pytest.approx(wanted, abs=0.003)


@pytest.mark.parametrize("scale", [1, 5])  # 96 and 480 ticks to a quarter
@pytest.mark.parametrize(
    ("gaps", "kind"),
    [
        # in 96ths of a quarter: 16 a sixteenth triplet, 12 a thirty-second, 4 the place of 1/24
        ((16, 23, 9, 16, 16), "uneven"),  # a tick off one of the file's 1/24
        ((16, 20, 12, 16, 16), "uneven"),  # on one, but alone
        ((16, 13, 19, 16, 16), "uneven"),  # nor is this a swing
        ((12, 12, 8, 16, 12, 12, 12), "uneven"),  # on a triplet among thirty-seconds
        ((16, 24, 8, 16, 16), "mixed"),  # halfway: a syncopation
        ((24, 24, 16, 16), "mixed"),  # two in a row of each grid
        ((24, 32, 16, 24, 32, 16), "mixed"),  # no single hit: a figure
    ],
)
def test_one_hit_that_strays_onto_another_grid_makes_no_mix(
    gaps: tuple[int, ...], kind: str, scale: int
) -> None:
    onset = 28 + np.cumsum((0, *gaps)) / 96
    assert explain(onset, 600.0, 1 / (96 * scale)).kind == kind


@pytest.mark.parametrize("loose", [1.0, 0.4])
@pytest.mark.parametrize(
    ("last", "kind"),
    [
        (1.625, "mixed"),  # a thirty-second before the next beat: an upbeat
        (1.66, "uneven"),  # neither there nor on the step
        (1.75, "equal"),
    ],
)
def test_an_upbeat_after_a_roll_by_hand_is_no_stray(last: float, kind: str, loose: float) -> None:
    by_hand = loose * np.array([0.008, 0, -0.008, 0, -0.01, -0.01, -0.008, -0.005])
    onset = 28 + np.append(np.arange(7) / 4, last) + by_hand
    assert explain(onset, 750.0, 1 / 120).kind == kind


def test_a_place_between_two_ticks_may_be_written_on_either() -> None:
    """A thirty-second triplet of a file with 100 ticks to a quarter is 8⅓ ticks."""
    onset = np.array([0, 8, 17, 25, 38, 50, 58, 66]) / 100  # triplets, thirty-seconds, triplets
    assert explain(onset, 600.0, 1 / 100).kind == "mixed"


@pytest.mark.parametrize("tempo", [120, 138, 160])
def test_a_sixteenth_before_a_roll_of_triplets_is_none_of_its_hits(tempo: int) -> None:
    """And so a stray among them is a stray, and no steady speeding up."""
    even = fills_of("A1:2.75 A1:1/4 A2:1/6x6", tempo=tempo)
    assert (even.grid, even.steps, even.hits.tolist()) == (("1/16 triplet",), ("equal",), [6])
    stray = fills_of("A1:2.75 A1:1/4 A2:1/6x2 A2:66/300 A2:34/300 A2:1/6x2", tempo=tempo)
    assert (stray.grid, stray.steps) == (("1/16 triplet",), ("uneven",))


@pytest.mark.parametrize(
    "bar",
    [
        "A1:3.5 A1:1/4x2",  # a pickup of two
        "A1:3.875 A1:1/24x3",  # a drag, an ornament of the next note
        "A1:1 A1:1/2x6",  # eighths
        "A1:4/3x3",
    ],
)
def test_what_is_too_short_or_too_slow_is_none(bar: str) -> None:
    assert len(fills_of(bar)) == 0


@pytest.mark.parametrize(
    "line",
    [
        "A1:1/4x16",  # running sixteenths
        "A1 A1 A1:1/4x4 A1",  # a riff of four sixteenths in every bar
        "A1:1/8x32",
    ],
)
def test_a_busy_but_steady_line_is_none(line: str) -> None:
    assert len(fills_of(line, line)) == 0


def test_a_fast_roll_stands_out_of_running_sixteenths() -> None:
    fills = fills_of("A1:1/4x12 A2:1/12x12", "A1:1/4x16")
    assert (fills.grid, fills.hits.tolist()) == (("1/32 triplet",), [12])


@pytest.mark.parametrize(
    ("bar", "found"),
    [
        ("C2 D2 C2 F#2:1/8x8", 0),  # hats keep time
        ("C2 D2 C2 C2:1/4x4", 0),  # sixteenths of the kick are groove
        ("C2 D2 C2 D2:1/6x6", 1),
        ("C2 D2 C2 D2+D#2:1/6x6", 1),  # doubled by a clap: one roll, not two
        ("C2 D2 D3:1/4x2 C3:1/4x2 A2:1/4x2 F2:1/4x2", 1),  # around the toms
        # six strokes 36 ms apart: a roll that rises, and a ruff into a loud accent
        ("C2 D2 C2 .:.5 D2:1/12@64-109x6", 1),
        ("C2 D2 C2 .:7/12 D2:1/12@30-40x5 D2:1/12@110", 0),
    ],
)
def test_rolls_of_drums_are_fills_and_what_keeps_time_is_none(bar: str, found: int) -> None:
    fills = fills_of(bar, "C2 D2 C2 D2", "drums")
    assert len(fills) == found
    assert fills.drums.all()


def test_the_landing_note_is_no_hit() -> None:
    fills = fills_of("A1:2 A2:1/6x6 A2:1")
    assert fills.hits.tolist() == [6]
    assert fills.end.tolist() == [(7 * 4 + 3) * 480]
    assert fills.landing[0] >= 0


@pytest.mark.parametrize(
    ("velocity", "shape"),
    [
        ([60, 70, 80, 90, 100], "rising"),
        ([100, 90, 80, 70, 60], "falling"),
        ([100] * 5, "flat"),
        ([98, 101, 99, 100, 102], "flat"),  # within 1 dB
        ([60, 110, 60, 110, 60], "free"),
        ([60, 80, 100, 80, 60], "free"),
    ],
)
def test_velocities_rise_fall_or_stay(velocity: list[int], shape: str) -> None:
    assert velocity_shape(np.array(velocity, dtype=np.float64)) == shape


@pytest.mark.parametrize(
    ("bar", "movement", "semitones"),
    [
        ("A1:3 A2:1/6x6", "steady", 0),
        ("A1:3 A2:1/6 B2:1/6 C3:1/6 D3:1/6 E3:1/6 F3:1/6", "rising", 8),
        ("A1:3 A2:1/6 A1:1/6 A2:1/6 A1:1/6 A2:1/6 A1:1/6", "octave", -12),
        ("A1:3 A2:1/6 C3:1/6 A2:1/6 C3:1/6 A2:1/6 D3:1/6", "moving", 5),
    ],
)
def test_the_pitch_of_a_fill_rises_falls_or_stays(bar: str, movement: str, semitones: int) -> None:
    fills = fills_of(bar)
    assert (fills.movement, fills.semitones.tolist()) == ((movement,), [semitones])


@given(
    name=st.sampled_from([name for name, _ in NAMED]),
    tempo=st.integers(60, 180),
    offsets=st.lists(st.floats(-8, 8), min_size=24, max_size=40),
    first=st.integers(0, 400),
)
def test_no_jitter_of_8_ms_hides_the_grid_of_a_long_roll(
    name: str, tempo: int, offsets: list[float], first: int
) -> None:
    quarter_ms = 60_000 / tempo
    step = dict(NAMED)[name]
    onset = first + step * np.arange(len(offsets)) + np.array(offsets) / quarter_ms
    found = explain(np.sort(onset), quarter_ms)
    assert NAMED[nearest_grid(found.step)][0] == name


@given(bars=st.integers(1, 6), semitones=st.integers(-5, 12))
def test_later_or_higher_is_the_same_fill(bars: int, semitones: int) -> None:
    plain = heard(f"sub | {LINE} |*7 | A1:3 A2:1/6x6 || {LINE} |*4\nkeys | A3+C4:4 |*12").fills
    high = pitch_name(45 + semitones)
    moved = heard(
        f"sub | {LINE} |*{bars} || {LINE} |*7 | A1:3 {high}:1/6x6 || {LINE} |*4\n"
        f"keys | A3+C4:4 |*{12 + bars}"
    ).fills
    assert moved.grid == plain.grid
    assert (moved.start - plain.start).tolist() == [bars * 4 * 480]


def test_known_rolls_of_generated_songs_are_heard() -> None:
    """A small part of tests/bench/fills.py, with its targets."""
    score = Score()
    for seed in range(30):
        known = song(1000 + seed)
        made = build(scan(known.data))
        score.add(known, hear_fills(made, hear_parts(made)))
    assert score.rolls > 200
    assert score.found >= 0.98 * score.rolls
    assert score.grid_right >= 0.97 * score.found
    assert score.false <= score.bars / 200


def test_a_song_without_bass_and_drums_has_none() -> None:
    assert len(heard("keys | A3+C4+E4:4 |*8").fills) == 0


@pytest.mark.parametrize(("snare", "told"), [(14, 14), (13, 20)])
def test_a_roll_over_the_kit_is_told_of_the_drum_that_plays_seven_tenths_of_it(
    snare: int, told: int
) -> None:
    """Twenty hits, the last ones on a tom: what one drum plays most of is that drum's roll."""
    roll = f"C2:1.5 D2:1/8x{snare} A2:1/8x{20 - snare}"
    fills = fills_of(roll, line="C2:1 D2:1 C2:1 D2:1", part="drums")
    assert fills.hits[fills.start == (7 * 4 + 1.5) * 480].tolist() == [told]


BREAK = "C2:.5 C#2:.5 D2:.5 D#2:.5 E2:.5 F2:.5 F#2:.5 G2:.5"
STUTTER = "C2:.5 C#2:.5 D2:.5 D#2:.5 E2:.5 F2:.5 F#2:.5 G2:1/8x4"


OCTAVES = "A1:2 A2:1/4 A1:1/4x2 A2:1/4 A1:1/4x2 A1:.5"
WALK = "A1:2 A1:1/4 C2:1/4 D2:1/4 E2:1/4 D2:1/4 C2:.75"
DOUBLED = "A1:2 A1:.06~.4 A2:.44 A1:.06~.4 A2:.44 A1:.06~.4 A2:.44 A1:.06~.4 A2:.44"


@pytest.mark.parametrize("bar", [OCTAVES, WALK, DOUBLED])
def test_a_figure_of_the_bass_is_no_roll(bar: str) -> None:
    """Sixteenths with octaves, a walk, octaves that a hand strikes 26 ms late (140 bpm)."""
    keys = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 |*8\n"
    assert len(heard(f"{keys}sub | {LINE} |*7 | {bar} || {LINE} |*8").fills) == 0


def test_a_chopped_break_is_the_beat_and_no_fill() -> None:
    keys = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 |*8\nsub | A1:4 |*16\n"
    chopped = f"{BREAK} |*7 | {STUTTER} || {BREAK} |*8"
    assert len(heard(f"{keys}drum-break | {chopped}").fills) == 0
    plain = "C2 D2 C2 D2"
    assert len(heard(f"{keys}drums | {plain} |*7 | {plain}:1/8x8 || {plain} |*8").fills) == 1


def test_an_unnamed_part_of_even_hits_keeps_time() -> None:
    """A hat on a track of its own, without a name: its rolls are ornaments of the beat."""
    hats = [t for bar in range(16) for t in range(bar * 1920, (bar + 1) * 1920, 240)]
    roll = range(7 * 1920 + 1440, 8 * 1920, 60)
    ticks = sorted({*hats, *roll})
    bars = range(0, 16 * 1920, 1920)
    keys = [e for bar in bars for p in (57, 60, 64) for e in note(bar, bar + 1900, p)]
    sub = [e for bar in bars for e in note(bar, bar + 1700, 33, channel=2)]
    kit = [e for bar in bars for e in note(bar, bar + 100, 36, channel=10)]
    hat = [e for t in ticks for e in note(t, t + 40, 60, channel=3)]
    chart = Chart(songs_of(keys, sub, kit, hat), Facts())
    assert 3 in chart.parts.drums
    assert len(chart.fills) == 0
