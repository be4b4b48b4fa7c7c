"""The chart in text: what stands where on the map, and that it fits."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
from beats import heard
from report_cases import (
    chart_of,
    midi_bytes,
    overlap_song,
    plain_line,
    roll_song,
    slides_of,
    wrong_note_song,
)

from basslint.hear.facts import Facts, StatedKey
from basslint.report.drawing.look import Look
from basslint.report.drawing.song_map import song_map
from basslint.report.formats.chart_text import MOST_LISTED, print_chart


def written(chart, width=80, encoding="utf-8"):
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    print_chart(chart, stream, width=width)
    stream.flush()
    return raw.getvalue().decode(encoding)


def line(system, label):
    found = [r.text for r in system if r.segments[0].text.strip() == label]
    assert len(found) <= 1
    return found[0][7:] if found else None


def test_a_song_of_64_bars_fits_80_columns_eight_bars_a_row():
    chart = wrong_note_song(64)
    systems = song_map(chart, Look(80))
    firsts = [line(s, "bar").split()[0] for s in systems]
    assert firsts == [
        "1",
        "9",
        "17",
        "25",
        "33",
        "41",
        "49",
        "57",
    ]
    assert len(line(systems[0], "bar").split()) == 8
    text = written(chart)
    assert max(len(x) for x in text.splitlines()) <= 80
    assert len(text.splitlines()) < 80


@pytest.mark.parametrize(("width", "bars"), [(80, 8), (60, 4), (40, 4), (30, 2), (20, 1)])
def test_narrower_maps_hold_fewer_bars_a_row(width, bars):
    systems = song_map(wrong_note_song(16), Look(width))
    assert len(line(systems[0], "bar").split()) == bars
    assert all(len(r.text) <= width for s in systems for r in s)


def test_roots_and_phrases_stand_at_their_bars():
    first, second = song_map(wrong_note_song(16), Look(80))
    for label in ("bar", "root"):
        assert [line(first, label)[9 * b] for b in range(8)] == list(
            "12345678" if label == "bar" else "ECECECEC"
        )
    assert line(first, "phrase").startswith("┣━ A ━")
    assert line(second, "phrase").startswith("┣━ B ━")
    assert line(first, "bass").startswith("┣━ root-follow")
    assert line(second, "bass").startswith("━━ root-follow")  # goes on, does not begin


def test_a_root_that_is_not_told_is_a_question_mark_and_silence_is_blank():
    chart = wrong_note_song(16)
    chart.roots.root[2] = -1
    chart.roots = chart.roots.take(np.delete(np.arange(len(chart.roots)), 4))
    roots = line(song_map(chart, Look(80))[0], "root")
    assert [roots[9 * b] for b in range(6)] == list("EC?C C")


def test_fills_and_slides_stand_in_their_places():
    chart, _ = roll_song()  # last beat of bar 6
    first, second = song_map(chart, Look(80))
    fills = line(first, "fills")
    assert fills.index("▒") in range(9 * 5 + 6, 9 * 6) and fills.strip() == "▒" * 3
    assert line(second, "fills") is None and line(first, "slides") is None
    chart, _ = overlap_song()  # bar 5, beat 3: the middle of the bar
    assert line(song_map(chart, Look(80))[0], "slides").index("╱") == 9 * 4 + 4


def test_a_slide_down_falls():
    chart = wrong_note_song()
    chart.slides = slides_of([{"origin": 40.0, "target": 28.0, "start": 0}])
    assert line(song_map(chart, Look(80))[0], "slides") == "╲"


def test_parts_are_told_with_role_certainty_and_evidence():
    text = written(wrong_note_song())
    assert "#1  Keys   ≡ harmony  97 % sure  48 notes, C3–B3" in text
    assert "its name says sub" in text
    assert "#3  Drums  × drums    100 % sure  64 notes\n" in text  # drums have no compass
    assert "E minor  88 % sure, its notes 95 %  E F# G A B C D" in text
    assert "bar 1 140 bpm" in text and "bar 1 4/4" in text


def test_slides_and_fills_are_listed_in_words():
    chart, _ = overlap_song()
    assert "bar 5, beat 3: E1 to A#1, overlap, lands at -7.5 dB (Sub)" in written(chart)
    chart, _ = roll_song()
    assert "bar 6, beat 4: 12 hits, 1/32 triplet, velocity flat (Sub)" in written(chart)
    assert written(wrong_note_song()).count("none heard") == 2


def test_a_slide_between_the_notes_is_told_in_cents():
    chart = wrong_note_song()
    chart.slides = slides_of([{"origin": 28.0, "target": 30.5}] * 20)
    text = written(chart)
    assert "E1 to F#1 +50 cents, overlap (Sub)" in text
    assert "and 8 more" in text


def test_a_song_without_a_bass_says_what_to_do():
    chart = chart_of(midi_bytes(plain_line(4), 4), bass=())
    assert "no part is the bass; name one with --bass" in written(chart)


def test_a_stated_key_is_marked_as_stated():
    chart = chart_of(midi_bytes(plain_line(4), 4), facts=Facts(key=StatedKey(4, "minor")))
    assert "E minor  stated" in written(chart)


def test_a_key_is_told_with_the_certainty_of_its_notes_which_relative_keys_share():
    """Am F C G: its notes are sure, whether A or C is home is not."""
    chart = heard("tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*2\n")
    (line,) = [line for line in written(chart).splitlines() if line.startswith("  bars 1–8")]
    home, notes = (int(n) for n in re.findall(r"(\d+) %", line))
    assert home < 60 < notes
    assert "% sure, its notes" in line


def test_wide_names_keep_the_columns_and_ascii_streams_are_served():
    chart = chart_of(midi_bytes(plain_line(4), 4, bass_name="低音"))
    assert "#2  低音   ▂ bass" in written(chart)
    text = written(chart, width=40, encoding="ascii")
    assert text.isascii() and "_ bass" in text


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ("tempo 140", ["bar 1 140 bpm", "bar 1 4/4"]),
        ("", ["bar 1 120 bpm (the file states none)", "bar 1 4/4"]),
        ("tempo 140\nmeter none", ["bar 1 140 bpm", "bar 1 4/4 (the file states none)"]),
        ("tempo 140\ntempo 3 92.5", ["bar 1 140 bpm, bar 3 92.5 bpm", "bar 1 4/4"]),
    ],
)
def test_tempo_and_meter_and_whether_the_file_states_them(facts, told):
    """Standard MIDI Files 1.0: 120 beats a minute and 4/4 where nothing is said."""
    text = written(heard(f"{facts}\nkeys | A3+C4+E4:4 |*4\n"))
    lines = [row.strip() for row in text.splitlines()]
    assert [row for row in lines if "bpm" in row or "4/4" in row][-2:] == told


def test_more_tempi_than_are_told_are_counted():
    tempi = "\n".join(f"tempo {bar} {100 + bar}" for bar in range(1, MOST_LISTED + 3))
    text = written(heard(f"{tempi}\nkeys | A3+C4+E4:4 |*{MOST_LISTED + 4}\n"), width=400)
    assert f"bar {MOST_LISTED} {100 + MOST_LISTED} bpm, and 2 more" in text


def test_drums_alone_have_no_key():
    assert "not told: nothing pitched sounds" in written(heard("drums | C2:4 |*4\n"))
    assert "nothing pitched" not in written(heard("keys | A3+C4+E4:4 |*4\n"))
