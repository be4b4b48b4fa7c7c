"""One missing note-off is one finding, of the right note, and mending it brings the beat back."""

from __future__ import annotations

import pytest
from beats import report

from basslint.facts import Facts
from basslint.mending import Choice, MendResult, mend
from basslint.notation import compile_beat
from basslint.rulebook import read_book
from basslint.smf.scan import scan
from basslint.song import build

BOOK = read_book()
CHORDS = "A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4"
# slides up an octave in bar 1, which no slip may be taken for; quick notes that a drone would smear
LINE = "A1:2~0.5 A2:1 .:1 | F1:2 F1:.25 F2:.25 .:1.5 | C2:2 C2:.25 G1:.25 .:1.5 | G1:3.5 .:.5"
CLEAN = f"tempo 140\nkeys | {CHORDS} | {CHORDS} |\nsub | {LINE} | {LINE} |"


def mended(text: str) -> MendResult:
    data = compile_beat(text).data
    return mend(data, lambda raw: report(raw, Facts(), BOOK), Choice(by_ear=True))


FAULTS = [
    # what is written, and with the fault, which is put in where it first stands; bar and pitch
    ("C2:2 C2:.25", "C2:2~never C2:.25", 3, 36),  # its key is struck again at once
    ("F2:.25 .:1.5", "F2:.25~never .:1.5", 2, 41),  # a line ahead
    ("G1:.25 .:1.5", "G1:.25~never .:1.5", 3, 31),  # at the next note, which slides nowhere
    ("A2:1 .:1", "A2:1~never .:1", 1, 45),  # a note that is slid to
]


@pytest.mark.parametrize(("whole", "stuck", "bar", "pitch"), FAULTS)
def test_one_missing_end_is_one_finding_however_often_the_pitch_comes_again(
    whole: str, stuck: str, bar: int, pitch: int
) -> None:
    assert report(compile_beat(CLEAN).data, Facts(), BOOK).findings == ()
    done = mended(CLEAN.replace(whole, stuck, 1))
    told = [(f.rule, f.where.bar, f.pitch) for f in done.before.findings]
    assert told == [("stuck-note", bar, pitch)]
    assert (len(done.applied), done.after.findings, done.faults) == (1, (), ())


def test_a_chord_that_is_never_ended_clouds_nothing_after_it() -> None:
    """Three notes droned on under all chords to come: the bass would stand off every root."""
    chords = "A3+C#4+E4:4 | F3+A3+C4:4 | Bb3+D4+F4:4 | G3+B3+D4:4"
    line = "A1:3.5 .:.5 | F1:3.5 .:.5 | Bb1:3.5 .:.5 | G1:3.5 .:.5"
    clean = (
        f"tempo 140\nkeys | {chords} | {chords} | F3+A3+C4:4 |\nsub | {line} | {line} | F1:3.5 |"
    )
    before = report(compile_beat(clean).data, Facts(), BOOK).findings
    faulty = clean.replace("A3+C#4+E4:4", "A3+C#4+E4:4~never")
    found = report(compile_beat(faulty).data, Facts(), BOOK).findings
    stuck = [f for f in found if f.rule == "stuck-note"]
    assert [(f.where.bar, f.pitch) for f in stuck] == [
        (bar, pitch) for bar in (1, 5) for pitch in (57, 61, 64)
    ]
    rest = [(f.rule, f.where.tick, f.message) for f in found if f.rule != "stuck-note"]
    assert rest == [(f.rule, f.where.tick, f.message) for f in before]


def test_a_note_of_a_strummed_chord_is_not_ended_by_the_next_of_the_strum() -> None:
    strum = "A3:1/64~3.9 C4:1/64~3.9 E4:3.96"  # 7 ms apart
    done = mended(
        f"tempo 140\nkeys | {strum.replace('3.9', 'never', 1)} | A3+C4+E4:4 |*2\n"
        "sub | A1:3.5 .:.5 |*4"
    )
    assert [f.rule for f in done.before.findings] == ["stuck-note"] * 2
    assert done.after.findings == ()
    song = build(scan(done.data))
    low = song.notes.take(song.notes.pitch == 57)
    assert (low.end - low.start).tolist() == [4 * song.division] * 4
