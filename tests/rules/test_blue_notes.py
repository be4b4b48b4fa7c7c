"""A short blue note that resolves is let be; one that stands, or goes nowhere, is not.

Common practice, no source; blue notes: Open Music Theory.
"""

from __future__ import annotations

import pytest
from beats import heard, judged
from slide_songs import note, song_of

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.readings.base import registered
from basslint.rulebook.loader import read_book
from basslint.theory.scales import SCALES

BOOK = read_book()
MINOR = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8"
MAJOR = "keys | C3+E3+G3:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*8"
REST = "F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |*8"


@pytest.mark.parametrize(
    ("keys", "bar", "told"),
    [
        (MINOR, "A1:2 D#2:.5 D2:.5 C2:.5 A1:.5", []),  # the lowered fifth, down
        (MINOR, "A1:2 D#2:.5 E2:.5 C2:.5 A1:.5", []),  # and up
        (MAJOR, "C2:2 D#2:.5 E2:.5 G2:.5 C2:.5", []),  # the third of a major key
        (MINOR, "A1:2 D#2:.5 A1:1 .:.5", ["off-root"]),  # goes nowhere
        (MINOR, "A1:2 D#2:1 D2:1", ["off-root"]),  # stands
        (MINOR, "D#2:.5 E2:.5 A1:2.5 .:.5", ["off-root"]),  # on the bar line
    ],
)
def test_a_blue_note_in_every_loop_is_excused_where_it_resolves(
    keys: str, bar: str, told: list[str]
) -> None:
    found = judged(f"tempo 140\n{keys}\nsub | {bar} | {REST}", BOOK).findings
    assert [f.rule for f in found if f.family == "harmony" and f.level != "note"] == told


def resolved(text: str) -> list[bool]:
    """Which bass notes are blue notes that resolve."""
    return registered("bass-note")["resolved_blue"].column(heard(f"tempo 120\n{text}")).tolist()


@pytest.mark.parametrize(
    ("key", "bar", "blue"),
    [
        ("C major", "C2:2 D#2:.5 E2:.5 C2:1", True),  # the third,
        ("C major", "C2:2 A#1:.5 B1:.5 C2:1", True),  # the seventh
        ("C major", "C2:2 F#2:.5 G2:.5 C2:1", True),  # and the fifth, up
        ("C major", "C2:2 F#2:.5 F2:.5 C2:1", True),  # or down
        ("C major", "C2:2 G#1:.5 G1:.5 C2:1", False),  # no lowered degree of the blues
        ("C major", "C2:2 C#2:.5 D2:.5 C2:1", False),
        ("C lydian", "C2:2 F#2:.5 G2:.5 C2:1", False),  # of the scale
        ("C mixolydian", "C2:2 A#1:.5 B1:.5 C2:1", False),
        ("C minor", "C2:2 D#2:.5 D2:.5 C2:1", False),
        ("C minor", "C2:2 F#2:.5 G2:.5 C2:1", True),
        ("A minor", "C2:2 D#2:.5 E2:.5 C2:1", True),  # degrees count from the tonic
        ("C major", "C2:2 D#2:.75 E2:.25 C2:1", True),
        ("C major", "C2:2 D#2:.8 E2:.2 C2:1", False),  # too long
        ("C major", "C2:2 D#2:.5~.5 E2:.5 C2:1", False),
        ("C major", "C2:2 D#2:.5 .:.25 E2:.25 C2:1", True),
        ("C major", "C2:2 D#2:.5 .:.3 E2:.2 C2:1", False),  # a rest parts them
        ("C major", "C2:2 D#2:.5 C2:.5 C2:1", False),  # by more than a semitone
        ("C major", "C2:2 D#2:.5 D#2:.5 C2:1", False),  # struck again
        ("C major", "C2:2 D#2:.5 E3:.5 C2:1", False),
    ],
)
def test_which_notes_are_blue_and_resolve(key: str, bar: str, blue: bool) -> None:
    found = resolved(f"key {key}\nkeys | C3+G3:4 |*2\nsub | {bar} | C2:4 |\n")
    assert found == [row == 1 and blue for row in range(len(found))]


@pytest.mark.parametrize(
    "line",
    [
        "D#2:.5 E2:.5 C2:3 | C2:4",  # on the bar line it leans on nothing
        "E2:4 | C2:3.5 D#2:.5",  # the last note goes nowhere, whatever the first one is
    ],
)
def test_where_a_blue_note_does_not_resolve(line: str) -> None:
    assert not any(resolved(f"key C major\nkeys | C3+G3:4 |*2\nsub | {line} |\n"))


def test_a_bass_of_empty_notes_has_no_key_to_be_blue_in() -> None:
    song = song_of(*(note(480 * beat, 480 * beat, 36) for beat in range(8)))
    chart = Chart(song, Facts(bass=("#1",)))
    assert len(chart.bass) == 8 and not len(chart.keys)
    assert registered("bass-note")["resolved_blue"].column(chart).tolist() == [False] * 8


def test_a_semitone_beside_a_blue_note_lies_in_every_scale_without_it() -> None:
    """Why the reading need not ask where it goes, nor of which mode the key is."""
    for scale in SCALES.values():
        blue = [degree for degree in (3, 6, 10) if degree not in scale]
        assert all({degree - 1, degree + 1} <= set(scale) for degree in blue)
        assert 3 not in scale or blue in ([], [6])
