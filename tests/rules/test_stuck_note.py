"""One missing note-off is one finding, of the right note, and mending it brings the beat back."""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard, report
from midi_bytes import meta, midi, track

from basslint.hear.facts import Facts
from basslint.mending.account import Choice, MendResult
from basslint.mending.mend import mend
from basslint.readings.against_parts import rub_beats
from basslint.readings.fills import overlapping_hits
from basslint.readings.harmony_shares import harmony_shares
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import NEVER, build

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


# a chord that never comes again, and one bar of a roll whose hits touch
ROLL = "G1:3 G1:1/8 G2:1/8 A1:1/8 G1:1/8x5"
FAR = "B3+D#4+F#4:4"
DRONE = f"""tempo 140
keys | {FAR} | {CHORDS} | {CHORDS} | A3+C4+E4:4 |
sub | B1:4 | {LINE} | {LINE.replace("G1:3.5 .:.5", ROLL)} | F#1:1 A1:3 |"""


@pytest.mark.parametrize(
    ("whole", "stuck"),
    [(FAR, f"{FAR}~never"), ("G2:1/8", "G2:1/8~never"), ("| B1:4", "| B1:4~never")],
)
def test_what_is_heard_is_as_if_the_next_note_had_ended_it(whole: str, stuck: str) -> None:
    """Each would drone on under bars that it has no part in; in the clean beat the notes touch."""
    clean, faulty = heard(DRONE), heard(DRONE.replace(whole, stuck, 1))
    assert (faulty.song.notes.off_row == NEVER).any()
    assert (faulty.song.notes.end >= clean.song.notes.end).all()
    assert (faulty.song.notes.end != clean.song.notes.end).any()
    for fact, names in FACTS.items():
        have, want = getattr(faulty, fact), getattr(clean, fact)
        for name in names:
            np.testing.assert_array_equal(getattr(have, name), getattr(want, name), fact)
    for reading in (rub_beats, harmony_shares, overlapping_hits):
        np.testing.assert_array_equal(reading(faulty), reading(clean), str(reading))


FACTS = {
    "parts": ("role", "certainty"),
    "roots": ("start", "root", "certainty"),
    "keys": ("tonic", "certainty", "fit"),
    "phrases": ("chance",),
    "slides": ("start", "note", "origin", "target"),
    "bass": ("start", "end", "pitch"),
}


def test_a_note_of_a_strummed_chord_is_not_ended_by_the_next_of_the_strum() -> None:
    strum = "A3:1/64~3.9 C4:1/64~3.9 E4:3.96"  # 7 ms apart
    done = mended(
        f"tempo 140\nkeys | {strum.replace('3.9', 'never', 1)} | A3+C4+E4:4 |*2\n"
        "sub | A1:3.5 .:.5 |*4"
    )
    (finding,) = done.before.findings
    assert (finding.rule, len(finding.places)) == ("stuck-note", 2)
    assert done.after.findings == ()
    song = build(scan(done.data))
    low = song.notes.take(song.notes.pitch == 57)
    assert (low.end - low.start).tolist() == [4 * song.division] * 4


def test_of_a_note_struck_twice_and_ended_once_the_double_goes() -> None:
    twice = [(0, b"\x90\x24\x64"), (0, b"\x90\x24\x64"), (900, b"\x80\x24\x00")]
    once = [(1020, b"\x90\x29\x64"), (900, b"\x80\x29\x00")]
    done = mend(
        midi(track((0, meta(3, b"Sub")), *twice, *once)), lambda raw: report(raw, Facts(), BOOK)
    )
    assert {"stuck-note", "doubled-note"} <= {f.rule for f in done.before.findings}
    assert done.conflicts == ()
    notes = build(scan(done.data)).notes
    spans = zip(notes.start.tolist(), notes.end.tolist(), notes.pitch.tolist(), strict=True)
    assert list(spans) == [(0, 900, 36), (1920, 2820, 41)]


@pytest.mark.parametrize("bars", [1, 3])
def test_a_stuck_note_a_hair_before_its_bar_ends_with_that_bar(bars: int) -> None:
    """A line that ends with the note: nothing in its part tells where it stops."""
    loop = f"A1:3.5 .:.5 | A1:3.5 .:.49 F1:.01~never | .:4 |{' .:4 |' * (bars - 1)}"
    done = mended(f"tempo 140\nkeys | {CHORDS} |*2\nsub | {loop}")
    (only,) = [a for a in done.applied if a.finding.rule == "stuck-note"]
    assert only.fix.edits[0].after == 3 * 4 * 480
    assert "empty-note" not in {f.rule for f in done.after.findings}
