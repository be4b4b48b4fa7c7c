"""Which settings and rules hold for this run, given what the command line states?"""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.errors import UsageError

if TYPE_CHECKING:
    from basslint.rulebook.model import Rule
    from basslint.settings.model import Settings


def settings_held(args: Namespace, path: Path) -> Settings:
    """Settings for a file with the command line laid over them."""
    from basslint.hear.facts import MOST_SEMITONES, parse_key, parse_seconds
    from basslint.settings.model import settings_for

    settings = settings_for(path, Path(args.settings) if args.settings else None)
    if not hasattr(args, "bass"):
        return settings
    if args.bend_range is not None and not 0 < args.bend_range <= MOST_SEMITONES:
        raise UsageError(
            f"--bend-range: {args.bend_range:g} is no range of a bend.",
            f"Write semitones above 0 and at most {MOST_SEMITONES}, like 12.",
        )
    glide = args.glide_time
    return settings.with_facts(
        bass=tuple(args.bass),
        harmony=tuple(args.harmony),
        key=parse_key(args.key) if args.key else None,
        decay_s=parse_seconds(args.decay, "--decay") if args.decay else None,
        glide_time_s=parse_seconds(glide, "--glide-time") if glide else None,
        bend_range=args.bend_range,
        sound=args.sound,
    )


def held(args: Namespace, path: Path) -> tuple[Settings, tuple[Rule, ...]]:
    """Settings for a file with the command line laid over them, and the book they name."""
    from basslint.api import book_for

    settings = settings_held(args, path)
    return settings, book_for(settings)


def chosen(args: Namespace, settings: Settings, book: tuple[Rule, ...]) -> tuple[Rule, ...]:
    """The rules to run: those that the settings leave on, narrowed by ``--only``/``--except``."""
    only, without = named(args.only, book), named(args.without, book)
    if only:
        by_name = {r.name: r for r in (*book, *settings.choose(book))}
        return tuple(by_name[n] for n in only if n not in without)
    return tuple(r for r in settings.choose(book) if r.name not in without)


def named(names: Iterable[str], book: tuple[Rule, ...]) -> tuple[str, ...]:
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
    import difflib

    wanted = name.casefold()
    for rule in book:
        if rule.name == wanted:
            return rule
    near = difflib.get_close_matches(wanted, [*(r.name for r in book), *also], n=1, cutoff=0.4)
    raise UsageError(
        f"There is no rule{' or family' if also else ''} “{name}”.",
        f"Did you mean {near[0]}?" if near else "`basslint rules` lists them.",
    )
