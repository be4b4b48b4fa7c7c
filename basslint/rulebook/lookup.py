"""Which rules of a book does somebody mean by a name?"""

from __future__ import annotations

from collections.abc import Iterable

from basslint.errors import UsageError
from basslint.rulebook.model import Rule
from basslint.util.text import nearest


def find_rules(names: Iterable[str], book: tuple[Rule, ...]) -> tuple[str, ...]:
    """The rules that are named, by themselves or by their family. Raises `UsageError`."""
    families = {rule.family for rule in book}
    found: list[str] = []
    for name in names:
        if name.casefold() in families:
            found += [rule.name for rule in book if rule.family == name.casefold()]
        else:
            found.append(find_rule(name, book, families).name)
    return tuple(dict.fromkeys(found))


def find_rule(name: str, book: tuple[Rule, ...], also: Iterable[str] = ()) -> Rule:
    """The rule of a name, in capitals or not. Raises `UsageError` with the nearest one.

    ``also``: names that could have been meant besides.
    """
    wanted = name.casefold()
    for rule in book:
        if rule.name == wanted:
            return rule
    near = nearest(wanted, [*(r.name for r in book), *also], 0.4)
    advice = f"Did you mean {near}?" if near else "`basslint rules` lists them."
    if also and "," in name:
        advice = "Give the option once for each: `--only RULE --only RULE`."
    raise UsageError(f"There is no rule{' or family' if also else ''} “{name}”.", advice)
