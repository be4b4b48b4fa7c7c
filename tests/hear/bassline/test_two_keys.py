"""Basses in another key than the other parts. Degrees of the scale: Open Music Theory."""

from __future__ import annotations

import pytest
from beats import heard, judged

from basslint.rulebook.loader import read_book

MAJOR = "tempo 140\nkeys | A3+C#4+E4:4 | D3+F#3+A3:4 | A3+C#4+E4:4 | E3+G#3+B3:4 |*4\n"
MINOR = "A1:2 C2:1 E2:1 | D2:2 F2:1 A1:1 | A1:2 C2:1 B1:1 | E2:2 G1:1 B1:1"


def test_a_minor_line_under_major_chords_is_one_finding_that_shows_both() -> None:
    found = judged(f"{MAJOR}sub | {MINOR} |*4", read_book()).findings
    (only,) = [f for f in found if f.family == "harmony"]
    assert (only.rule, only.level) == ("two-keys", "warning")
    assert only.message.startswith("Sub plays in A minor, the others in A major: 25 % of its time")
    assert only.message.endswith("In theirs it would have C# for C, F# for F and G# for G.")
    assert only.fix is not None and only.fix.kind == "by-ear"
    assert {(e.before, e.after) for e in only.fix.edits} == {(36, 37), (41, 42), (31, 32)}


@pytest.mark.parametrize(
    "line",
    [
        MINOR.replace("C2", "C#2").replace("F2", "F#2").replace("G1", "G#1"),
        MINOR.replace("F2", "F#2").replace("G1", "G#1"),  # one foreign tone: a slip, or a blue note
        "A1:4 | D2:4 | A1:4 | E2:4",
    ],
)
def test_in_their_key_or_with_one_foreign_tone_it_is_silent(line: str) -> None:
    assert len(heard(f"{MAJOR}sub | {line} |*4").two_keys.part) == 0


def test_what_another_part_sounds_is_not_foreign() -> None:
    lead = "lead | A4:2 C5:1 E5:1 | D5:2 F4:1 A4:1 | A4:2 C5:1 B4:1 | E5:2 G4:1 B4:1 |*4\n"
    assert len(heard(f"{MAJOR}{lead}sub | {MINOR} |*4").two_keys.part) == 0


def test_chords_that_go_from_key_to_key_have_none_to_disagree_with() -> None:
    """A riff of root and flat seventh under major sevenths that climb is a riff."""
    stay = "keys | C3+E3+G3+B3:4 | F3+A3+C4+E4:4 | C3+E3+G3+B3:4 | A3+C4+E4+G4:4 |*4\n"
    climb = "keys | C3+E3+G3+B3:4 | Bb3+D4+F4+A4:4 | C3+E3+G3+B3:4 | D3+F#3+A3+C#4:4 |*4\n"
    line = "sub | C2:2 Bb1:1 C2:1 | F1:2 Eb2:1 F1:1 | C2:2 Eb2:1 C2:1 | A1:2 Bb1:1 A1:1 |*4"
    riff = "sub | C2:2 Bb1:1 C2:1 | Bb1:2 Ab1:1 Bb1:1 | C2:2 Bb1:1 C2:1 | D2:2 C2:1 D2:1 |*4"
    assert len(heard(f"tempo 140\n{stay}{line}").two_keys.part) == 1
    assert len(heard(f"tempo 140\n{climb}{riff}").two_keys.part) == 0


FOURS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*10\n"
RIGHT = ("A1:2.5 A1:1.5", "F1:2.5 F1:1.5", "C2:2.5 C2:1.5", "G1:2.5 G1:1.5")


def test_wrong_notes_here_and_there_make_no_key_of_their_own() -> None:
    """In every fifth bar a note is a semitone too high, on four tones: each was hidden under a key
    that held one of them."""
    bars = [RIGHT[n % 4] for n in range(40)]
    for n, wrong in zip(range(3, 40, 5), ("G#1", "Bb1", "F#1", "C#2") * 2, strict=True):
        bars[n] = f"{wrong}:2.5 {bars[n].split()[1]}"
    beat = f"{FOURS}sub | {' | '.join(bars)} |"
    assert len(heard(beat).two_keys.part) == 0
    found = [f for f in judged(beat, read_book()).findings if f.rule == "off-root"]
    assert {f.where.bar for f in found} == set(range(4, 41, 5))


def test_a_slip_in_a_line_of_another_key_is_told_beside_it() -> None:
    lines = [MINOR] * 3 + [MINOR.replace("D2:2", "D#2:2")]
    found = judged(f"{MAJOR}sub | {' | '.join(lines)} |", read_book()).findings
    told = {(f.rule, f.where.bar) for f in found if f.family == "harmony"}
    assert told == {("two-keys", 1), ("off-root", 14)}
