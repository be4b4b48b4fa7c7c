"""The report as JUnit XML, for CI systems that show test results.

A file is a suite. Each finding at or above the gate is a case that failed; a rule that ran and
found nothing is a case that passed; waived findings and rules that could not be judged at all are
cases that were skipped. Checked against pytest's junit-10.xsd. No times are given: a
report is the same however long it took.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import PurePath
from xml.etree import ElementTree as Xml

from basslint.judging.results import FileReport, Finding, Report, Unjudged
from basslint.report.drawing.marks import bar_list, spot
from basslint.report.section import Run, Section, Sheet, lacking, section_of
from basslint.rulebook.model import LEVELS, Level, Rule
from basslint.util.text import LONGEST_PATH, harmless, visible


def report_junit(report: Report, rules: Sequence[Rule], gate: Level = "error") -> str:
    """A run as JUnit XML; findings below ``gate`` are listed, but their case has passed."""
    sheet = Sheet(gate=gate)
    sections = [section(f, rules, sheet) for f in report.files]
    return "".join(assemble(sections, Run(tuple(rules), report.remarks, sheet)))


def section(file: FileReport, rules: Sequence[Rule], sheet: Sheet) -> Section:
    """One file as a ``testsuite``."""
    suite = _suite(file, rules, sheet)
    Xml.indent(suite, level=1)
    return section_of(file, sheet, Xml.tostring(suite, "unicode").rstrip())


def assemble(sections: Sequence[Section], run: Run) -> Iterator[str]:
    """The suites under their root, which counts the cases of all."""
    yield '<?xml version="1.0" encoding="UTF-8"?>\n'
    counts = [  # "<" stands bare only where a tag begins
        f'{name}="{sum(s.text.count(f"<{tag}") for s in sections)}"'
        for name, tag in (("tests", "testcase"), ("failures", "failure"), ("errors", "error"))
    ]
    yield f'<testsuites name="basslint" {" ".join(counts)}{">" if sections else " />"}'
    for each in sections:
        yield f"\n  {each.text}"
    yield "\n</testsuites>\n" if sections else "\n"


def _suite(file: FileReport, rules: Sequence[Rule], sheet: Sheet) -> Xml.Element:
    path = visible(PurePath(file.path).as_posix(), LONGEST_PATH)
    suite = Xml.Element("testsuite", name=path)
    read = Xml.SubElement(suite, "testcase", classname=path, name="can be read")
    if file.problem is not None:
        text = harmless(file.problem.words)
        Xml.SubElement(read, "error", type=file.problem.kind, message=text)
    elif file.warnings:
        Xml.SubElement(read, "system-out").text = harmless("\n".join(file.warnings))
    for fault in file.faults:
        case = Xml.SubElement(suite, "testcase", classname=path, name="fault of basslint's own")
        Xml.SubElement(case, "error", type="fault", message=harmless(fault))
    if sheet.most_unjudged is not None and file.chart is not None:
        case = Xml.SubElement(suite, "testcase", classname=path, name="judged enough")
        if lacks := lacking(file, sheet):
            Xml.SubElement(case, "failure", type="strict", message=harmless(lacks))
    for finding in file.findings:
        _case(suite, path, finding, sheet.gate)
    if file.problem is None:
        found = {f.rule for f in file.findings}
        for rule in rules:
            if rule.name not in found:
                _silent(suite, path, rule.name, file)
    for name, tag in (
        ("tests", "testcase"),
        ("failures", "failure"),
        ("errors", "error"),
        ("skipped", "skipped"),
    ):
        suite.set(name, str(sum(1 for _ in suite.iter(tag))))
    return suite


def _case(suite: Xml.Element, path: str, finding: Finding, gate: Level) -> None:
    where = finding.where
    place = spot(where.bar, where.beat, where.beats)
    if finding.part is not None:
        place = f"{finding.part.full_name}, {place}"
    case = Xml.SubElement(
        suite, "testcase", classname=path, name=harmless(f"{finding.rule}: {place}")
    )
    message = harmless(finding.message)
    if finding.waived is not None:
        Xml.SubElement(case, "skipped", type="waived", message=harmless(finding.waived))
        Xml.SubElement(case, "system-out").text = f"{finding.level}: {message}"
    elif LEVELS.index(finding.level) <= LEVELS.index(gate):
        failure = Xml.SubElement(case, "failure", type=finding.level, message=message)
        if finding.fix is not None:
            failure.text = harmless(f"{finding.fix.title} ({finding.fix.kind})")
    else:
        Xml.SubElement(case, "system-out").text = f"{finding.level}: {message}"


def _silent(suite: Xml.Element, path: str, rule: str, file: FileReport) -> None:
    """The case of a rule that found nothing."""
    case = Xml.SubElement(suite, "testcase", classname=path, name=rule)
    not_judged = [u for u in file.unjudged if u.rule == rule]
    if not not_judged:
        return
    text = harmless("; ".join(_words(u) for u in not_judged))
    bars = file.chart.song.grid.bars if file.chart is not None else 0
    if any(u.start_bar <= 1 and u.end_bar > bars for u in not_judged):
        Xml.SubElement(case, "skipped", type="not judged", message=text)
    else:
        Xml.SubElement(case, "system-out").text = text


def _words(entry: Unjudged) -> str:
    return f"not judged, {bar_list([(entry.start_bar, entry.end_bar)])}: {entry.reason}"
