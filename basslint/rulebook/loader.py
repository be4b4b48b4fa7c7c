"""Which rules are there? The built-in pages, a plug-in's where it is named, and a house's own.

A page with the name of an earlier one replaces it, so that a house has the last word.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path

from basslint.errors import RuleError
from basslint.rulebook.model import Case, Condition, Example, Parameter, Rule, suggest
from basslint.rulebook.page import parse_page

__all__ = [
    "Case",
    "Condition",
    "Example",
    "Parameter",
    "Rule",
    "built_in_folder",
    "parse_page",
    "read_book",
    "read_folder",
]

MAX_PAGE_BYTES = 64 * 1024
MAX_PAGES = 500


def built_in_folder() -> Path:
    """Where the shipped pages lie: in the wheel, or in the checkout of an editable install."""
    inside = Path(__file__).parents[1] / "rules"
    return inside if inside.is_dir() else Path(__file__).parents[2] / "rules"


def read_book(house: Iterable[Path] = (), plug_ins: Iterable[str] = ()) -> tuple[Rule, ...]:
    """Read the built-in pages, those of named plug-ins, and those of house folders.

    A later page with the name of an earlier one replaces it. Raises `RuleError`.
    """
    book = {rule.name: rule for rule in read_folder(built_in_folder(), "built in")}
    for name in plug_ins:
        for folder in _plug_in_folders(name):
            book.update((r.name, r) for r in read_folder(folder, f"plug-in {name}"))
    for folder in house:
        book.update((r.name, r) for r in read_folder(folder, "house"))
    _check_because(book)
    return tuple(sorted(book.values(), key=lambda r: (r.family, r.name)))


def read_folder(folder: Path, origin: str) -> list[Rule]:
    """Read every ``*.md`` page in and below a folder, links left aside.

    A page's family is its folder's name, "house" for pages that lie in ``folder`` itself. Raises
    `RuleError` for a page that does not hold together, and for two pages of one name.
    """
    pages = _pages(folder)
    if len(pages) > MAX_PAGES:
        raise RuleError(
            f"{folder} holds more than {MAX_PAGES} pages.",
            "Keep rule pages in a folder of their own.",
        )
    rules: dict[str, Rule] = {}
    for page in pages:
        family = page.parent.name if page.parent != folder else "house"
        rule = parse_page(_text(page), str(page), family, origin)
        if rule.name in rules:
            raise RuleError(
                f"{page}: the rule “{rule.name}” is also in {rules[rule.name].path}.",
                "Give one of the two another name.",
            )
        rules[rule.name] = rule
    return list(rules.values())


def _pages(folder: Path) -> list[Path]:
    """Pages below a folder in order of path, at most one more than is allowed."""
    found: list[Path] = []
    for top, folders, files in os.walk(folder):  # does not follow links to folders
        folders.sort()
        for name in sorted(files):
            path = Path(top, name)
            if name.endswith(".md") and name != "README.md" and not path.is_symlink():
                found.append(path)
        if len(found) > MAX_PAGES:
            break
    return found


def _text(path: Path) -> str:
    """A page's text, bounded."""
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_PAGE_BYTES + 1)
        text = raw.decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise RuleError(f"{path} cannot be read: {error}.", "A page is UTF-8 text.") from None
    if len(raw) > MAX_PAGE_BYTES:
        raise RuleError(f"{path} is longer than {MAX_PAGE_BYTES:,} bytes.", "Split the page.")
    return text


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


def _plug_in_folders(name: str) -> list[Path]:
    """Folders that a plug-in package offers; its code is imported here, and only when named."""
    from importlib.metadata import entry_points

    found = [e for e in entry_points(group="basslint.rules") if e.name == name]
    if not found:
        raise RuleError(
            f"The settings name a plug-in “{name}”, which is not installed.",
            "Install the package, or take the name out of `plug_ins`.",
        )
    return [Path(str(e.load()())) for e in found]
