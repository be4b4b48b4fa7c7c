"""What a fill takes along when it is moved to the end of its four bars, and what keeps it.

The bars that change places are the fill's own and the last of its four (common practice, no
source).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from beats import heard

from basslint.fixes.base import registered
from basslint.fixes.edits import Fix
from basslint.hear.chart import Chart
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.smf.status import BEND, CONTROLLER
from basslint.song.arrangement import build
from basslint.song.channels import Steering
from basslint.song.events import Changes

BAR = 4 * 480
SONG = """tempo 140
marker 1 Verse
marker 9 Hook
keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4
"""
PLAIN = ["A1:3.5 .:.5", "F1:3.5 .:.5", "C2:3.5 .:.5", "G1:3.5 .:.5"]
BEAT, ROLL = "C2 D2 C2 D2", "C2 D2 C2 D2:1/6@60-110x6"


def bass(second: str, third: str = PLAIN[2], fourth: str = PLAIN[3]) -> str:
    """A bass of sixteen bars, of which the second to fourth are given."""
    line = [PLAIN[0], second, third, fourth, *PLAIN * 3]
    return f"{SONG}sub | {' | '.join(line)} |\n"


def drums(rolls: tuple[int, ...], name: str = "drums") -> str:
    """Drums of sixteen bars that roll in some of them, from 1."""
    line = [ROLL if bar in rolls else BEAT for bar in range(1, 17)]
    return f"{name} | {' | '.join(line)} |\n"


def moved(chart: Chart, row: int = 0) -> Fix | None:
    return registered()["to-phrase-end"].build(chart, row, {})


def places(found: Fix | None) -> set[tuple[int, int]]:
    """Where notes start now and then, in quarters from the start of the song."""
    assert found is not None
    edits = (e for e in found.edits if e.do in ("move", "start"))
    return {(int(e.before or 0) // 480, int(e.after) // 480) for e in edits}


ROLLING = bass("F1:2.5 .:.5 F1:1/6@60-110x6")


@pytest.mark.parametrize(
    ("kind", "channel", "tick", "goes"),
    [
        (BEND, "own", BAR - 1, True),  # before its bar
        (BEND, "own", BAR, False),
        (BEND, "own", 2 * BAR - 1, False),
        (BEND, "own", 2 * BAR, True),  # between the two bars
        (BEND, "own", 3 * BAR - 1, True),
        (BEND, "own", 3 * BAR, False),  # in the bar that it goes to
        (BEND, "own", 4 * BAR - 1, False),
        (BEND, "own", 4 * BAR, True),  # after it
        (BEND, "other", BAR, True),
        (CONTROLLER, "own", BAR, False),
        (CONTROLLER, "own", 2 * BAR, True),
    ],
)
def test_what_steers_the_pitch_of_either_bar_keeps_a_fill(
    kind: int, channel: str, tick: int, goes: bool
) -> None:
    """Pitch bend, or portamento on or off (controller 65): MIDI 1.0."""
    beat = compile_beat(ROLLING)
    song = build(scan(beat.data))
    (part,) = (p for p in song.parts if (p.name == "sub") is (channel == "own"))
    changes = Changes(
        tick=np.array([tick]),
        kind=np.array([kind], dtype=np.uint8),
        track=np.array([part.track], dtype=np.int32),
        channel=np.array([part.channel], dtype=np.int16),
        number=np.array([65], dtype=np.int16),
        value=np.array([64], dtype=np.int16),
        row=np.zeros(1, dtype=np.int64),
    )
    chart = Chart(replace(song, steering=Steering.of(changes)), beat.facts, "beat.mid")
    assert (moved(chart) is not None) is goes


@pytest.mark.parametrize(
    ("others", "bar", "goes"),
    [((3,), 2, True), ((5,), 2, True), ((4,), 2, False), ((3,), 6, True), ((8,), 6, False)],
)
def test_only_a_fill_in_its_bar_or_the_last_keeps_one(
    others: tuple[int, ...], bar: int, goes: bool
) -> None:
    chart = heard(SONG + drums((bar, *others)))
    (row,) = np.flatnonzero(chart.song.grid.bar_of(chart.fills.start) == bar - 1).tolist()
    assert (moved(chart, row) is not None) is goes


def test_the_snares_of_a_roll_go_with_their_bar_and_the_rest_of_the_kit_stays() -> None:
    """The second beat of bars 3 and 4 has a snare, too; kicks stand on the first and third."""
    found = places(moved(heard(SONG + drums((3,)))))
    assert found == {(9, 13), (11, 15), (13, 9), (15, 11)}


def test_a_bass_roll_takes_its_bar_along_even_where_it_sits_on_kicks() -> None:
    chart = heard(f"{ROLLING}kick | C2:1/6x24 |*16\n")
    (row,) = np.flatnonzero(~chart.fills.drums).tolist()
    assert places(moved(chart, row)) == {(4, 12), (7, 15), (12, 4)}


@pytest.mark.parametrize("pedal_from", [0, 8])
def test_a_pedal_stays_where_it_is_when_its_roll_moves(pedal_from: int) -> None:
    """A pedal goes on under other chords: only the places change, no pitch."""
    line = (PLAIN * 4)[:pedal_from] + ["A1:3.5 .:.5"] * (16 - pedal_from)
    line[pedal_from + 2] = "A1:2.5 .:.5 A1:1/6@60-110x6"
    chart = heard(f"{SONG}sub | {' | '.join(line)} |\n")
    assert chart.pattern.kind[-1] == "root-pedal"
    found = moved(chart)
    assert found is not None
    assert {e.do for e in found.edits} <= {"move", "start", "end"}


def test_notes_that_slide_into_each_other_still_overlap_at_their_new_place() -> None:
    """The two long notes of bar 2 overlap by an eighth, a slide; the roll's hits only touch."""
    text = bass("F1:1~.25 A1:1 .:1 F1:1/6@60-110x6", fourth="G1:3.5 .:.5")
    chart = heard(f"glide 100ms\n{text}")
    found = moved(chart)
    assert found is not None
    there = {(int(e.before or 0), int(e.after)) for e in found.edits if e.do == "move"}
    assert (BAR, 3 * BAR) in there  # as long as it was, so that it reaches the next one
    assert (BAR + 480, 3 * BAR + 480) in there


@pytest.mark.parametrize(("beats", "end"), [(0.25, 8 * BAR - 120), (0.5, 8 * BAR - 240)])
def test_air_is_as_long_as_stated(beats: float, end: int) -> None:
    chart = heard(f"{SONG}sub | A1:3.5 .:.5 |*7 | G1:4 || A1:3.5 .:.5 |*8\n")
    found = registered()["air"].build(chart, 7, {"air_beats": beats})
    assert found is not None
    assert [(e.do, e.before, e.after) for e in found.edits] == [("end", 8 * BAR, end)]


@pytest.mark.parametrize(
    ("row", "beats"),
    [(7, 4.0), (15, 0.25)],  # nothing of the note would be left; nothing comes after it
)
def test_where_no_air_can_be_had_none_is_offered(row: int, beats: float) -> None:
    chart = heard(f"{SONG}sub | A1:3.5 .:.5 |*7 | G1:4 || A1:3.5 .:.5 |*8\n")
    assert registered()["air"].build(chart, row, {"air_beats": beats}) is None
