"""Which settings and rules hold for this run, given what the command line states?"""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.errors import UsageError

if TYPE_CHECKING:
    from basslint.rule import Rule
    from basslint.settings import Settings


def settings_held(args: Namespace, path: Path) -> Settings:
    """Settings for a file with the command line laid over them."""
    from basslint.facts import MOST_SEMITONES, parse_key, parse_seconds
    from basslint.settings import settings_for

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
    for name in (*args.only, *args.without):
        find_rule(name, book)
    if args.only:
        by_name = {r.name: r for r in (*book, *settings.choose(book))}
        return tuple(by_name[n] for n in dict.fromkeys(args.only) if n not in args.without)
    return tuple(r for r in settings.choose(book) if r.name not in args.without)


def find_rule(name: str, book: tuple[Rule, ...]) -> Rule:
    """The rule of a name. Raises `UsageError` with the nearest one."""
    import difflib

    for rule in book:
        if rule.name == name:
            return rule
    near = difflib.get_close_matches(name, [r.name for r in book], n=1, cutoff=0.4)
    raise UsageError(
        f"There is no rule “{name}”.",
        f"Did you mean {near[0]}?" if near else "`basslint rules` lists them.",
    )
