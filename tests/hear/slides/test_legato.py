"""Which overlaps glide, which are a hand's legato? Evidence decides (common practice, no source).

Programs: General MIDI 1 (33–38, counted from 1, are plucked basses, 39 and 40 synth basses, 81 a
lead); controllers 5, 65 and 126: MIDI 1.0 detailed specification.
"""

from __future__ import annotations

import pytest
from midi_bytes import meta
from slide_songs import Event, control, note, songs_of

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts

STEP = 480  # a quarter; a tick is about a millisecond


def played(
    overlaps: list[int], *before: Event, name: str = "", program: int | None = None
) -> Chart:
    """A walk of quarters, each held so many ticks into the next (negative: let go before it)."""
    head = [(0, meta(0x03, name.encode()))] if name else []
    head += [(0, bytes((0xC0, program)))] if program is not None else []
    notes = [
        event
        for i, over in enumerate([*overlaps, -40])
        for event in note(i * STEP, (i + 1) * STEP + over, 33 + (0, 3, 5, 7)[i % 4])
    ]
    song = songs_of([*head, *before, *notes])
    return Chart(song, Facts(bass=("#1",)))


LEGATO = [30, 60, 15, -20, 80, 45, -10, 25] * 4  # as fingers do it
DRAWN = [-10, -10, -10, 240] + [-10] * 12  # one clear overlap in a line played apart


@pytest.mark.parametrize("program", [32, 33, 35, 36, None])
def test_a_hand_s_legato_is_silent(program: int | None) -> None:
    assert len(played(LEGATO, program=program).slides) == 0


@pytest.mark.parametrize(
    "name",
    ["808", "Sub", "Reese glide", "SubBass", "Slide Bass", "Synth Bass", "SynthBass", "Saw Lead"],
)
def test_a_name_is_evidence(name: str) -> None:
    assert len(played(LEGATO, name=name).slides) > 0


@pytest.mark.parametrize("program", [38, 39, 80])
def test_a_synth_bass_or_a_lead_is_evidence(program: int) -> None:
    assert len(played(LEGATO, program=program).slides) > 0


@pytest.mark.parametrize(("number", "value"), [(65, 127), (5, 40), (126, 0)])
def test_mono_mode_and_portamento_are_evidence(number: int, value: int) -> None:
    chart = played(LEGATO, control(0, number, value), program=33)
    assert len(chart.slides) > 0


@pytest.mark.parametrize(("number", "value"), [(65, 0), (5, 0), (7, 100)])
def test_controllers_that_are_off_are_none(number: int, value: int) -> None:
    assert len(played(LEGATO, control(0, number, value), program=33).slides) == 0


@pytest.mark.parametrize(
    "facts",
    [
        {"glide_time_s": 0.1},
        {"one_shot": True},
        {"decay_s": 0.6},
    ],
)
def test_a_stated_fact_is_evidence(facts: dict[str, object]) -> None:
    song = played(LEGATO, program=33).song
    assert len(Chart(song, Facts(bass=("#1",), **facts)).slides) > 0  # type: ignore[arg-type]
    assert len(Chart(song, Facts(bass=("#1",), bend_range=12.0)).slides) == 0


def test_a_few_long_overlaps_in_a_line_played_apart_are_drawn() -> None:
    assert len(played(DRAWN).slides) == 1
    assert len(played(DRAWN, program=33).slides) == 0, "a plucked bass lets it ring"
    assert len(played(DRAWN, program=29).slides) == 0, "so does a guitar"
    assert len(played(DRAWN, name="Fretless").slides) == 0


def test_long_overlaps_among_as_many_short_ones_are_a_hand_s() -> None:
    assert len(played([-10, 240, 20, 30, 15, 25, -10, -10] * 2).slides) == 0


def test_overlaps_at_every_other_step_are_not_few() -> None:
    assert len(played([-10, 240] * 8).slides) == 0


@pytest.mark.parametrize(
    ("name", "program", "slides"),
    [
        ("", 38, 0),
        ("", 80, 0),
        ("Synth Bass", None, 0),
        ("SynthBass", None, 0),
        ("Saw Lead", 33, 0),
        ("Leads", 38, 0),
        ("808", 38, 6),
        ("808 Synth", None, 6),
        ("Mono Lead", None, 6),
    ],
)
def test_a_synth_bass_whose_overlaps_are_mostly_hairs_is_a_keyboard(
    name: str, program: int | None, slides: int
) -> None:
    """Five hairs of 8 ms and one overlap of 74 in a line played apart. Synth or lead in a name say
    as much as such a program; other names more."""
    overlaps = ([-10, -10, 8, -10] * 5) + [-10, 74, -10]
    assert len(played(overlaps, name=name, program=program).slides) == slides


@pytest.mark.parametrize(("sounds", "slides"), [(40, 0), (300, 8)])
@pytest.mark.parametrize("program", [38, 87])
def test_a_line_that_no_glide_would_reach_glides_nowhere(
    sounds: int, slides: int, program: int
) -> None:
    """Octaves that a hand plays, each held 30 ms into a short one above it; a glide takes 100."""
    line = [
        event
        for i in range(8)
        for event in (
            *note(i * STEP, i * STEP + 270, 33),
            *note(i * STEP + 240, i * STEP + 240 + min(sounds, 200), 45),
        )
    ]
    song = songs_of([(0, bytes((0xC0, program))), *line])
    assert len(Chart(song, Facts(bass=("#1",))).slides) == slides
    for name, many in ((b"808", 8), (b"Synth", slides), (b"Lead", slides)):
        named = songs_of([(0, meta(0x03, name)), *line])
        assert len(Chart(named, Facts(bass=("#1",))).slides) == many, name


@pytest.mark.parametrize(("held", "slides"), [(-10, 2), (500, 0)])
def test_a_note_held_under_the_next_two_is_a_voice_of_its_own(held: int, slides: int) -> None:
    """Two notes held half a beat into the next glide; held into the one after, nothing does."""
    overlaps = ([-10, -10, 240, -10] if held < 0 else [-10, -10, STEP + held, -10]) + [-10] * 4
    assert len(played(overlaps * 2).slides) == slides
