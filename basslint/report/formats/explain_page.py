"""A rule's lesson as a page, with the places of a song where it speaks or nearly does."""

from __future__ import annotations

import re
from collections.abc import Sequence

from basslint.judging.nearly import LOOSENED, Near
from basslint.judging.results import FileReport, Finding
from basslint.report.drawing import marks
from basslint.report.formats.book import lesson
from basslint.report.formats.html import section
from basslint.report.formats.page_parts import (
    carried_script,
    css_text,
    environment,
    policy,
    script_text,
    unpacked,
)
from basslint.report.formats.reading_words import in_words
from basslint.report.section import Sheet
from basslint.rulebook.model import Rule
from basslint.util.records import replace

# nothing is to be done about what is silent: no line of things to do, no commands
_NOT_TO_DO = re.compile(r'<p class="(?:todo|command|quiet nudgeless)">.*?</p>', re.S)
MOST_NEAR = 40  # places: more is no longer near, but another rule


def explain_html(
    rule: Rule, report: FileReport | None, near: Sequence[Near] = (), middle_c: int = 4
) -> str:
    """The page. ``report``: a song checked by this rule alone; ``near``: where it nearly speaks."""
    sheet = Sheet(middle_c=middle_c, nudged="written")
    spoken = unpacked(section(report, (rule,), sheet).text) if report is not None else ""
    beside = ""
    if report is not None and near:
        findings = tuple(_as_finding(each) for each in near[:MOST_NEAR])
        almost = replace(
            report, path=f"{report.path}, nearly", findings=findings, unjudged=(), warnings=()
        )
        beside = unpacked(section(almost, (rule,), replace(sheet, nudged="")).text)
        beside = _NOT_TO_DO.sub("", beside)
    script, css = script_text("examples", "plate"), css_text("book")
    return str(
        environment()
        .get_template("explain.html.j2")
        .render(
            each=lesson(rule, (), (), middle_c),
            path=report.path if report is not None else "",
            spoken=_opened(spoken),
            beside=_opened(beside),
            left_out=max(len(near) - MOST_NEAR, 0),
            share=marks.percent(LOOSENED),
            marks=marks,
            css=css,
            script=carried_script(script),
            policy=policy(css, carried_script(script), script),
        )
    )


def _opened(text: str) -> str:
    """Songs with all that was weighed laid open: here it is what is looked for."""
    return text.replace('<details class="weighed">', '<details class="weighed" open>')


def _as_finding(near: Near) -> Finding:
    """A place as a note: by how much the rule is silent there, and why it draws the line."""
    silent = _silent(near)
    return replace(
        near.finding, level="note", message=f"{silent} It would say: {near.finding.message}"
    )


def _silent(near: Near) -> str:
    line = _with_unit(near.stated, near.unit)
    why = f"That line is {near.name}: {near.reason}."
    if (of := near.measured) is None:
        loose = _with_unit(near.loose, near.unit)
        return f"Silent here: {near.name} is {line}, and would have to be {loose}. {why}"
    value = in_words(of.value, of.unit)
    asked = f"{of.meaning[0].lower()}{of.meaning[1:].rstrip('.')}"
    apart = abs(of.value - near.stated)
    by = f", by {_with_unit(apart, near.unit)}" if apart > 0 else ", by a hair"
    side = {"above": "above", "below": "below"}.get(
        of.test, "from" if of.value < near.stated else "up to"
    )
    return f"Silent here{by}: {value} ({asked}), and the rule speaks {side} {line}. {why}"


def _with_unit(value: float, unit: str) -> str:
    if unit == "share":
        return marks.percent(value)
    return f"{marks.number(value)} {unit}"
