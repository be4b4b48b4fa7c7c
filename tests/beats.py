"""Beats of rule pages, judged the way a file is."""

from __future__ import annotations

from collections.abc import Iterable

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.judging.judge import Verdict, judge
from basslint.judging.results import FileReport
from basslint.rulebook.loader import Rule
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import build


def heard(text: str) -> Chart:
    """The chart of a beat in the notation."""
    beat = compile_beat(text)
    return Chart(build(scan(beat.data)), beat.facts)


def judged(text: str, rules: Iterable[Rule]) -> Verdict:
    """What the rules say of a beat in the notation."""
    return judge(heard(text), rules)


def report(data: bytes, facts: Facts, rules: Iterable[Rule]) -> FileReport:
    """The report on a file's bytes, in the form that mending asks for."""
    chart = Chart(build(scan(data)), facts)
    verdict = judge(chart, rules)
    return FileReport(
        path="",
        chart=chart,
        findings=verdict.findings,
        unjudged=verdict.unjudged,
        faults=verdict.faults,
    )
