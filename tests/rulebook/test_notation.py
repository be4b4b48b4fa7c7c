"""The notation says what it means, and nothing that can be written in it hangs or crashes."""

from __future__ import annotations

import io

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from basslint.errors import RuleError
from basslint.rulebook.notation import DIVISION, compile_beat, pitch_number
from basslint.smf.scan import scan
from basslint.song.arrangement import NEVER, Song, build


def song(text: str) -> Song:
    return build(scan(compile_beat(text).data))


def notes(text: str) -> list[tuple[float, float, int, int]]:
    """(start, end) in quarters, pitch and velocity of every note."""
    n = song(text).notes
    return [
        (s / DIVISION, e / DIVISION, p, v)
        for s, e, p, v in zip(
            n.start.tolist(), n.end.tolist(), n.pitch.tolist(), n.velocity.tolist(), strict=True
        )
    ]


@pytest.mark.parametrize(
    ("name", "number"),
    # scientific pitch notation: A4 = 69, C4 = 60, A0 = 21 (the piano's lowest), C-1 = 0
    [("A4", 69), ("C4", 60), ("A0", 21), ("C-1", 0), ("F#1", 30), ("Gb1", 30), ("Cb4", 59),
     ("B#3", 60), ("E#1", 29), ("Fb1", 28)],
)  # fmt: skip
def test_a_name_is_the_number_of_scientific_pitch_notation(name: str, number: int) -> None:
    assert pitch_number(name) == number


@pytest.mark.parametrize(
    ("bar", "expected"),
    [
        ("A1:2 C2", [(0, 2, 33, 100), (2, 3, 36, 100)]),
        ("A1:1~0.25 C2", [(0, 1.25, 33, 100), (1, 2, 36, 100)]),
        ("A1:1~-1/4 .:.5 C2", [(0, 0.75, 33, 100), (1.5, 2.5, 36, 100)]),
        ("A1+C2:1@80", [(0, 1, 33, 80), (0, 1, 36, 80)]),
        ("A1@60-90x3", [(0, 1, 33, 60), (1, 2, 33, 75), (2, 3, 33, 90)]),
        ("A1:0 C2", [(0, 0, 33, 100), (0, 1, 36, 100)]),
    ],
)  # fmt: skip
def test_a_token_is_its_notes_in_time_and_velocity(
    bar: str, expected: list[tuple[float, float, int, int]]
) -> None:
    assert notes(f"sub | {bar} |") == expected


def test_thirds_of_a_beat_fall_on_the_grid() -> None:
    assert song("sub | A1:1/3x3 |").notes.start.tolist() == [0, 160, 320]


@pytest.mark.parametrize(
    ("line", "first_of_bar"),
    [
        ("| A1 | C2 |*2", [33, 36, 33, 36]),
        ("| A1 |*2 C2 |*2", [33, 33, 36, 36]),
        ("| A1 || C2 | D2 |*2", [33, 36, 38, 36, 38]),
        ("| A1 |*2 || C2 |", [33, 33, 36]),
    ],
)
def test_a_loop_is_written_out_from_where_it_begins(line: str, first_of_bar: list[int]) -> None:
    beat = song(f"sub {line}")
    assert beat.notes.pitch.tolist() == first_of_bar
    assert (beat.notes.start // (4 * DIVISION)).tolist() == list(range(len(first_of_bar)))


def test_facts_and_metas() -> None:
    facts = "key F# minor\ndecay 600ms\nsound-cents -7\n"
    metas = "tempo 90\ntempo 3 180\nmeter 3/4\nmarker 2 Verse\n"
    beat = compile_beat(facts + metas + "sub | A1:3 |*3")
    assert beat.facts.key is not None and (beat.facts.key.tonic, beat.facts.key.mode) == (
        6,
        "minor",
    )
    assert (beat.facts.decay_s, beat.facts.sound_cents) == (0.6, -7)
    heard = build(scan(beat.data))
    assert heard.grid.numerator.tolist() == [3, 3, 3]
    assert [(m.tick, m.text) for m in heard.markers] == [(3 * DIVISION, "Verse")]
    assert round(heard.tempo.bpm_at(0)) == 90
    assert round(heard.tempo.bpm_at(6 * DIVISION)) == 180


def test_what_is_left_out_is_not_in_the_file() -> None:
    bare = song("meter none\nsub | A1:1~never |")
    assert not bare.tempo.stated
    assert not bare.grid.stated
    assert bare.notes.off_row.tolist() == [NEVER]


def test_names_choose_channels() -> None:
    parts = song("sub | A1 |\nkick | C2 |\nkeys | A3 |\nhat | F#2 |").parts
    assert [(p.name, p.channel) for p in parts] == [
        ("sub", 1), ("kick", 10), ("keys", 2), ("hat", 10),
    ]  # fmt: skip


def test_the_wheel_reaches_what_it_says() -> None:
    """5 semitones at range 12 are 5/12 of 8192; RPN 0 carries the range (MIDI 1.0)."""
    data = compile_beat("sub | A1:4 |\nsub wheel 12\nsub bend | 1:0 2:+5 |").data
    (track,) = [t for t in mido.MidiFile(file=io.BytesIO(data)).tracks if t.name == "sub"]
    controls = [(m.control, m.value) for m in track if m.type == "control_change"]
    assert controls == [(101, 0), (100, 0), (6, 12), (38, 0), (101, 127), (100, 127)]
    bends = [m.pitch for m in track if m.type == "pitchwheel"]
    assert bends[0] == 0
    assert bends[-1] == round(5 / 12 * 8192)
    assert np.all(np.diff(bends) > 0)


@pytest.mark.parametrize(
    "line",
    [
        "sub | A1:1 |*999999999",
        "sub | A1:1 |*1999 A1:1 |*1999",
        "sub | A1:1/4x999999999 |",
        "sub | A1:99999999999999 |",
        "sub | A1:1/0 |",
        "sub | H1 |",
        "sub | A1:1@200 |",
        "sub | A1:1~-2 |",
        "sub A1",
        "sub",
        "sub wheel x",
        "sub wheel 0",
        "sub bend | 1:x |",
        "sub bend | 9999999:1 |",
        "sub bend | 0:1 |",
        "tempo 0",
        "tempo fast",
        "meter 4/3",
        "meter 0/4",
        "marker one A",
        "marker 0 A",
        "key H minor",
        "decay long",
        "bend-range wide",
    ],
)
def test_a_line_that_cannot_be_read_is_named(line: str) -> None:
    with pytest.raises(RuleError) as fault:
        compile_beat(f"tempo 140\n\n{line}")
    assert "line 3" in str(fault.value) or "decay" in line or "key" in line
    assert len(fault.value.message) < 400


def test_more_parts_than_channels() -> None:
    with pytest.raises(RuleError, match="15 pitched parts"):
        compile_beat("\n".join(f"p{i} | A1 |" for i in range(16)))


def test_more_lines_than_a_page_needs() -> None:
    with pytest.raises(RuleError, match="lines"):
        compile_beat("tempo 140\n" * 501)


@given(st.text(alphabet="sub keys|A1C#:.~@x*/+-0 59neverbdtmpowhl\n", max_size=200))
def test_any_text_compiles_or_is_a_clear_error(text: str) -> None:
    try:
        data = compile_beat(text).data
    except RuleError:
        return
    build(scan(data))
