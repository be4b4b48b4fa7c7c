"""What stands over a file's findings: that it is clean, as far as anybody looked."""

from __future__ import annotations

import io
from types import SimpleNamespace

import numpy as np
import pytest
from beats import heard, report

from basslint.judging.results import FileReport, Problem
from basslint.mending.account import Choice
from basslint.mending.mend import mend
from basslint.report.formats.lesson_text import print_page
from basslint.report.formats.mend_text import print_mended
from basslint.report.heading import song_facts, standing
from basslint.report.section import rootless
from basslint.rulebook.loader import read_book
from basslint.rulebook.notation import compile_beat
from basslint.util.records import replace

BOOK = read_book()
DRUMS = "drums | C2 D2 C2 D2 |*8\n"
SUB = "sub | A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |*2"
KEYS = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*2\n"


def said(text: str) -> str:
    beat = compile_beat(f"tempo 140\n{text}")
    return standing(report(beat.data, beat.facts, BOOK))


def test_a_clean_beat_is_told_to_be_clean_where_its_roots_were_judged() -> None:
    assert said(f"{KEYS}{DRUMS}{SUB}") == "nothing is off"
    alone = said(f"{DRUMS}{SUB}")
    assert alone == "roots were not judged"
    some = said(f"chords Am F N.C.*6\n{DRUMS}{SUB}")
    assert some == "nothing is off in what was judged; roots were judged in 2 of 8 bars"


def test_nothing_is_said_to_be_right_where_a_rule_failed_or_nothing_was_read() -> None:
    beat = compile_beat(f"tempo 140\n{KEYS}{DRUMS}{SUB}")
    file = report(beat.data, beat.facts, BOOK)
    assert standing(replace(file, faults=("off-root failed: KeyError",))) == ""
    assert standing(FileReport(path="a.mid", problem=Problem("damaged", "It is damaged."))) == ""


def test_nothing_is_said_to_be_right_of_a_beat_with_a_finding() -> None:
    beat = compile_beat(f"tempo 140\nchords Am F N.C.*6\n{DRUMS}{SUB.replace('F1', 'F#1')}")
    file = report(beat.data, beat.facts, BOOK)
    assert file.findings and standing(file) == ""
    assert rootless(file) == "roots were judged in 2 of 8 bars"


def test_a_page_tells_what_is_heard_before_its_numbers() -> None:
    page = io.StringIO()
    print_page(next(r for r in BOOK if r.name == "too-low"), page, width=100)
    text = page.getvalue()
    assert (
        0 < text.index("What you hear") < text.index("Why it matters") < text.index("lowest_hz =")
    )


def test_equal_mends_are_told_once() -> None:
    wrong = "A1:3.5 .:.5 | F#1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 || A1:3.5 .:.5 | "
    wrong += "F#1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 ||"
    plain = "A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |*2"
    keys = KEYS.replace("*2", "*4")
    beat = compile_beat(f"tempo 140\n{keys}sub | {wrong} {plain}")
    result = mend(beat.data, lambda data: report(data, beat.facts, BOOK), Choice(by_ear=True))
    assert len(result.applied) == 2
    slip = io.StringIO()
    print_mended(result, None, True, slip, width=100)
    told = [line for line in slip.getvalue().splitlines() if line.startswith("mended")]
    assert len(told) == 1
    assert "bars 2 and 6, beat 1" in told[0]


@pytest.mark.parametrize(
    ("head", "bpm", "meter"),
    [
        ("tempo 140", "140 bpm", "4/4"),
        ("tempo 92.46", "92.5 bpm", "4/4"),
        ("tempo 140\ntempo 3 92.5", "92.5–140 bpm", "4/4"),  # the slowest and the fastest
        ("tempo 90\ntempo 3 91\ntempo 4 120", "90–120 bpm", "4/4"),
        ("tempo 120\ntempo 3 120.01", "120 bpm", "4/4"),  # nobody hears the difference
        ("tempo 120\nmeter 3/4", "120 bpm", "3/4"),
    ],
)
def test_tempo_and_meter_in_the_line_of_a_song(head: str, bpm: str, meter: str) -> None:
    beats = int(meter[0])
    facts = song_facts(heard(f"{head}\nkeys | A3+C4+E4:{beats} |*4\n"))
    assert (facts[0], facts[2], facts[3]) == ("4 bars", bpm, meter)


@pytest.mark.parametrize(
    ("tonics", "said"),
    [
        ([0], "C major"),
        ([0, 7, 0], "C major, G major"),  # each once
        ([0, -1, 7, 2], "C major, G major, D major"),
        ([0, 7, 2, 9], "C major, G major, D major, …"),
        ([-1], "key not told"),
        ([], "key not told"),
    ],
)
def test_the_keys_of_a_song_in_its_line(tonics: list[int], said: str) -> None:
    chart = heard("tempo 120\nkeys | A3+C4+E4:4 |*4\n")
    chart.keys = SimpleNamespace(tonic=np.array(tonics), mode=("major",) * len(tonics))
    assert song_facts(chart)[4] == said
