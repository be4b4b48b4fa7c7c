"""The account of a mending: readable as text, and as JSON by its schema."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import mido
import pytest

import basslint
from basslint.checking.book import book_for
from basslint.mending.account import Choice, Conflict, MendResult
from basslint.report.formats import text as text_format
from basslint.report.formats.json_values import schema
from basslint.report.formats.mend_json import mend_json
from basslint.report.formats.mend_text import print_mended
from basslint.report.grouping import MOST_DRAWN, UNDRAWN
from basslint.report.section import Sheet

SAMPLES = Path(__file__).parents[3] / "samples"
SCHEMA = schema("mend")
BOOK_AND_SHEET = basslint.Settings().choose(book_for(basslint.Settings())), Sheet()


def mended(by_ear: bool) -> MendResult:
    settings = basslint.Settings().with_facts(decay_s=1.5)
    return basslint.mend(SAMPLES / "spilled-tea.mid", settings, Choice(by_ear))


def text(result: MendResult, target: Path | None, dry: bool = False) -> str:
    stream = io.StringIO()
    print_mended(result, target, dry, stream)
    return stream.getvalue()


@pytest.mark.parametrize("by_ear", [False, True])
def test_json_follows_its_schema(by_ear: bool) -> None:
    account = json.loads(mend_json(mended(by_ear), Path("out.mid")))
    jsonschema.validate(account, SCHEMA)
    assert account["written"] == "out.mid"
    rules = {a["finding"]["rule"] for a in account["applied"]}
    assert "off-root" in rules
    (edit,) = next(a for a in account["applied"] if a["finding"]["rule"] == "off-root")["edits"]
    assert (edit["do"], edit["from"], edit["to"]) == ("pitch", 30, 29)


def test_text_says_what_was_done_what_stands_and_why() -> None:
    said = text(mended(False), Path("out.mid"))
    assert "F#1 becomes F1" in said
    assert "still stands" in said and "--by-ear" in said
    assert said.rstrip().endswith("wrote out.mid. The original is as it was.")
    assert max(map(len, said.splitlines())) <= 80


def test_each_part_is_named_where_two_have_one_fault_in_the_same_bars() -> None:
    """Unnamed, both would be told in the same words, mended or left alike."""
    result = mended(False)
    done, left = result.applied[0], result.left[0]
    of_part = {
        name: replace(done.finding, part=replace(done.finding.part, name=name), cause=name)
        for name in ("Low piano", "Honky-tonk")
    }
    two = replace(
        result,
        applied=tuple(replace(done, finding=f) for f in of_part.values()),
        left=tuple(replace(left, finding=f) for f in of_part.values()),
    )
    told, stands = text(two, None).split("still stands")
    for name in of_part:
        assert told.count(f"{done.finding.rule} · {name}:") == 1
        assert stands.count(f"{done.finding.rule} · {name}:") == 1


def test_copies_of_one_fault_are_one_strip_as_in_a_check() -> None:
    """A strip for each of 24 copies hid the other faults, in the one as in the other."""
    result = mended(False)
    done, (rules, sheet) = result.applied[0], BOOK_AND_SHEET
    where = done.finding.where
    copies = tuple(
        replace(done, finding=replace(done.finding, where=replace(where, bar=where.bar + 4 * n)))
        for n in range(3)
    )
    said = text(replace(result, applied=copies, left=()), None)
    before = replace(result.before, findings=tuple(c.finding for c in copies))
    checked = text_format.section(before, rules, sheet).text
    bars = f"bars {where.bar}, {where.bar + 4} and {where.bar + 8}"
    assert said.count(" root ") == said.count(bars) == 1
    assert checked.count(done.fix.title) == checked.count(bars) == 1
    other = replace(copies[2], finding=replace(copies[2].finding, cause="another"))
    assert text(replace(result, applied=(*copies[:2], other)), None).count(" root ") == 2


def test_a_dry_run_says_that_nothing_was_written() -> None:
    assert "nothing was written" in text(mended(False), None, dry=True)


def test_a_clean_file_has_nothing_to_mend() -> None:
    settings = basslint.Settings().with_facts(decay_s=1.5)
    result = basslint.mend(SAMPLES / "wet-roofs.mid", settings, Choice(True))
    assert result.data == (SAMPLES / "wet-roofs.mid").read_bytes()
    said = text(result, None)
    assert "Nothing was mended" in said and "\n  nothing is off  16 bars" in said


def test_a_file_that_nobody_judged_is_not_told_as_if_it_were_clean(tmp_path: Path) -> None:
    """Drums alone: "nothing was mended" sounded as if all were well."""
    midi = mido.MidiFile(SAMPLES / "wet-roofs.mid")
    drums = [t for t in midi.tracks if not any(getattr(m, "channel", 9) != 9 for m in t)]
    midi.tracks[:] = drums
    midi.save(tmp_path / "drums.mid")
    said = text(basslint.mend(tmp_path / "drums.mid"), None)
    assert "no bass part was found" in said and "Nothing was mended" in said


def test_a_great_many_fixes_are_listed_and_not_all_drawn() -> None:
    """4,002 fixes, each drawn, took 22 seconds."""
    result = mended(True)
    done = result.applied[0]
    many = tuple(
        replace(done, finding=replace(done.finding, cause=f"cause {n}")) for n in range(300)
    )
    said = text(replace(result, applied=many), None, dry=True)
    assert said.count("mended  ") == 300
    assert said.count("as written") + said.count(" root ") <= 2 * MOST_DRAWN
    assert said.count(UNDRAWN) == 1


def test_a_great_many_findings_are_listed_and_not_all_drawn() -> None:
    report = mended(True).before
    many = tuple(replace(report.findings[0], cause=f"cause {n}") for n in range(300))
    section = text_format.section(replace(report, findings=many), *BOOK_AND_SHEET)
    assert section.text.count(report.findings[0].rule) >= 300
    assert section.text.count(" root ") == MOST_DRAWN
    assert section.text.count(UNDRAWN) == 1


@pytest.mark.parametrize(
    ("rules", "names", "choose"),
    [
        (("off-root", "off-root"), "off-root", "Mend one of them by hand."),
        (("two-keys", "off-root"), "off-root, two-keys", "Choose with --only RULE."),
    ],
)
def test_a_conflict_says_how_to_choose(rules: list[str], names: str, choose: str) -> None:
    result = mended(False)
    findings = [replace(f, rule=r) for f, r in zip(result.before.findings, rules, strict=False)]
    conflict = replace(result, conflicts=(Conflict(tuple(findings)),))
    said = f"conflict: {names}, bars 3 and 6, want to change the same notes, so none of it was"
    assert f"{said} applied. {choose}" in " ".join(text(conflict, None).split())


@pytest.mark.parametrize(
    ("target", "words", "ending"),
    [
        (None, {"dry_run": True}, "2 fixes would be applied; nothing was written."),
        (None, {}, "Nothing was mended; nothing was written."),
        ("out.mid", {}, "2 fixes applied; wrote out.mid. The original is as it was."),
        (
            "out.mid",
            {"replaced": True},
            "2 fixes applied; replaced out.mid. The original is as it was.",
        ),
        ("a.mid", {"replaced": True}, "2 fixes applied; wrote a.mid."),  # in its own place
        ("-", {}, "2 fixes applied; the song went to standard output."),
        ("night", {"parted": True}, "2 fixes applied."),  # which files, is told after it
    ],
)
def test_how_a_mending_ends(target: str | None, words: dict[str, bool], ending: str) -> None:
    whole = mended(True)
    before = replace(whole.before, path="a.mid")
    result = replace(whole, before=before, applied=whole.applied[:2], left=())
    stream = io.StringIO()
    path = None if target is None else Path(target)
    print_mended(result, path, stream=stream, **{"dry_run": False, **words})
    lines = stream.getvalue().splitlines()
    assert (lines[0], lines[-2:]) == ("a.mid", ["", ending])


def test_a_fix_that_was_taken_back_is_told() -> None:
    whole = mended(False)
    result = replace(whole, applied=whole.applied[:1], faults=("off-root: it made things worse",))
    said = text(result, Path("out.mid"))
    assert "\n  undone: off-root: it made things worse\n" in said
    assert "\n1 fix applied; wrote out.mid." in said
