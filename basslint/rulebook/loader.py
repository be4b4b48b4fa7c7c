"""Which rules are there? The built-in pages, a plug-in's where it is named, and a house's own.

A page with the name of an earlier one replaces it, so that a house has the last word.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from pathlib import Path

from basslint.errors import RuleError
from basslint.rulebook.model import Case, Condition, Example, Parameter, Rule, suggest
from basslint.rulebook.page import parse_page
from basslint.rulebook.pages import Page, built_in_folder, pages_in, pages_of

__all__ = [
    "Case",
    "Condition",
    "Example",
    "Parameter",
    "Rule",
    "bound",
    "built_in_folder",
    "parse_page",
    "read_book",
    "read_folder",
]


def read_book(house: Iterable[Path] = (), plug_ins: Iterable[str] = ()) -> tuple[Rule, ...]:
    """Read the built-in pages, the pages of named plug-ins, and those of house folders.

    A later page with the name of an earlier one replaces it. Raises `RuleError`.
    """
    return bound(pages_of(house, plug_ins))


def bound(pages: Sequence[Page]) -> tuple[Rule, ...]:
    """The rules of pages, in order of family and name. Raises `RuleError` for a page that does not
    hold together, and for two pages of one name in a folder."""
    book: dict[str, Rule] = {}
    for _, folder in groupby(pages, key=lambda p: (p.folder, p.origin)):
        book.update((rule.name, rule) for rule in _rules_of(folder))
    _check_because(book)
    return tuple(sorted(book.values(), key=lambda r: (r.family, r.name)))


def read_folder(folder: Path, origin: str) -> list[Rule]:
    """The rules of the pages in and below a folder. Raises `RuleError`."""
    return _rules_of(pages_in(folder, origin))


def _rules_of(pages: Iterable[Page]) -> list[Rule]:
    """The rules of the pages of one folder."""
    rules: dict[str, Rule] = {}
    for page in pages:
        rule = parse_page(page.text, page.path, page.family, page.origin)
        if rule.name in rules:
            raise RuleError(
                f"{page.path}: the rule “{rule.name}” is also in {rules[rule.name].path}.",
                "Give one of the two another name.",
            )
        rules[rule.name] = rule
    return list(rules.values())


def _check_because(book: Mapping[str, Rule]) -> None:
    """Every rule named in a `because` exists, and no two explain each other away."""
    for rule in book.values():
        for other in rule.because:
            if other not in book:
                raise RuleError(
                    f"{rule.path}: `because` names “{other}”, which is no rule.",
                    suggest(other, book) or "Take the name out.",
                )
        seen: set[str] = set()
        ahead = list(rule.because)
        while ahead:
            name = ahead.pop()
            if name == rule.name:
                raise RuleError(
                    f"{rule.path}: by `because`, “{rule.name}” explains itself away.",
                    "Let the cause name no rule that names it.",
                )
            if name not in seen:
                seen.add(name)
                ahead += book[name].because if name in book else ()
