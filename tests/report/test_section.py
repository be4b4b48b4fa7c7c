"""One file's share of a report: what is counted of it, at which gate it fails, and what is said of
a song that was hardly judged. The formats print these and count nothing."""

from __future__ import annotations

import io
import json
import os
from collections.abc import Iterable

import pytest
from beats import report
from report_cases import full_report, wrong_note_song, wrong_notes

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts, StatedLoop
from basslint.judging.results import FileReport, Finding, Problem, Unjudged
from basslint.report.formats import format_named
from basslint.report.section import (
    Sheet,
    Tally,
    bassless,
    lacking,
    rootless,
    section_of,
    sheet_for,
    total,
    unreadable,
)
from basslint.rulebook.loader import read_book
from basslint.rulebook.model import Level
from basslint.rulebook.notation import compile_beat
from basslint.util.records import replace

BOOK = read_book()
CHART = wrong_note_song(16)
FIRST, SECOND = wrong_notes(CHART)
PLAIN = Sheet()


def file_of(*findings: Finding, **more: object) -> FileReport:
    return FileReport(path="a.mid", chart=CHART, findings=findings, **more)  # type: ignore[arg-type]


def at(level: Level, rule: str = "off-root") -> Finding:
    return replace(FIRST, level=level, rule=rule)


MIXED = (at("note"), at("note"), at("warning"), at("error"), at("error").waive("meant"))


@pytest.mark.parametrize(("gate", "failing"), [("error", 1), ("warning", 2), ("note", 4)])
def test_findings_are_counted_by_level_and_those_from_the_gate_on_fail(
    gate: Level, failing: int
) -> None:
    tally = section_of(file_of(*MIXED), Sheet(gate=gate), "").tally
    assert tally == Tally(error=1, warning=1, note=2, waived=1, failing=failing)
    assert [tally.of(level) for level in ("error", "warning", "note")] == [1, 1, 2]


def test_the_tally_of_a_run_adds_up_all_files_and_counts_those_that_cannot_be_read() -> None:
    one = section_of(file_of(*MIXED), PLAIN, "")
    broken = FileReport(path="b.mid", problem=Problem("damaged", "It is damaged."))
    sections = [one, section_of(broken, PLAIN, ""), one]
    assert total(sections) == Tally(error=2, warning=2, note=4, waived=2, failing=2)
    assert total([]) == Tally()
    assert unreadable(sections) == 1 and sections[1].bars == 0


def test_rules_that_spoke_are_named_once_and_waived_ones_apart() -> None:
    findings = (at("error", "b"), at("error", "a"), at("note", "a"), at("note", "c").waive("so"))
    made = section_of(file_of(*findings), PLAIN, "")
    assert (made.spoke, made.named, made.bars) == (("a", "b"), ("a", "b", "c"), 16)


@pytest.mark.parametrize(
    ("findings", "mendable"),
    [((FIRST,), True), ((replace(FIRST, fix=None),), False), ((FIRST.waive("meant"),), False)],
)
def test_mending_is_spoken_of_where_a_fix_is_open(
    findings: tuple[Finding, ...], mendable: bool
) -> None:
    assert section_of(file_of(*findings), PLAIN, "").mendable is mendable


@pytest.mark.parametrize(
    ("file", "silent"),
    [
        (file_of(), True),
        (file_of(unjudged=(Unjudged("off-root", 1, 3, "why"),)), True),
        (file_of(FIRST), False),
        (file_of(FIRST.waive("meant")), False),
        (file_of(warnings=("odd",)), False),
        (file_of(faults=("off-root failed",)), False),
        (FileReport(path="b.mid", problem=Problem("damaged", "It is damaged.")), False),
    ],
)
def test_a_file_of_which_there_is_nothing_to_say(file: FileReport, silent: bool) -> None:
    assert section_of(file, PLAIN, "").silent is silent


SUB = "sub | A1:3.5 .:.5 | F1:3.5 .:.5 | C2:3.5 .:.5 | G1:3.5 .:.5 |*2\n"
KEYS = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*2\n"
DRUMS = "drums | C2 D2 C2 D2 |*8\n"


def beat(text: str, of: Iterable[object] = BOOK) -> FileReport:
    made = compile_beat(f"tempo 140\n{text}")
    return report(made.data, made.facts, of)  # type: ignore[arg-type]


def test_rules_that_had_no_bass_to_judge_are_counted() -> None:
    file = beat(KEYS)
    assert bassless(file) > 10 and bassless(beat(KEYS + SUB)) == 0
    two = (Unjudged("a", 1, 9, "x"), Unjudged("a", 1, 9, "y"), Unjudged("b", 1, 9, "x"))
    places = (Unjudged("c", 2, 9, "from bar 2"), Unjudged("d", 1, 8, "but for the last"))
    assert bassless(replace(file, unjudged=(*two, *places))) == 2
    assert bassless(FileReport(path="b.mid", problem=Problem("damaged", "It is damaged."))) == 0


@pytest.mark.parametrize(
    ("chords", "said"),
    [
        ("", "roots were not judged"),
        ("chords N.C.\n", "roots were not judged"),
        ("chords Am N.C.*7\n", "roots were judged in 1 of 8 bars"),
        ("chords Am F C N.C.*5\n", "roots were judged in 3 of 8 bars"),
        ("chords Am F C G N.C.*4\n", ""),  # half of them
        ("chords Am F C G\n", ""),
    ],
)
def test_a_song_of_which_less_than_half_was_judged_is_told(chords: str, said: str) -> None:
    file = beat(chords + DRUMS + SUB)
    assert rootless(file) == section_of(file, PLAIN, "").rootless == said
    assert rootless(beat(chords + DRUMS + SUB, ())) == ""  # nobody asked for roots


@pytest.mark.parametrize(
    ("text", "alone"),
    [(SUB, True), (KEYS + SUB, False), ("chords Am F C G\n" + SUB, False), (KEYS, True)],
)
def test_a_file_of_one_part_whose_harmony_nobody_states_is_alone(text: str, alone: bool) -> None:
    file = beat(text)
    assert section_of(file, PLAIN, "").alone is alone
    over_a_loop = Chart(file.chart.song, Facts(loops=(StatedLoop(file="a.wav"),)))  # type: ignore[union-attr]
    assert not section_of(replace(file, chart=over_a_loop, unjudged=()), PLAIN, "").alone


@pytest.mark.parametrize(
    ("share", "lacks"), [(None, False), (0.5, True), (0.8, False), (0.75, False), (0.74, True)]
)
def test_a_strict_run_fails_for_what_was_not_judged(share: float | None, lacks: bool) -> None:
    file = beat(f"chords Am F N.C.*6\n{DRUMS}{SUB}")  # two of eight bars
    sheet = Sheet(most_unjudged=share)
    said = "the roots of 6 of 8 bars were not judged" if lacks else ""
    assert lacking(file, sheet).startswith(said) and bool(lacking(file, sheet)) is lacks
    told = json.loads("".join(format_named("json").section(file, BOOK, sheet).text))["judged"]
    assert told["lacks"] == (lacking(file, sheet) or None)
    assert (told["bass_bars"], told["root_bars"], told["root_sources"]) == (8, 2, ["stated"])
    assert lacking(FileReport(path="b.mid", problem=Problem("damaged", "It is.")), sheet) == ""


class Screen(io.StringIO):
    """A terminal that says nothing of its width."""

    encoding = "utf-16"

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("stream", "words", "sheet"),
    [
        (io.StringIO(), {}, Sheet(width=80)),  # it has no encoding, and holds any text
        (io.StringIO(), {"width": 120}, Sheet(width=120)),
        (Screen(), {}, Sheet(width=77, encoding="utf-16", terminal=True)),
        (Screen(), {"width": 40}, Sheet(width=40, encoding="utf-16", terminal=True)),
        (Screen(), {"width": 40, "piped": True}, Sheet()),
        (io.TextIOWrapper(io.BytesIO(), "ascii"), {}, Sheet(encoding="ascii")),
    ],
)
def test_what_a_stream_can_carry(
    stream: io.TextIOBase, words: dict[str, int], sheet: Sheet, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(os.environ, "COLUMNS", "77")
    assert sheet_for(stream, **words) == sheet  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["text", "json", "sarif", "junit", "markdown", "html"])
def test_every_format_counts_the_same(name: str) -> None:
    sheet = Sheet(gate="note", index=("off-root",))
    whole = [section_of(file, sheet, "") for file in full_report().files]
    made = [format_named(name).section(file, (), sheet) for file in full_report().files]
    assert [s.tally for s in made] == [s.tally for s in whole]
    assert total(made) == Tally(error=2, note=1, waived=1, failing=3)
