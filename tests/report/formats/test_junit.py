"""JUnit XML against junit-10.xsd, which pytest's source distribution carries."""

from __future__ import annotations

import subprocess
import sys
import tarfile
from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree
from report_book import book
from report_cases import (
    full_report,
)

from basslint.judging.results import Problem, Report
from basslint.report.formats.junit import report_junit

XSD = "junit-10.xsd"


@pytest.fixture(scope="session")
def schema(pytestconfig, tmp_path_factory):
    """The schema, fetched once and kept in pytest's own cache."""
    kept = Path(pytestconfig.cache.mkdir("basslint")) / XSD
    if not kept.exists():
        folder = tmp_path_factory.mktemp("pytest-sdist")
        words = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
        words += ["--no-binary", ":all:", "--dest", str(folder), "pytest"]
        done = subprocess.run(words, capture_output=True, text=True, timeout=300)
        archives = list(folder.glob("pytest-*.tar.gz"))
        if done.returncode or not archives:
            pytest.skip(f"pytest's source distribution was not to be had: {done.stderr[-300:]}")
        with tarfile.open(archives[0]) as archive:
            member = next(m for m in archive if m.name.endswith(XSD))
            file = archive.extractfile(member)
            assert file is not None
            kept.write_bytes(file.read())
    return etree.XMLSchema(etree.parse(str(kept)))


def parsed(text):
    return etree.fromstring(text.encode("utf-8"))


def cases(text):
    return {c.get("name"): c for c in parsed(text).iter("testcase")}


@pytest.mark.parametrize("gate", ["error", "warning", "note"])
def test_it_keeps_to_the_schema(schema, gate):
    schema.assertValid(parsed(report_junit(full_report(), book(), gate)))
    schema.assertValid(parsed(report_junit(Report(()), ())))


def test_the_schema_would_notice(schema):
    spoiled = report_junit(full_report(), book()).replace(' name="can be read"', "", 1)
    assert not schema.validate(parsed(spoiled))


@pytest.mark.parametrize(("gate", "failures"), [("error", 2), ("warning", 2), ("note", 3)])
def test_findings_at_or_above_the_gate_fail(gate, failures):
    root = parsed(report_junit(full_report(), book(), gate))
    assert root.get("failures") == str(failures) == str(len(root.findall(".//failure")))
    assert root.get("errors") == "1"
    assert root.get("tests") == str(len(root.findall(".//testcase")))


def test_each_outcome_has_its_element():
    told = cases(report_junit(full_report(), book()))
    failed = told["off-root: Sub, bar 5, beat 1"].find("failure")
    assert failed.get("message") == "F#1 holds 2 beats under Em; the root is E."
    assert failed.text == "Move F#1 to E1 (safe)"
    waived = told["too-low: Sub, bar 9, beat 1"].find("skipped")
    assert (waived.get("type"), waived.get("message")) == ("waived", "The club system carries it.")
    assert told["no-meter: bar 1, beat 1"].find("failure") is None  # a note, below the gate
    assert len(told["outside-scale"]) == 0  # ran, found nothing


def test_a_rule_that_was_blind_all_through_is_skipped_and_one_in_places_is_not():
    report = full_report()
    file = replace(report.files[0], findings=())
    told = cases(report_junit(Report((file,)), book()))
    assert "the decay is not known" in told["slide-after-decay"].find("skipped").get("message")
    assert told["off-root"].find("skipped") is None
    assert "bars 1–2" in told["off-root"].find("system-out").text


def test_an_unreadable_file_is_an_error_and_a_crashed_rule_too():
    report = full_report()
    broken = parsed(report_junit(Report((report.files[2],)), book()))
    assert broken.find(".//error").get("type") == "truncated"
    assert len(broken.findall(".//testcase")) == 1  # no rule ran
    crashed = replace(report.files[1], faults=("off-root failed: KeyError",))
    assert parsed(report_junit(Report((crashed,)), ())).find(".//error").get("type") == "fault"


def test_text_that_xml_cannot_hold_is_shown():
    file = replace(
        full_report().files[2],
        path="beats/<&\x01\udce9.mid",
        problem=Problem("damaged", 'a "quote" <b>\x0b!'),
    )
    suite = parsed(report_junit(Report((file,)), ())).find("testsuite")
    assert suite.get("name") == "beats/<&\\x01\\udce9.mid"
    assert suite.find(".//error").get("message") == 'a "quote" <b>\\x0b!'
