"""What holds for this file, and who said so?

A ``basslint.toml`` says so for the songs below it; its ``[[song]]`` tables override it for those
that they name; the command line overrides both.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.errors import RuleError, SettingsError
from basslint.hear.facts import Facts
from basslint.rulebook.model import Level
from basslint.smf.chunks import DEFAULT_LIMITS, Limits
from basslint.util.records import field, record, replace
from basslint.util.text import nearest
from basslint.waivers.model import Waiver

if TYPE_CHECKING:
    from basslint.rulebook.model import Rule

FILE_NAME = "basslint.toml"
MOST_UNJUDGED = 0.5  # share of the bars that a strict run lets pass, unless another is stated
COMMAND_LINE = "the command line"  # as the source of what is stated there


@record(kw_only=True)
class RuleChoice:
    """What one table of the settings says of a rule or family: on or off, level, numbers."""

    name: str
    on: bool = True
    level: Level | None = None
    numbers: tuple[tuple[str, float], ...] = ()
    source: str = ""


@record
class Stated:
    """One setting in force and where it was said, for ``--show-settings``."""

    key: str
    value: str
    source: str


@record
class PartSound:
    """The one-shot that plays a part: its ``file``, and the key at which the sampler plays it at
    its own pitch, as a MIDI number; None where that is not stated of this sound."""

    part: str
    file: str
    root_key: float | None = None


@record(kw_only=True)
class Settings:
    """All that holds for one file.

    ``together``: globs of files that are read as one arrangement with those of their folder that
    match; ``members``: the files that are, where the command line names them; ``begins``: globs
    and the bar, from 1, in which a file that matches begins. ``most_unjudged``:
    share of the bars whose roots may stay unjudged, None for any: not strict.
    ``folder`` is where its settings ``file`` lies, both None without one. ``tables``: the globs of
    each [[song]] table, and whether it speaks of the file. ``waivers`` are those that speak
    of the file, ``waived`` the songs that all of them name; ``part_sounds`` names
    sounds for parts; ``house`` are folders of rule pages.
    """

    gate: Level = "error"
    together: tuple[str, ...] = ()
    members: tuple[Path, ...] = ()
    begins: tuple[tuple[str, int], ...] = ()
    most_unjudged: float | None = None
    middle_c: int = 4
    facts: Facts = field(default_factory=Facts)
    part_sounds: tuple[PartSound, ...] = ()
    choices: tuple[RuleChoice, ...] = ()
    plug_ins: tuple[str, ...] = ()
    house: tuple[Path, ...] = ()
    limits: Limits = DEFAULT_LIMITS
    waivers: tuple[Waiver, ...] = ()
    waived: tuple[str, ...] = ()
    folder: Path | None = None
    file: Path | None = None
    tables: tuple[tuple[str, bool], ...] = ()
    stated: tuple[Stated, ...] = ()

    def with_facts(self, source: str = COMMAND_LINE, **stated: object) -> Settings:
        """The settings with facts replaced, by the names of `Facts`; None leaves one as it is.

        Texts are read as in ``basslint.toml``: ``with_facts(bass="Sub", key="F# minor",
        chords="F#m D A E", decay_s=0.6)``. Raises `UsageError` for what is no such fact.
        """
        said = {k: v for k, v in stated.items() if v is not None and v != ()}
        if not said:
            return self
        from basslint.settings.stated_facts import read_facts  # most songs state none

        given = read_facts(said, self.middle_c)
        return replace(
            self.before(given),
            facts=replace(self.before(given).facts, **given),
            stated=(
                *self.stated,
                *(Stated(f"facts.{k}", shown(v), source) for k, v in given.items()),
            ),
        )

    def place_of(self, key: str) -> str:
        """The file and key where a setting was said last; empty where the command line said it."""
        said = [s.source for s in self.stated if s.key == key]
        return f"{said[-1]}: `{key}`" if said and said[-1] != COMMAND_LINE else ""

    def before(self, given: Collection[str]) -> Settings:
        """The settings without what ``given`` facts overrule: a sound that is stated later says how
        it decays, and both say more than sounds named for parts before them."""
        if "decay_s" not in given and "sound" not in given:
            if "root_key" not in given:
                return self
            return replace(
                self, part_sounds=tuple(replace(s, root_key=None) for s in self.part_sounds)
            )
        return replace(self, facts=replace(self.facts, decay_s=None), part_sounds=())

    def name_of(self, path: Path) -> str:
        """How the settings file calls a song: its path below the file's folder."""
        return name_below(self.folder, path)

    def choose(self, book: Iterable[Rule]) -> tuple[Rule, ...]:
        """The rules that are on, with levels and numbers as the settings have them."""
        rules = {rule.name: rule for rule in book}
        families = {rule.family for rule in rules.values()}
        off: set[str] = set()
        for waiver in self.waivers:
            if waiver.rule not in rules:
                raise self._unknown(f"a waiver of “{waiver.rule}”", waiver.rule, rules)
        for choice in self._in_order(families):
            if choice.name not in rules and choice.name not in families:
                raise self._unknown(f"[rules.{choice.name}]", choice.name, [*rules, *families])
            for rule in tuple(rules.values()):
                if choice.name not in (rule.name, rule.family):
                    continue
                (off.discard if choice.on else off.add)(rule.name)
                if choice.level:
                    rule = rule.at_level(choice.level)
                if choice.numbers:
                    try:
                        rule = rule.with_numbers(dict(choice.numbers))
                    except RuleError as error:
                        raise SettingsError(
                            f"{self._file()}: {error.message}", error.advice
                        ) from None
                rules[rule.name] = rule
        return tuple(rule for rule in rules.values() if rule.name not in off)

    def _in_order(self, families: Collection[str]) -> Iterable[RuleChoice]:
        """What is said of families first, then of single rules, one table after the other."""
        for _, table in groupby(self.choices, key=lambda c: c.source):
            yield from sorted(table, key=lambda c: c.name not in families)

    def _unknown(self, what: str, name: str, known: Iterable[str]) -> SettingsError:
        near = nearest(name, known, 0.4)
        return SettingsError(
            f"{self._file()}: {what} names no rule{' or family' if '[' in what else ''}.",
            f"Did you mean {near}?" if near else "`basslint rules` lists them.",
        )

    def _file(self) -> str:
        return str(self.file or "the settings")


def shown(value: object) -> str:
    """A value of the settings as it would be written there."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(shown(v) for v in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {shown(v)}" for k, v in value.items()) + " }"
    return f'"{value}"' if isinstance(value, str) else str(value)


def name_below(folder: Path | None, path: Path) -> str:
    """A path below a folder, with slashes; the name alone where it lies elsewhere."""
    whole = path.absolute()
    if folder is not None and whole.is_relative_to(folder):
        return whole.relative_to(folder).as_posix()
    return whole.name
