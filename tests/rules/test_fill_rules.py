"""Where fills belong, and what mends them: readings and fixes beyond what the pages show.

Expected frequencies are those of ISO 16 and equal temperament (E1 = 41.203 Hz); the rest is common
practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from beats import heard, judged
from slide_songs import note, song_of

from basslint.fixes.base import registered
from basslint.fixes.edits import Fix
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.readings.base import registered as readings
from basslint.readings.fill_doubles import drum_doubles
from basslint.readings.phrase_ends import ends_ahead, four_bar_ends, two_bar_ends
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.smf.status import CONTROLLER
from basslint.song.arrangement import build
from basslint.song.channels import Steering
from basslint.song.events import Changes
from basslint.theory.names import pitch_name

ROLL = "C2 D2 C2 D2:1/6@60-110x6"
SONG = """tempo 140
marker 1 Verse
marker 9 Hook
keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4
"""
BASS = "sub | A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:3.5 .:0.5 | G1:3.5 .:0.5 |*4\n"


def drums(bar: int, roll: str = ROLL) -> str:
    """A song of 16 bars whose drums roll in one bar (from 1)."""
    return f"{SONG}{BASS}drums | C2 D2 C2 D2 |*{bar - 1} | {roll} || C2 D2 C2 D2 |*{16 - bar}\n"


def read(text: str, name: str) -> list[object]:
    return readings("fill")[name].column(heard(text)).tolist()


def fix(text: str, name: str, row: int = 0, **numbers: float) -> Fix | None:
    return registered()[name].build(heard(text), row, numbers)


@pytest.mark.parametrize(
    ("bar", "four", "two", "last"),
    [(2, 8, 0, False), (3, 4, 4, False), (4, 0, 0, True), (6, 8, 0, False), (8, 0, 0, True)],
)
def test_the_place_in_the_phrase(bar: int, four: float, two: float, last: bool) -> None:
    assert read(drums(bar), "beats_from_four_bars") == [four]
    assert read(drums(bar), "beats_from_two_bars") == [two]
    assert read(drums(bar), "in_last_bar") == [last]


def test_a_roll_that_spills_over_a_bar_line_ends_in_its_own_bar() -> None:
    """All of it is 5 ms late, 6 ticks of 480 at 140 bpm, and so would be the hit it leads to."""
    text = drums(3, "C2 D2 C2 .:6/480 D2:1/6x5 D2:74/480")
    assert heard(text).fills.end[0] > 3 * 4 * 480
    assert read(text, "in_last_bar") == [False]
    assert read(drums(4, "C2 D2 C2 .:6/480 D2:1/6x5 D2:74/480"), "in_last_bar") == [True]


def test_a_roll_that_starts_on_the_line_has_missed_it() -> None:
    text = drums(9, "D2:1/6@60-110x6 C2 D2 C2")
    assert read(text, "beats_from_four_bars") == [15.0]
    assert read(text, "phrase_starts") == [13.0]


def test_the_last_bar_of_the_song_is_an_end() -> None:
    text = f"{SONG}{BASS}drums | C2 D2 C2 D2 |*15 | {ROLL} |\n"
    assert read(text, "beats_from_four_bars") == [0.0]


@pytest.mark.parametrize(
    ("odd", "even", "level"),
    [
        (0.0, 0.0, "warning"),
        (0.05, 0.05, "warning"),  # late alike, which is no scatter
        (0.0, 0.05, "note"),  # every other bar 21 ms late: as loose as the roll
    ],
)
def test_a_roll_may_be_as_loose_as_its_part(odd: float, even: float, level: str) -> None:
    """The roll's third hit is 30 ms late."""
    bars = [f".:{late} A1:1x3 A1:{1 - late}" if late else "A1:1x4" for late in (odd, even)]
    roll = "A1:2 .:1 A2:1/6x2 A2:71/300 A2:29/300 A2:1/6x2"
    text = "tempo 140\nkeys | A3+C4+E4:4 |*17\ndrums | C2 D2 C2 D2 |*17\n"
    text += f"sub | {bars[0]} | {bars[1]} |*4 || {roll} || {bars[0]} | {bars[1]} |*4\n"
    rule = next(rule for rule in read_book() if rule.name == "roll-off-grid")
    assert [f.level for f in judged(text, [rule]).findings] == [level]


@pytest.mark.parametrize(("ending", "leads"), [("C2:1", True), ("C2 D2", False)])
def test_a_fill_leads_into_the_last_stroke_of_a_song(ending: str, leads: bool) -> None:
    text = (
        f"tempo 140\nsub | A1:3.5 .:.5 |*10 | A1:1\ndrums | C2 D2 C2 D2 |*9 | {ROLL} | {ending}\n"
    )
    assert read(text, "leads_into_change") == [leads]


def test_ends_count_from_the_start_of_each_phrase() -> None:
    chart = heard(
        "marker 1 Intro\nmarker 3 Verse\nmarker 9 Hook\nkeys | A3+C4+E4:4 | F3+A3+C4:4 |*8\n" + BASS
    )
    bar = 4 * 480
    assert set(four_bar_ends(chart) // bar) >= {0, 2, 6, 8, 12, 16}
    assert set(four_bar_ends(chart)) <= set(two_bar_ends(chart))
    assert ends_ahead(np.array([0, bar, 99 * bar]), four_bar_ends(chart)).tolist() == [
        2 * bar,
        2 * bar,
        -1,
    ]


def test_a_moved_bass_fill_takes_the_chord_of_its_new_place() -> None:
    text = SONG + (
        "sub | A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:2.5 .:0.5 C2:1/6@60-110x6 | G1:3.5 .:0.5 ||"
        " A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:3.5 .:0.5 | G1:3.5 .:0.5 |*3\n"
    )
    found = fix(text, "to-phrase-end")
    assert found is not None
    assert found.kind == "by-ear"
    lifted = {(e.before, e.after) for e in found.edits if e.do == "pitch"}
    assert lifted == {(36, 31), (31, 36)}  # C and G change places, the shorter way
    bar = 4 * 480
    starts = sorted(e.after for e in found.edits if e.do in ("move", "start") and e.before)
    assert starts[0] == 2 * bar  # the long note of bar 4 comes to bar 3
    assert starts[-1] == 3 * bar + 3 * 480 + 400  # the last hit of the roll to the end of bar 4


@pytest.mark.parametrize(
    ("control", "moves"), [(5, False), (65, False), (84, False), (7, True)]
)  # MIDI 1.0: portamento time, on and off, and its source; 7 is volume
def test_a_fill_whose_portamento_is_steered_stays(control: int, moves: bool) -> None:
    beat = compile_beat(
        f"{SONG}sub | A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:2.5 .:0.5 C2:1/6@60-110x6 | G1:3.5 .:0.5 ||"
        " A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:3.5 .:0.5 | G1:3.5 .:0.5 |*3\n"
    )
    song = build(scan(beat.data))
    (part,) = (p for p in song.parts if p.name == "sub")
    number = np.array([control], dtype=np.int16)
    steered = Changes(
        tick=np.array([2 * 4 * song.division]),
        kind=np.array([CONTROLLER], dtype=np.uint8),
        track=np.array([part.track], dtype=np.int32),
        channel=np.array([part.channel], dtype=np.int16),
        number=number,
        value=np.full_like(number, 64),
        row=np.zeros(1, dtype=np.int64),
    )
    chart = Chart(replace(song, steering=Steering.of(steered)), beat.facts, "beat.mid")
    assert (registered()["to-phrase-end"].build(chart, 0, {}) is not None) is moves


def test_a_fill_is_not_moved_onto_another() -> None:
    text = f"{SONG}{BASS}drums | C2 D2 C2 D2 |*2 | {ROLL} | {ROLL} || C2 D2 C2 D2 |*12\n"
    found = fix(text, "to-phrase-end")
    assert found is None or "bar 4" not in found.title


def test_a_roll_of_drum_and_bass_is_not_torn_apart() -> None:
    """Where the bass already rolls at the end of the four bars, the snare stays, too."""
    line = "A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:2.5 .:0.5 C2:1/6@60-110x6 | {} ||"
    line += " A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:3.5 .:0.5 | G1:3.5 .:0.5 |*3\n"
    for last, moves in (("G1:3.5 .:0.5", True), ("G1:2.5 .:0.5 G1:1/6@60-110x6", False)):
        text = drums(3) + f"sub | {line.format(last)}"
        chart = heard(text.replace(BASS, ""))
        here = np.flatnonzero(chart.song.grid.bar_of(chart.fills.start) == 2).tolist()
        assert sorted(chart.fills.drums[here].tolist()) == [False, True]
        fixes = [registered()["to-phrase-end"].build(chart, row, {}) for row in here]
        assert [found is not None for found in fixes] == [moves, moves]


def with_rolls(*bars: int, last: int = 24, roll: str = ROLL) -> str:
    """A song whose drums roll in some bars (from 1)."""
    line = [roll if bar in bars else "C2 D2 C2 D2" for bar in range(1, last + 1)]
    return f"{SONG}marker 17 Verse\n{BASS}drums | {' | '.join(line)} |\n".replace("|*4", "|*6")


@pytest.mark.parametrize(
    ("rolls", "counts", "level"),
    [
        ((4, 8, 12, 16, 19, 24), [5, 5, 5, 5, 1, 5], "warning"),  # one in bar 19 instead of 20
        ((4, 8, 11, 16, 19, 23), [3, 3, 3, 3, 3, 3], "note"),  # as many that end no phrase
    ],
)
def test_only_fills_that_end_no_phrase_make_one_a_figure(
    rolls: tuple[int, ...], counts: list[float], level: str
) -> None:
    text = with_rolls(*rolls)
    assert read(text, "copies") == counts
    (rule,) = (r for r in read_book() if r.name == "fill-off-phrase")
    (fault,) = judged(text, [rule]).findings  # a figure is told once, with its bars
    assert 19 in {place.bar for place in (fault.where, *fault.also)}
    assert fault.level == level
    assert (fault.fix is not None) is (level == "warning")


def test_a_moved_kick_fill_leaves_the_other_kicks_to_the_bass() -> None:
    text = with_rolls(3, last=16, roll="C2:.75 C2:.75 C2:1.5 C2:1/6x6")
    found = fix(text, "to-phrase-end")
    assert found is not None
    starts = sorted(e.before for e in found.edits if e.do == "move" and e.before is not None)
    assert starts == [(2 * 4 + 3) * 480 + 80 * k for k in range(6)]  # the roll; nothing comes back


def test_a_fill_that_spills_over_the_line_does_not_stand_in_the_next_bar() -> None:
    """All of it is 5 ms late, 6 ticks of 480 at 140 bpm, and so would be the hit it leads to."""
    line = ["C2 D2 C2 D2"] * 16
    line[3:5] = "C2 D2 C2 .:6/480 D2:1/6x5 D2:74/480", ROLL
    text = f"{SONG}{BASS}drums | {' | '.join(line)} |\n"
    chart = heard(text)
    assert chart.fills.end[0] > 4 * 4 * 480  # bar 4's fill, which ends in bar 5 by its step
    found = registered()["to-phrase-end"].build(chart, 1, {})
    assert found is not None and "bar 8" in found.title


def test_periods_a_hit_follow_from_pitch_and_tempo() -> None:
    text = f"{SONG}sub | E1:3.5 .:0.5 |*7 | E1:3 E1:1/16x16 || E1:3.5 .:0.5 |*8\n"
    assert read(text, "periods_per_hit") == pytest.approx([41.203 * 60 / 140 / 16], rel=1e-4)
    raised = fix(text, "octave-up", fewest_periods=3.0)
    assert raised is not None
    assert {(e.before, e.after) for e in raised.edits} == {(28, 52)}
    assert fix(text, "octave-up", fewest_periods=20.0) is None  # would leave the bass register


def test_only_strays_are_moved() -> None:
    text = f"{SONG}sub | A1:3.5 .:0.5 |*7 | A1:3 A2:1/6x2 A2:71/300 A2:29/300 A2:1/6x2 || " + (
        "A1:3.5 .:0.5 |*8\n"
    )
    found = fix(text, "even-steps")
    assert found is not None
    assert found.title == "Put 1 hit back in step"
    moved = [e for e in found.edits if e.do in ("move", "start")]
    assert [(e.before, e.after) for e in moved] == [(15154, pytest.approx(15120, abs=2))]
    assert fix(drums(8), "even-steps") is None


@pytest.mark.parametrize(("roll", "first", "last"), [("C2 D2 C2", 71, 100), ("C2 D2", 100, 71)])
def test_a_ramp_keeps_the_loudest_and_rises_into_the_bar_line(
    roll: str, first: int, last: int
) -> None:
    text = drums(8, f"{roll} D2:1/12@100x12" + (" .:1" if roll == "C2 D2" else ""))
    found = fix(text, "ramp", ramp_db=6.0)
    assert found is not None
    assert {e.after for e in found.edits} >= {min(first, last)}
    assert max(e.after for e in found.edits if e.after is not None) < 100  # the loudest stays
    by_time = [e.after for e in sorted(found.edits, key=lambda e: e.tick)]
    assert by_time == sorted(by_time, reverse=first > last)


@pytest.mark.parametrize(
    ("roll", "moved"),
    [
        # D#2 is the clap, F#2 the closed hat, C2 the kick of the General MIDI 1 percussion map
        ("C2+D#2:1/12@100 C2:1/12@100x11", {"C2"}),
        ("C2+F#2:1/12@100x12", {"C2"}),
        ("D2+D#2:1/12@100 D2:1/12@100x11", {"D2"}),
        ("D2+D#2:1/12@100x12", {"D2", "D#2"}),  # layered all through: one sound
        ("C2+D2:1/12@100 D2:1/12@100x11", {"D2"}),
    ],
)
def test_a_ramp_is_of_the_roll_and_leaves_what_sounds_on_top(roll: str, moved: set[str]) -> None:
    found = fix(drums(8, f"C2 D2 C2 {roll}"), "ramp", ramp_db=6.0)
    assert found is not None
    edits = [(e.pitch, e.tick, e.after) for e in found.edits]
    assert {pitch_name(pitch) for pitch, _, _ in edits} == moved
    starts = sorted({tick for _, tick, _ in edits})
    assert starts == [(7 * 4 + 3) * 480 + 40 * k for k in range(11)]  # the loudest, the last, stays


def test_a_bass_roll_is_put_onto_the_drums_it_doubles() -> None:
    line = "A1:3.5 .:0.5"
    text = f"{SONG}sub | {line} |*7 | A1:2 .:157/150 A2:1/6x5 A2:3/25 || {line} |*8\n" + (
        f"drums | C2 D2 C2 D2 |*7 | {ROLL} || C2 D2 C2 D2 |*8\n"
    )
    assert read(text, "doubled_by") == [None, "drums"]
    assert read(text, "off_drums_ms")[1] == pytest.approx(20.0, abs=1.1)  # 7/150 beat, 480 ticks
    found = fix(text, "onto-drums", row=1)
    assert found is not None
    places = sorted(e.after for e in found.edits if e.do in ("move", "start"))
    assert places == [(7 * 4 + 3) * 480 + 80 * k for k in range(6)]


def test_a_gliding_part_is_one_that_slides_elsewhere() -> None:
    roll = "A1:2 .:1 A2:1/6~1/30@60-110x5 A2:1/6"
    plain = f"{SONG}sub | A1:3.5 .:0.5 |*7 | {roll} || A1:3.5 .:0.5 |*8\n"
    slid = f"{SONG}sub | A1:2~0.25 C2:1.5 .:0.5 || A1:3.5 .:0.5 |*6 | {roll} || A1:3.5 .:0.5 |*8\n"
    assert read(plain, "overlapping_hits") == read(slid, "overlapping_hits") == [5.0]
    assert read(plain, "part_glides") == [False]
    assert read(slid, "part_glides") == [True]


@pytest.mark.parametrize(
    ("last", "fact", "flagged"),
    [
        ("G1:4", "", True),
        ("G1:3.75 .:0.25", "", False),
        ("G1:4~0.2", "", False),  # slides into the repeat
        ("G1:4", "one-shot yes\n", False),  # rings on whatever the note does
    ],
)
def test_a_bass_that_runs_into_the_repeat(last: str, fact: str, flagged: bool) -> None:
    bar = "A1:3.5 .:0.5 | F1:3.5 .:0.5 | C2:3.5 .:0.5"
    text = (
        fact
        + SONG.replace("Hook", "Verse")
        + f"sub | {bar} | G1:3.5 .:0.5 | {bar} | {last} || {bar} | G1:3.5 .:0.5 |*2\n"
    )
    column = readings("bass-note")["runs_into_repeat"].column(heard(text))
    assert np.flatnonzero(column).tolist() == ([7] if flagged else [])


def test_hits_heaped_on_one_tick_have_no_step_to_stray_by() -> None:
    """As the mutation bench made them: of seven hits, three fall on one tick, three on another."""
    every = [note(1920 * bar + 960, 1920 * bar + 1020, 38, 10) for bar in range(16)]
    heap = [note(t, t + 30, 38, 10) for t in (14400, *[14520] * 3, *[14640] * 3)]
    chart = Chart(song_of(*every, *heap), Facts())
    assert chart.fills.step.min() == 0.0
    with np.errstate(all="raise"):
        strays = readings("fill")["stray_steps"].column(chart)
    assert np.isnan(strays[chart.fills.step == 0.0]).all()


@pytest.mark.parametrize(
    ("crash", "level"),
    [
        ("C2 D2 C2 D2", "warning"),
        ("C2+C#3 D2 C2 D2", "note"),  # key 49 is a crash (General MIDI 1)
    ],
)
def test_a_fill_that_a_crash_answers_is_only_noted(crash: str, level: str) -> None:
    song = f"{SONG}{BASS}drums | C2 D2 C2 D2 |*2 | {ROLL} | {crash} || C2 D2 C2 D2 |*12\n"
    (found,) = [f for f in judged(song, read_book()).findings if f.rule == "fill-off-phrase"]
    assert found.level == level
    assert read(song, "meets_crash") == [level == "note"]


def test_crashes_that_come_every_bar_mark_no_beginning() -> None:
    bar = "C2+C#3 D2 C2 D2"
    song = f"{SONG}{BASS}drums | {bar} |*2 | {ROLL.replace('C2', 'C2+C#3', 1)} || {bar} |*13\n"
    assert read(song, "meets_crash") == [False]


def test_the_chance_of_a_phrase_is_that_of_the_bar_line_nearest_its_end() -> None:
    chance = heard(drums(3)).phrases.chance
    assert read(drums(3), "phrase_chance") == [chance[3]]
    assert read(drums(8), "phrase_chance") == [chance[8]]
    assert chance[8] > 0.9  # the marker of bar 9


def test_fills_without_a_step_double_nothing_and_warn_of_nothing() -> None:
    """Real files heap all hits of a roll on one tick."""
    line = "A1:3.5 .:0.5"
    chart = heard(
        f"{SONG}sub | {line} |*7 | A1:2 .:1 A2:1/6x6 || {line} |*8\n"
        f"drums | C2 D2 C2 D2 |*7 | {ROLL} || C2 D2 C2 D2 |*8\n"
    )
    assert len(chart.fills) == 2
    chart.fills = replace(chart.fills, step=np.zeros(len(chart.fills)))
    with np.errstate(all="raise"):
        assert drum_doubles(chart).tolist() == [-1] * len(chart.fills)
