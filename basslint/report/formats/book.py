"""The rule book as a page: every rule with its examples drawn and to be heard, in one HTML file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from basslint.report.drawing import marks
from basslint.report.formats.page_parts import (
    carried_script,
    css_text,
    environment,
    markdown,
    policy,
    script_text,
)
from basslint.report.formats.plates import Plate, plates_of
from basslint.report.formats.prose import captions, is_caption, linked, sections
from basslint.report.formats.rule_words import rule_lines
from basslint.rulebook.model import LEVELS, STEPS, Rule
from basslint.util.records import record

_BEFORE = 1  # sections ahead of the examples: what is heard comes first


@record(kw_only=True)
class Lesson:
    """A rule's page in the book. ``before`` and ``after`` its plates: (title, HTML); ``captions``
    of its examples as HTML, in order; ``lines``: what it measures by; ``nth`` on the beginners'
    path from 1 (0: it is none of it), with the names of the lessons before and after it there."""

    rule: Rule
    before: tuple[tuple[str, str], ...]
    after: tuple[tuple[str, str], ...]
    captions: tuple[str, ...]
    plates: tuple[Plate, ...]
    lines: tuple[str, ...]
    nth: int = 0
    last: str = ""
    next: str = ""


def book_html(rules: Sequence[Rule], middle_c: int = 4) -> str:
    """The whole book: families in the order in which a beginner comes upon them, and in each the
    lessons of the path first."""
    path = sorted((r for r in rules if r.lesson), key=_turn)
    names = [r.name for r in path]
    first = {family: min(map(_turn, those)) for family, those in _families(rules)}
    ordered = sorted(rules, key=lambda r: (first[r.family], r.family, _turn(r)))
    lessons = [lesson(rule, [r.name for r in rules], names, middle_c) for rule in ordered]
    script, css = _script(), css_text("book")
    by_name = {each.rule.name: each for each in lessons}
    return str(
        environment()
        .get_template("book.html.j2")
        .render(
            lessons=lessons,
            path_length=len(path),
            path=[
                (step, [by_name[r.name] for r in those])
                for step, those in groupby(path, key=lambda r: r.lesson.step if r.lesson else "")
            ],
            families=[
                (family, list(those))
                for family, those in groupby(lessons, key=lambda each: each.rule.family)
            ],
            levels=LEVELS,
            marks=marks,
            css=css,
            script=carried_script(script),
            policy=book_policy(),
        )
    )


def book_policy() -> str:
    """The Content-Security-Policy of the book."""
    return policy(css_text("book"), carried_script(_script()), _script())


def _script() -> str:
    return script_text("examples", "plate", "book")


def lesson(rule: Rule, known: Sequence[str], path: Sequence[str], middle_c: int) -> Lesson:
    """A rule's page. ``known``: rules of the book; ``path``: names on the beginners' path."""
    pieces = [(title, linked(markdown(text), known)) for title, text in sections(rule.body)]
    prose = [piece for piece in pieces if not is_caption(piece[0])]
    at = path.index(rule.name) if rule.name in path else -1
    return Lesson(
        rule=rule,
        before=tuple(prose[:_BEFORE]),
        after=tuple(prose[_BEFORE:]),
        captions=tuple(linked(markdown(text), known) for text in captions(rule.body)),
        plates=plates_of(rule, middle_c),
        lines=tuple(rule_lines(rule)),
        nth=at + 1,
        last=path[at - 1] if at > 0 else "",
        next=path[at + 1] if 0 <= at < len(path) - 1 else "",
    )


def _turn(rule: Rule) -> tuple[int, int, str]:
    """A key by which lessons of the path stand in its order, and other rules after them by name."""
    return (*(rule.lesson.order if rule.lesson else (len(STEPS), 0)), rule.name)


def _families(rules: Sequence[Rule]) -> Iterator[tuple[str, list[Rule]]]:
    for family, those in groupby(sorted(rules, key=lambda r: r.family), key=lambda r: r.family):
        yield family, list(those)
