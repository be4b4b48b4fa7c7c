"""A rule's page in the terminal: its words, its examples drawn, and what it says of a song."""

from __future__ import annotations

import re
from typing import TextIO

from basslint.hear.chart import Chart
from basslint.judging.judge import judge
from basslint.judging.results import FileReport, Finding
from basslint.readings.base import registered
from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Row, Segment
from basslint.report.drawing.look import Look
from basslint.report.drawing.strip import finding_strip, stretch_strip
from basslint.report.formats.reading_words import in_words
from basslint.report.formats.rule_words import rule_lines
from basslint.report.formats.text import legend_line, print_unjudged
from basslint.report.formats.text_findings import print_group
from basslint.report.grouping import grouped
from basslint.report.paper import Paper
from basslint.rulebook.model import Example, Rule
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import build

_GRADES = len("little") + 2  # cells of the column that says how much a piece of evidence weighs
SHOWN_BARS = 4  # of an example in which nothing is marked

_PIECE = re.compile(
    r"^```beat +(?P<kind>flagged|clean)(?: +bar +(?P<bar>\d+))?[^\n]*\n(?P<beat>.*?)^```[^\n]*$"
    r"|^## +(?P<title>[^\n]+)$",
    re.M | re.S,
)


def print_page(
    rule: Rule,
    stream: TextIO,
    report: FileReport | None = None,
    middle_c: int = 4,
    width: int | None = None,
) -> None:
    """Write a rule's page; ``report``: a song checked by this rule, told before the page."""
    paper = Paper(stream, middle_c, width)
    if report is not None:
        _applied(paper, rule, report)
        paper.blank()
    _head(paper, rule)
    _body(paper, rule)
    _numbers(paper, rule)
    paper.blank()
    paper.paragraph([Segment(legend_line(paper.look), "quiet")])


def _head(paper: Paper, rule: Rule) -> None:
    mark = marks.LEVEL_MARKS[rule.level]
    words = [
        Segment(f"{mark.drawn(paper.look.unicode)} {mark.word}  ", mark.style),
        Segment(rule.name, "heading"),
        Segment("".join(f" · {x}" for x in dict.fromkeys((rule.family, rule.origin))), "quiet"),
    ]
    paper.paragraph(words, hanging=2)
    paper.paragraph([Segment(f"{rule.summary.rstrip('.')}.", "plain")], indent=2, hanging=2)


def _numbers(paper: Paper, rule: Rule) -> None:
    """What the rule judges, needs and measures by: of use to those who know what is heard."""
    paper.blank()
    paper.line(Segment("What it goes by", "focus"))
    for line in rule_lines(rule):
        paper.paragraph([Segment(line, "quiet")], indent=2, hanging=4)


def _body(paper: Paper, rule: Rule) -> None:
    at = 0
    for piece in _PIECE.finditer(rule.body):
        _prose(paper, rule.body[at : piece.start()])
        at = piece.end()
        paper.blank()
        if piece["title"]:
            paper.line(Segment(piece["title"].strip(), "focus"))
        else:
            bar = int(piece["bar"]) if piece["bar"] else None
            _example(paper, rule, Example(piece["kind"] == "flagged", bar, piece["beat"]))
    _prose(paper, rule.body[at:])


def _prose(paper: Paper, text: str) -> None:
    if text.strip():
        paper.markdown(text, indent=2)


def _example(paper: Paper, rule: Rule, example: Example) -> None:
    """The strip of an example, made by the same path as any song."""
    beat = compile_beat(example.text)
    chart = Chart(build(scan(beat.data)), beat.facts)
    inner = Look(paper.look.width - 2, paper.look.unicode, paper.look.middle_c)
    found = [f for f in judge(chart, (rule,)).findings if example.flagged]
    here = next((f for f in found if f.where.bar == example.bar), None)
    rows = finding_strip(chart, here, inner) if here is not None else ()
    paper.drawing(rows or _quiet_strip(chart, rule, example, inner), indent=2)
    if here is not None:
        paper.paragraph([Segment(here.message, "plain")], indent=2, hanging=2)
        if here.fix is not None:
            words = [Segment("fix", "as-mended"), Segment(f"  {here.fix.title}", "plain")]
            paper.paragraph(words, indent=2, hanging=7)


def _quiet_strip(chart: Chart, rule: Rule, example: Example, look: Look) -> tuple[Row, ...]:
    """The strip of an example in which nothing is marked: where its subject is, or its start."""
    grid, parts = chart.song.grid, chart.parts
    part = next(iter((*parts.bass, *parts.drums, *range(len(chart.song.parts)))), None)
    if part is None:
        return ()
    if rule.judges == "fill" and len(chart.fills.part):
        fills = chart.fills
        start, end = int(fills.start[0]), int(fills.end[0])
        step = (end - start) // max(int(fills.hits[0]), 1)
        return stretch_strip(chart, int(fills.part[0]), start, end, look, step)
    start = 0
    if rule.judges == "slide" and len(chart.slides.part):
        part, start = int(chart.slides.part[0]), int(chart.slides.start[0])
    elif example.bar is not None:
        start = int(grid.start[min(example.bar - 1, grid.bars - 1)])
    bar = int(grid.bar_of(start))
    end = int(grid.start[min(bar + SHOWN_BARS, grid.bars)])
    return stretch_strip(chart, part, start, end, look)


def _applied(paper: Paper, rule: Rule, report: FileReport) -> None:
    """What the rule says of a song, with the readings it went by."""
    paper.line(Segment(report.path, "heading"))
    if report.problem is not None:
        words = f"{report.problem.verdict}: {report.problem.words}"
        paper.paragraph([Segment(words, "plain")], indent=2, hanging=4)
        return
    for fault in report.faults:
        paper.paragraph([Segment(f"basslint's own fault: {fault}", "error")], indent=2, hanging=4)
    found = [f for f in report.findings if f.rule == rule.name]
    for group in grouped(found):
        paper.blank()
        print_group(paper, report.chart, group)
        _evidence(paper, group.first)
        _readings(paper, rule, group.first)
    not_judged = [u for u in report.unjudged if u.rule == rule.name]
    bars = report.chart.song.grid.bars if report.chart is not None else 0
    if not found and any(u.start_bar <= 1 and u.end_bar > bars for u in not_judged):
        paper.paragraph([Segment("this rule did not judge the song", "warning")], indent=2)
    elif not found:
        paper.paragraph([Segment("nothing is off by this rule", "plain")], indent=2)
    if not_judged:
        paper.blank()
        print_unjudged(paper, not_judged, bars)


def _evidence(paper: Paper, finding: Finding) -> None:
    """What was weighed as a small table: first what speaks for a slip, then what against one."""
    for title, those in (
        ("what speaks for a slip", [w for w in finding.evidence if w.speaks_for]),
        ("what speaks against one", [w for w in finding.evidence if not w.speaks_for]),
    ):
        if those:
            paper.paragraph([Segment(title, "focus")], indent=2)
        for piece in those:
            line = [Segment(f"{piece.how_much:<{_GRADES}}", "quiet"), Segment(piece.words, "plain")]
            paper.paragraph(line, indent=4, hanging=4 + _GRADES)
    if finding.evidence:
        words = f"weighed together: {marks.percent(finding.certainty)} likely a slip"
        paper.paragraph([Segment(words, "plain")], indent=2, hanging=4)


def _readings(paper: Paper, rule: Rule, finding: Finding) -> None:
    known = registered(rule.judges)
    for name, value in finding.readings:
        if name not in known:
            continue
        line = [
            Segment(f"{name} = {in_words(value, known[name].unit)}", "plain"),
            Segment(f"  {known[name].meaning}", "quiet"),
        ]
        paper.paragraph(line, indent=2, hanging=6)
