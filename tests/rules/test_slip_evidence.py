"""What was weighed for a slip is told with its weights: in findings, in JSON, and by `explain`."""

from __future__ import annotations

import io
import json

import numpy as np
import pytest
from beats import heard, judged
from jsonschema import Draft202012Validator

from basslint.judging.results import FileReport, Finding, Report
from basslint.readings.base import registered as readings
from basslint.readings.slip import figure_slip_chance, slip_chance
from basslint.readings.slip_evidence import Weighed, evidence_of, weighed_by
from basslint.readings.slip_weights import FIGURE, LONE
from basslint.report.formats.json_report import report_json
from basslint.report.formats.json_values import schema
from basslint.report.formats.lesson_text import print_page
from basslint.rulebook.loader import read_book

BOOK = read_book()
OFF_ROOT = next(r for r in BOOK if r.name == "off-root")
KEYS = "tempo 140\nkeys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4\n"
RIGHT = "A1:4 | F1:4 | C2:4 | G1:4"
ONE = f"{KEYS}sub | A1:4 | F#1:4 | C2:4 | G1:4 || {RIGHT} |*3"
COPIES = f"{KEYS}sub | A1:4 | F#1:4 | C2:4 | G1:4 |*4"


def off_root(text: str) -> Finding:
    return next(f for f in judged(text, [OFF_ROOT]).findings)


def test_a_lone_wrong_note_names_all_that_was_weighed() -> None:
    found = off_root(ONE)
    told = {w.reading: w for w in found.evidence}
    assert told["supported"].words == "nobody else plays F# with it"
    assert told["heard_near"].words == "nobody else plays F# for bars around"
    assert told["rub_share"].words == "it rubs against F for 4 beats"
    assert told["semitone_in_copies"].words == "elsewhere the bass has F there"
    assert told["copies_alike"].words == "no other note on its place under this chord is F#"
    assert told["in_scale_chance"].words == "it is foreign to the scale"
    assert told["supported"].how_much == "much"
    sizes = [abs(w.weight) for w in found.evidence]
    assert sizes == sorted(sizes, reverse=True)
    assert len({w.words for w in found.evidence}) == len(found.evidence)


def test_a_right_note_has_evidence_against_a_slip() -> None:
    chart = heard(f"{KEYS}sub | {RIGHT} |*4")
    told = {w.reading: w for w in evidence_of(chart, "slip_chance", [1])[0]}
    assert told["supported"].words == "others play F all through it"
    assert told["copies_alike"].words.startswith("3 other notes on its place")
    assert not told["supported"].speaks_for


@pytest.mark.parametrize(
    ("text", "name", "model", "chance"),
    [
        (ONE, "slip_chance", LONE, slip_chance),
        (COPIES, "figure_slip_chance", FIGURE, figure_slip_chance),
    ],
)
def test_the_weights_told_add_up_to_the_chance(text, name, model, chance) -> None:
    """Log odds add up: the model at bass notes at large, and each piece's weight from there."""
    chart = heard(text)
    usual = model.intercept + sum(weight * mean for _, weight, mean in model.weights)
    for row in range(0, len(chart.bass), 5):
        odds = usual + sum(w.weight for w in evidence_of(chart, name, [row])[0])
        left_out = 0.15 * len(model.weights)
        told = float(chance(chart)[row])
        assert abs(odds - np.log(told / (1 - told))) <= left_out


def test_a_figure_is_weighed_as_a_figure() -> None:
    found = off_root(COPIES)
    told = {w.reading: w for w in found.evidence}
    assert "copies_alike" not in told  # its copies are no excuse
    assert told["rub_share"].words == "it rubs against F for 100 % of its time"
    assert told["stand"].words == "it stands for up to 4 beats"


def test_notes_in_no_figure_and_other_readings_have_none() -> None:
    chart = heard(ONE)
    assert evidence_of(chart, "stand", [0, 1]) == [(), ()]
    assert weighed_by("slip_chance") and not weighed_by("stand")
    assert evidence_of(heard("sub | A1:4 |*4"), "figure_slip_chance", [0]) == [()]


@pytest.mark.parametrize(
    ("weight", "how_much", "speaks_for"),
    [(2.0, "much", True), (-1.5, "much", False), (0.5, "some", True), (-0.2, "little", False)],
)
def test_grades_of_weight(weight: float, how_much: str, speaks_for: bool) -> None:
    piece = Weighed("stand", "it stands", weight)
    assert (piece.how_much, piece.speaks_for) == (how_much, speaks_for)


def test_json_carries_it_and_keeps_to_its_schema() -> None:
    whole = Report((FileReport(path="a.mid", chart=heard(ONE), findings=(off_root(ONE),)),))
    told = json.loads(report_json(whole))
    Draft202012Validator(schema("report")).validate(told)
    first = told["files"][0]["findings"][0]["evidence"][0]
    assert first == {
        "reading": "supported",
        "words": "nobody else plays F# with it",
        "speaks": "for",
        "how_much": "much",
        "weight": pytest.approx(6.5, abs=3),
    }


def test_other_rules_findings_have_no_such_key() -> None:
    rule = next(r for r in BOOK if r.name == "too-low")
    found = judged("tempo 140\nsub | A0:4 | E0:4 | A0:4 | A0:4 |", [rule]).findings
    assert found
    whole = Report((FileReport(path="a.mid", chart=heard(ONE), findings=found),))
    assert all("evidence" not in f for f in json.loads(report_json(whole))["files"][0]["findings"])


@pytest.mark.parametrize("width", [40, 80])
def test_explain_draws_a_table(width: int) -> None:
    chart, found = heard(ONE), off_root(ONE)
    stream = io.StringIO()
    file = FileReport(path="a.mid", chart=chart, findings=(found,))
    print_page(OFF_ROOT, stream, file, width=width)
    lines = stream.getvalue().splitlines()
    begin = lines.index("  what speaks for a slip")
    assert lines[begin + 1].startswith("    much    nobody else plays F#")
    assert any(line.startswith("  weighed together: ") for line in lines)
    assert all(len(line) <= width for line in lines[begin : begin + 8])


@pytest.mark.parametrize(
    ("second", "third", "count"),
    [("F1", "F1", 3), ("G1", "F1", 0), ("C2", "F1", 0)],
)
def test_what_the_copies_agree_on_instead(second: str, third: str, count: float) -> None:
    """Four bars of F: the first bass note is a G; the others say F, or do not agree."""
    bars = [f"A1:4 | {tone}:4 | C2:4 | G1:4" for tone in ("G1", second, third, "F1")]
    chart = heard(f"{KEYS}sub | {' | '.join(bars)} |")
    assert readings("bass-note")["copies_otherwise"].column(chart)[1] == count


STEPS = "A1:1 B1:1 C2:1 C#2:1 | D2:1 E2:1 F2:1 F#2:1 | G2:1 A2:1 B2:1 G#2:1 | A2:1 G2:1 E2:1 G#1:1"
CHORDS = "tempo 120\nkeys | A3+C4+E4:4 | D3+F3+A3:4 | G3+B3+D4:4 | A3+C4+E4:4 |*4\n"


def test_a_walk_has_a_habit_of_foreign_tones() -> None:
    """Six kinds rub: B and C# under Am, E and F# under Dm, G# under G and under Am."""
    chart = heard(f"{CHORDS}sub | {STEPS} |*4")
    kinds = readings("bass-note")["rubs_elsewhere"].column(chart)
    assert kinds[0] == 6.0
    assert kinds[3] == kinds[15] == 5.0  # itself left out
    told = {w.reading: w for w in evidence_of(chart, "slip_chance", [3])[0]}
    assert told["rubs_elsewhere"].words == "the bass lets 5 other foreign tones rub in this song"
    assert not told["rubs_elsewhere"].speaks_for


@pytest.mark.parametrize("tail", ["|*4", f"|| {RIGHT} |*3"])
def test_a_slip_is_no_habit_of_itself_pasted_or_not(tail: str) -> None:
    chart = heard(f"{KEYS}sub | A1:4 | F#1:4 | C2:4 | G1:4 {tail}")
    assert readings("bass-note")["rubs_elsewhere"].column(chart)[1] == 0.0


def test_a_walk_says_less_of_its_next_foreign_tone_than_a_line_of_roots() -> None:
    """C# for the last beat under Am, held against C; the walk does so all the time."""
    roots = "A1:3 {last}:1 | D2:4 | G1:4 | A1:4"
    plain = heard(f"{CHORDS}sub | {roots.format(last='C#2')} || {roots.format(last='A1')} |*3")
    other = STEPS.replace("C#2", "A1")
    walk = heard(f"{CHORDS}sub | {STEPS} || {other} |*3")
    assert slip_chance(walk)[3] < 0.5 * slip_chance(plain)[1]
