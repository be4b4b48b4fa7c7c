"""What holds for this file, and who said so?

``basslint.toml`` is found by walking up from each file; its ``[[song]]`` tables override it for the
songs that they name; the command line overrides both.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any

from basslint.errors import RuleError, SettingsError, UsageError
from basslint.facts import Facts, parse_key, parse_seconds
from basslint.findings import LEVELS, Level
from basslint.rulebook import Rule
from basslint.smf.scan import DEFAULT_LIMITS, Limits
from basslint.waivers import Waiver, read_waiver

FILE_NAME = "basslint.toml"
MAX_SETTINGS_BYTES = 1024 * 1024


@dataclass(frozen=True, slots=True)
class RuleChoice:
    """What the settings say of one rule or family: on or off, its level, its numbers."""

    name: str
    on: bool = True
    level: Level | None = None
    numbers: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Stated:
    """One setting in force and where it was said, for ``--show-settings``."""

    key: str
    value: str
    source: str


@dataclass(frozen=True, slots=True)
class Settings:
    """All that holds for one file. ``folder`` is where its settings file lies, None without one."""

    gate: Level = "error"
    middle_c: int = 4
    facts: Facts = field(default_factory=Facts)
    part_sounds: tuple[tuple[str, str], ...] = ()
    choices: tuple[RuleChoice, ...] = ()
    plug_ins: tuple[str, ...] = ()
    house: tuple[Path, ...] = ()
    limits: Limits = DEFAULT_LIMITS
    waivers: tuple[Waiver, ...] = ()
    folder: Path | None = None
    stated: tuple[Stated, ...] = ()

    def with_facts(self, source: str = "the command line", **stated: object) -> Settings:
        """The settings with facts replaced; None leaves a fact as it is."""
        given = {k: v for k, v in stated.items() if v is not None and v != ()}
        said = tuple(Stated(f"facts.{k}", str(v), source) for k, v in given.items())
        return replace(
            self,
            facts=replace(self.facts, **given),  # type: ignore[arg-type]  # names are Facts' own
            stated=self.stated + said,
        )

    def choose(self, book: Iterable[Rule]) -> tuple[Rule, ...]:
        """The rules that are on, with levels and numbers as the settings have them."""
        rules = {rule.name: rule for rule in book}
        families = {rule.family for rule in rules.values()}
        off: set[str] = set()
        for choice in self.choices:
            if choice.name not in rules and choice.name not in families:
                near = difflib.get_close_matches(choice.name, [*rules, *families], n=1)
                raise SettingsError(
                    f"{self._file()}: [rules.{choice.name}] names no rule or family.",
                    f"Did you mean {near[0]}?" if near else "`basslint rules` lists them.",
                )
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

    def _file(self) -> str:
        return str(self.folder / FILE_NAME) if self.folder else "the settings"


def find_file(path: Path) -> Path | None:
    """The settings file that holds for a path: the nearest one in its folder or above."""
    start = path.absolute()
    for folder in (start, *start.parents) if start.is_dir() else start.parents:
        candidate = folder / FILE_NAME
        if candidate.is_file():
            return candidate
    return None


def settings_for(path: Path, file: Path | None = None) -> Settings:
    """Settings for a song: from ``file``, or from the nearest file above it. Raises SettingsError."""
    file = file or find_file(path)
    return _resolve(read_file(file), path) if file else Settings()


@dataclass(frozen=True, slots=True)
class SettingsFile:
    """A parsed and checked settings file: what holds for all songs, and overrides by glob."""

    path: Path
    base: Settings
    songs: tuple[tuple[tuple[str, ...], Mapping[str, Any]], ...]


@cache
def read_file(path: Path) -> SettingsFile:
    """Parse and check a settings file once per run. Raises `SettingsError`."""
    try:
        with path.open("rb") as handle:
            raw = handle.read(MAX_SETTINGS_BYTES + 1)
        if len(raw) > MAX_SETTINGS_BYTES:
            raise SettingsError(f"{path} is longer than {MAX_SETTINGS_BYTES:,} bytes.", "Split it.")
        table = tomllib.loads(raw.decode("utf-8"))
    except OSError as error:
        raise SettingsError(
            f"{path} cannot be read: {error.strerror}.", "Check the path."
        ) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise SettingsError(f"{path} is not TOML: {error}.", "Mend that line.") from None
    reader = _Reader(path)
    reader.keys(table, _TOP, "")
    folder = path.absolute().parent
    house = folder / "rules"
    base = Settings(
        folder=folder,
        house=(house,) if house.is_dir() else (),
        waivers=tuple(
            read_waiver(w, f"{path}, waiver {i}")
            for i, w in enumerate(reader.tables(table, "waive"), start=1)
        ),
        plug_ins=reader.texts(table.get("plug_ins", []), "plug_ins"),
    )
    songs = []
    for entry in reader.tables(table, "song"):
        reader.keys(entry, _SONG, "song.")
        globs = reader.texts(entry.get("files", []), "song.files")
        if not globs:
            raise SettingsError(f"{path}: a [[song]] needs `files`.", 'Write files = "name*.mid".')
        reader.apply(base, entry, "")  # checked now, so that a fault shows whichever song is read
        songs.append((globs, entry))
    return SettingsFile(path, reader.apply(base, table, str(path)), tuple(songs))


def _resolve(file: SettingsFile, path: Path) -> Settings:
    settings = file.base
    folder = settings.folder or Path()
    try:
        inside = path.absolute().relative_to(folder).as_posix()
    except ValueError:
        inside = path.absolute().as_posix()
    for globs, table in file.songs:
        if any(fnmatchcase(inside, g) or fnmatchcase(path.name, g) for g in globs):
            source = f"{file.path}, song {', '.join(globs)}"
            settings = _Reader(file.path).apply(settings, table, source)
    return settings


_FACTS = (
    "bass", "harmony", "key", "decay", "sound", "sounds", "bend_range", "glide_time", "one_shot",
)  # fmt: skip
_SHARED = ("gate", "middle_c", "facts", "rules")
_TOP = (*_SHARED, "plug_ins", "limits", "song", "waive")
_SONG = (*_SHARED, "files")


@dataclass(frozen=True, slots=True)
class _Reader:
    """Checks tables of one settings file and says where a value is wrong."""

    path: Path

    def wrong(self, key: str, what: str) -> SettingsError:
        return SettingsError(f"{self.path}: `{key}` {what}.", "README.md lists the settings.")

    def keys(self, table: Mapping[str, Any], known: Iterable[str], prefix: str) -> None:
        for key in table:
            if key not in known:
                near = difflib.get_close_matches(key, list(known), n=1, cutoff=0.0)
                raise SettingsError(
                    f"{self.path}: unknown key `{prefix}{key}`.",
                    f"Did you mean `{prefix}{near[0]}`?" if near else "",
                )

    def tables(self, table: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
        value = table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            raise self.wrong(key, f"is written as [[{key}]]")
        return value

    def texts(self, value: Any, key: str) -> tuple[str, ...]:
        value = [value] if isinstance(value, str) else value
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            raise self.wrong(key, "takes a text or a list of texts")
        return tuple(value)

    def level(self, value: Any, key: str) -> Level:
        for known in LEVELS:
            if value == known:
                return known
        raise self.wrong(key, f"is one of {', '.join(LEVELS)}")

    def number(self, value: Any, key: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.wrong(key, "takes a number")
        return float(value)

    def apply(self, base: Settings, table: Mapping[str, Any], source: str) -> Settings:
        """The settings with one table laid over them."""
        stated = list(base.stated)
        changed: dict[str, Any] = {}
        if "gate" in table:
            changed["gate"] = self.level(table["gate"], "gate")
            stated.append(Stated("gate", str(table["gate"]), source))
        if "middle_c" in table:
            if table["middle_c"] not in ("C3", "C4", "C5"):
                raise self.wrong("middle_c", 'is "C3", "C4" or "C5"')
            changed["middle_c"] = int(table["middle_c"][1])
            stated.append(Stated("middle_c", table["middle_c"], source))
        if "limits" in table:
            changed["limits"] = self.limits(table["limits"])
            stated += [Stated(f"limits.{k}", str(v), source) for k, v in table["limits"].items()]
        facts = table.get("facts", {})
        if not isinstance(facts, dict):
            raise self.wrong("facts", "is a table")
        if facts:
            changed["facts"] = self.facts(base, facts)
            stated += [Stated(f"facts.{k}", str(v), source) for k, v in facts.items()]
            if "sounds" in facts:
                changed["part_sounds"] = self.sounds(base, facts["sounds"])
        rules = table.get("rules", {})
        if not isinstance(rules, dict):
            raise self.wrong("rules", "is a table")
        choices = tuple(self.choice(name, value) for name, value in rules.items())
        stated += [Stated(f"rules.{name}", str(value), source) for name, value in rules.items()]
        return replace(base, **changed, choices=base.choices + choices, stated=tuple(stated))

    def facts(self, base: Settings, table: Mapping[str, Any]) -> Facts:
        self.keys(table, _FACTS, "facts.")
        given: dict[str, Any] = {}
        try:
            for key, value in table.items():
                name = f"facts.{key}"
                if key in ("bass", "harmony"):
                    given[key] = self.texts(value, name)
                elif key == "bend_range":
                    given[key] = self.number(value, name)
                elif key == "one_shot":
                    if not isinstance(value, bool):
                        raise self.wrong(name, "is true or false")
                    given[key] = value
                elif key != "sounds" and not isinstance(value, str):
                    raise self.wrong(name, "takes a text")
                elif key == "key":
                    given["key"] = parse_key(value, name)
                elif key == "decay":
                    given["decay_s"] = parse_seconds(value, name)
                elif key == "glide_time":
                    given["glide_time_s"] = parse_seconds(value, name)
                elif key == "sound":
                    given["sound"] = str((base.folder or Path()) / value)
        except UsageError as error:
            raise SettingsError(f"{self.path}: {error.message}", error.advice) from None
        return replace(base.facts, **given)

    def sounds(self, base: Settings, value: Any) -> tuple[tuple[str, str], ...]:
        if not isinstance(value, dict) or not all(isinstance(v, str) for v in value.values()):
            raise self.wrong("facts.sounds", "names a sound file for each part")
        folder = base.folder or Path()
        return tuple((part, str(folder / sound)) for part, sound in value.items())

    def choice(self, name: str, value: Any) -> RuleChoice:
        key = f"rules.{name}"
        if isinstance(value, bool):
            return RuleChoice(name, on=value)
        if isinstance(value, str):
            return RuleChoice(name, level=self.level(value, key))
        if not isinstance(value, dict):
            raise self.wrong(key, 'is true, false, a level, or a table like { level = "note" }')
        numbers = tuple(
            (k, self.number(v, f"{key}.{k}")) for k, v in value.items() if k not in ("on", "level")
        )
        on = value.get("on", True)
        if not isinstance(on, bool):
            raise self.wrong(f"{key}.on", "is true or false")
        level = self.level(value["level"], f"{key}.level") if "level" in value else None
        return RuleChoice(name, on, level, numbers)

    def limits(self, table: Any) -> Limits:
        if not isinstance(table, dict):
            raise self.wrong("limits", "is a table")
        self.keys(table, [f.name for f in fields(Limits)], "limits.")
        for key, value in table.items():
            if not isinstance(value, int) or isinstance(value, bool) or value < 1:
                raise self.wrong(f"limits.{key}", "takes a whole number above 0")
        return replace(DEFAULT_LIMITS, **table)
