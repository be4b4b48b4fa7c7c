"""What reports say of a finding beside its sentence: readings in words, what to type, what to do.

Names of units and of what rules need are those of ``basslint rules --readings``.
"""

from __future__ import annotations

import math

import pytest
from report_book import rule
from report_cases import chart_of, finding, midi_bytes, plain_line, wrong_note_song, wrong_notes

from basslint.fixes.edits import Fix
from basslint.judging.results import FileReport, Finding, Problem, Report, Unjudged
from basslint.readings.subjects import Value
from basslint.report.formats.html import commands, todo
from basslint.report.formats.json_values import plain, posix
from basslint.report.formats.junit import report_junit
from basslint.report.formats.markdown import MOST_FILES, MOST_GROUPS, report_markdown
from basslint.report.formats.reading_words import in_words, readings_in_words
from basslint.report.formats.rule_words import rule_lines
from basslint.report.grouping import grouped
from basslint.report.heading import song_facts
from basslint.rulebook.loader import read_book
from basslint.util.records import replace

CHART = wrong_note_song()
FIRST = wrong_notes(CHART)[0]
SAFE, BY_EAR = Fix("Move F#1 to E1", "safe", ()), Fix("Move F#1 to G1", "by-ear", ())


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (True, "yes or no", "yes"),
        (False, "yes or no", "no"),
        (None, "beats", "cannot be told"),
        (math.nan, "beats", "cannot be told"),
        ("root-follow", "text", "root follow"),
        (1, "beats", "1 beat"),
        (1.0, "semitones", "1 semitone"),
        (2.5, "beats", "2.5 beats"),
        (1, "dB", "1 dB"),
        (0.931, "share", "93 %"),
        (0.5, "share of the bar", "50 % of the bar"),
        (100, "1–127", "100"),
        (31, "MIDI number", "31"),
    ],
)
def test_a_reading_in_words(value: Value, unit: str, words: str) -> None:
    assert in_words(value, unit) == words


def test_readings_of_a_finding_have_the_units_of_their_subject() -> None:
    read = replace(FIRST, readings=(("length", 1.0), ("pitch", 30), ("own", "x-y")))
    units = dict(readings_in_words(read, "bass-note"))
    assert list(units) == ["length", "pitch", "own"]
    assert units == {"length": "1 beat", "pitch": "30", "own": "x y"}
    assert dict(readings_in_words(read, None))["length"] == "1"  # nobody knows its unit


def test_what_a_rule_judges_needs_and_measures_by() -> None:
    book = {r.name: r for r in read_book()}
    lines = rule_lines(rule(judges="bass-note", because=("off-root", "too-low")))
    assert lines[0] == "judges every bass note"
    assert lines[1].startswith("needs ") and lines[1].endswith(" % sure")
    assert lines[2] == "silent where off-root or too-low already speaks of the note"
    assert lines[3:] == ["least_beats = 0.5 (beats): Shorter notes pass by."]
    assert rule_lines(rule(needs=(("root", 0.99),)))[1].endswith(", 99 % sure")
    milder = next(r for r in book.values() if {c.level for c in r.cases} == {"error", "warning"})
    assert rule_lines(milder)[0].endswith("; at times only a warning")
    one = next(r for r in book.values() if {c.level for c in r.cases} == {r.level})
    assert "at times" not in rule_lines(one)[0]


@pytest.mark.parametrize(
    ("findings", "said"),
    [
        ((), ""),
        ((FIRST.waive("meant"),), ""),
        ((replace(FIRST, fix=SAFE, cause="a"),), "1 thing: 1 is mended safely"),
        (
            tuple(
                replace(FIRST, fix=fix, cause=str(n))
                for n, fix in enumerate((SAFE, SAFE, BY_EAR, BY_EAR, BY_EAR, None))
            ),
            "6 things: 2 are mended safely, 3 by ear, 1 by hand",
        ),
        (
            (replace(FIRST, fix=BY_EAR), replace(FIRST, fix=BY_EAR), replace(FIRST, fix=None)),
            "2 things in 3 findings: 1 by ear, 1 by hand",
        ),
    ],
)
def test_what_to_do_about_a_song(findings: tuple[Finding, ...], said: str) -> None:
    assert todo(grouped(findings)) == said


MEND = "basslint mend a.mid --only off-root"
WAIVE = 'basslint waive a.mid off-root --bar 5 --reason "…"'


@pytest.mark.parametrize(
    ("found", "typed"),
    [
        (replace(FIRST, fix=SAFE), [MEND, WAIVE]),
        (replace(FIRST, fix=BY_EAR), [f"{MEND} --by-ear", WAIVE]),
        (replace(FIRST, fix=None), [WAIVE]),
        (replace(FIRST, fix=None, part=None), [WAIVE.replace(" --bar 5", "")]),
        (FIRST.waive("meant"), []),
    ],
)
def test_what_to_type_for_a_finding(found: Finding, typed: list[str]) -> None:
    assert [line for _, line in commands("a.mid", found)] == typed
    stated = [line for _, line in commands("my a.mid", found, "--bass Sub")]
    assert stated == [line.replace("a.mid", "'my a.mid' --bass Sub") for line in typed]


def alone(name: str) -> Finding:
    return replace(FIRST, cause=name)


@pytest.mark.parametrize("over", [0, 1])
def test_a_comment_counts_what_it_leaves_away(over: int) -> None:
    findings = tuple(alone(str(n)) for n in range(MOST_GROUPS + over))
    text = report_markdown(Report((FileReport(path="a.mid", chart=CHART, findings=findings),)), ())
    assert text.count("- ● **error**") == MOST_GROUPS
    assert ("…and 1 more finding." in text) is bool(over) and ("more finding" in text) is bool(over)
    named = tuple(
        FileReport(path=f"{n}.mid", chart=CHART, findings=(FIRST,))
        for n in range(MOST_FILES + over)
    )
    table = report_markdown(Report(named), ())
    assert table.count("\n| `") == MOST_FILES
    assert ("…and 1 more file with findings." in table) is bool(over)


def test_an_unjudged_rule_is_skipped_where_it_was_blind_in_every_bar() -> None:
    bars = CHART.song.grid.bars

    def case(*places: Unjudged) -> str:
        file = FileReport(path="a.mid", chart=CHART, unjudged=places)
        text = report_junit(Report((file,)), (rule(),))
        return next(line for line in text.split("<testcase")[1:] if 'name="off-root"' in line)

    whole, last = (Unjudged("off-root", 1, end, "why") for end in (bars + 1, bars))
    assert '<skipped type="not judged"' in case(whole) and 'message="not judged, bars' in case(
        whole
    )
    assert "<system-out>not judged, bars" in case(last) and "skipped" not in case(last)
    assert "skipped" not in case(Unjudged("off-root", 2, bars + 1, "why"))
    assert "why" not in case(Unjudged("too-low", 1, bars + 1, "why"))
    broken = FileReport(path="b.mid", problem=Problem("damaged", "It is damaged.", "Export it."))
    text = report_junit(Report((broken,)), (rule(),))
    assert 'type="damaged" message="It is damaged. Export it."' in text
    assert 'name="off-root"' not in text and 'tests="1" failures="0" errors="1"' in text


def test_the_facts_of_a_song_in_one_line() -> None:
    facts = song_facts(CHART)
    assert facts[:6] == ("16 bars", "0:27", "140 bpm", "4/4", "E minor", "bass #2 Sub")
    chart = chart_of(midi_bytes(plain_line(4), 4), bass=())
    assert song_facts(chart)[0:1] + song_facts(chart)[5:] == ("4 bars", "no bass")
    chart.song.tempo.usec[:] = 60e6 / 92.46
    assert song_facts(chart)[2] == "92.5 bpm"


def test_values_that_json_has_no_word_for_are_null() -> None:
    assert (plain(math.nan), plain(math.inf), plain(1 / 3), plain(7)) == (None, None, 0.333333, 7)
    assert posix("beats/a.mid") == "beats/a.mid"


def test_places_of_a_finding_without_a_part_are_the_song_s() -> None:
    wide = finding(CHART, 0, 960, None, part=None, whole=True, fix=None)
    assert "whole song" in report_markdown(
        Report((FileReport(path="a.mid", chart=CHART, findings=(wide,)),)), ()
    )
