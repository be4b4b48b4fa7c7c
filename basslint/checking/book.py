"""Which rules may a file be judged by: the built-in ones and those that its settings name?"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from basslint.rulebook.compiled import keep, kept
from basslint.rulebook.pages import Page, pages_of

if TYPE_CHECKING:
    from basslint.rulebook.model import Rule
    from basslint.settings.model import Settings


def book_for(settings: Settings) -> tuple[Rule, ...]:
    """The built-in rules with the house rules and plug-ins of the settings. Raises `RuleError`."""
    return book_of(pages_of(settings.house, settings.plug_ins))


@lru_cache(64)
def book_of(pages: tuple[Page, ...]) -> tuple[Rule, ...]:
    """The rules of pages, read once as long as their texts stay. Raises `RuleError`."""
    book = kept(pages)
    if book is None:
        from basslint.rulebook.loader import bound  # with a reader of TOML, and all readings

        book = bound(pages)
        keep(pages, book)
    return book
