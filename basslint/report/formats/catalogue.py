"""Which rules are there, and what may a rule of one's own ask?"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any, TextIO

from rich.cells import cell_len, set_cell_size

from basslint.fixes.base import registered as fixes
from basslint.readings.base import in_order
from basslint.readings.needs import FACTS
from basslint.readings.subjects import SUBJECTS
from basslint.report.drawing import marks
from basslint.report.drawing.canvas import Segment
from basslint.report.paper import Paper
from basslint.rulebook.model import Rule

WIDE = 60  # columns from which on a name and its text share a line


def print_rules(rules: Sequence[Rule], stream: TextIO, width: int | None = None) -> None:
    """The catalogue: level, name, one line, and where a rule comes from, family by family."""
    paper = Paper(stream, width=width)
    column = max((len(r.name) for r in rules), default=0)
    # where the origin is the same of all rules, it says nothing
    shown = {r.origin for r in rules} != {"built in"}
    for count, (family, members) in enumerate(groupby(rules, key=lambda r: r.family)):
        if count:
            paper.blank()
        paper.line(Segment(family, "focus"))
        for rule in members:
            mark = marks.LEVEL_MARKS[rule.level]
            sign = f"{mark.drawn(paper.look.unicode)} {mark.word:<7}  "
            _entry(
                paper,
                Segment(sign, mark.style),
                (rule.name, column),
                f"{rule.summary} ({rule.origin})" if shown else rule.summary,
            )
    paper.blank()
    words = f"{marks.counted(len(rules), 'rule')}. basslint explain RULE shows a rule's page."
    paper.paragraph([Segment(words, "quiet")])


def rules_json(rules: Sequence[Rule]) -> str:
    """The catalogue as JSON."""
    entries = [
        {
            "name": r.name,
            "family": r.family,
            "level": r.level,
            "summary": r.summary,
            "judges": r.judges,
            "origin": r.origin,
            "needs": [name for name, _ in r.needs],
            "parameters": [
                {"name": p.name, "value": p.default, "unit": p.unit, "reason": p.reason}
                for p in r.parameters
            ],
        }
        for r in rules
    ]
    return _text({"schema": "basslint-rules/1", "rules": entries})


def print_readings(stream: TextIO, width: int | None = None) -> None:
    """All that a rule page may name: readings by subject, fixes, and facts to need."""
    paper = Paper(stream, width=width)
    for subject in SUBJECTS:
        paper.line(Segment(f"readings of a {subject.replace('-', ' ')}", "focus"))
        entries = [(r.name, f"{r.meaning.rstrip('.')} ({r.unit})") for r in in_order(subject)]
        _entries(paper, entries)
        paper.blank()
    paper.line(Segment("fixes", "focus"))
    _entries(
        paper, [(f.name, f"of a {f.of.replace('-', ' ')}: {f.does}") for f in fixes().values()]
    )
    paper.blank()
    paper.line(Segment("facts that a rule may need", "focus"))
    _entries(
        paper,
        [(n, f"{f.meaning} (at least {marks.percent(f.least)} sure)") for n, f in FACTS.items()],
    )


def readings_json() -> str:
    """Readings, fixes and facts as JSON."""
    shown: dict[str, Any] = {
        "schema": "basslint-readings/1",
        "readings": [
            {
                "name": r.name,
                "of": r.of,
                "unit": r.unit,
                "meaning": r.meaning,
                "source": r.source,
            }
            for subject in SUBJECTS
            for r in in_order(subject)
        ],
        "fixes": [{"name": f.name, "of": f.of, "does": f.does} for f in fixes().values()],
        "facts": [{"name": n, "meaning": f.meaning, "least": f.least} for n, f in FACTS.items()],
    }
    return _text(shown)


def _entries(paper: Paper, entries: Iterable[tuple[str, str]]) -> None:
    shown = list(entries)
    column = max((cell_len(name) for name, _ in shown), default=0)
    for name, text in shown:
        _entry(paper, Segment("", "plain"), (name, column), text)


def _entry(paper: Paper, lead: Segment, name: tuple[str, int], text: str) -> None:
    """A name and its text: in two columns where there is room, else below each other."""
    word, column = name
    if paper.look.width >= WIDE:
        hanging = 2 + len(lead.text) + column + 2
        paper.paragraph(
            [lead, Segment(f"{set_cell_size(word, column)}  ", "rule"), Segment(text, "plain")],
            indent=2,
            hanging=hanging,
        )
    else:
        paper.paragraph([lead, Segment(word, "rule")], indent=2, hanging=4)
        paper.paragraph([Segment(text, "plain")], indent=4, hanging=4)


def _text(value: dict[str, Any]) -> str:
    return json.dumps(value, indent=2, allow_nan=False) + "\n"
