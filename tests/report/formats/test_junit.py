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
from basslint.report.formats.junit import assemble, report_junit, section
from basslint.report.section import Run, Sheet

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


@pytest.mark.parametrize("gate", ["error", "note"])
def test_each_file_and_the_whole_run_are_counted(gate):
    root = parsed(report_junit(full_report(), book(), gate))
    for name, tag in (("tests", "testcase"), ("failures", "failure"), ("errors", "error")):
        suites = [int(suite.get(name)) for suite in root]
        assert suites == [len(suite.findall(f".//{tag}")) for suite in root]
        assert int(root.get(name)) == sum(suites)
    assert [suite.get("skipped") for suite in root] == ["2", "0", "0"]  # waived, and blind


def test_no_file_is_no_case():
    root = parsed(report_junit(Report(()), ()))
    assert len(root) == 0 and root.get("tests") == root.get("failures") == "0"


def test_a_rule_that_found_something_has_not_passed_as_well():
    names = [c.get("name") for c in parsed(report_junit(full_report(), book())).find("testsuite")]
    assert names[0] == "can be read" and "off-root" not in names and "no-meter" not in names
    assert len(names) == len(set(names))


def test_what_the_reader_put_up_with_is_told_where_the_file_was_read():
    suites = parsed(report_junit(full_report(), book())).findall("testsuite")
    told = [suite.find("testcase").find("system-out") for suite in suites]
    assert told[0].text == "2 note-offs close no open note and were ignored."
    assert told[1:] == [None, None]


@pytest.mark.parametrize(("share", "failures"), [(None, None), (1.0, 0), (0.0, 1)])
def test_a_strict_run_has_a_case_for_what_was_judged(share, failures):
    """Of a song whose roots nobody is sure of, no bar was judged."""
    file = full_report().files[1]
    file.chart.roots.fit[:] = 0.0
    file.chart.roots.certainty[:] = 0.0
    sheet = Sheet(most_unjudged=share)
    sections = [section(f, (), sheet) for f in (file, full_report().files[2])]
    told = cases("".join(assemble(sections, Run(sheet=sheet))))
    assert ("judged enough" in told) is (share is not None)
    if failures is not None:
        found = told["judged enough"].findall("failure")
        assert [f.get("type") for f in found] == ["strict"] * failures
