"""What does a settings file say, and is it well said?

Every key and value is checked when the file is read, whichever song is asked for, and a fault names
the file, the key and what would be right.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from fnmatch import fnmatchcase
from functools import lru_cache
from pathlib import Path
from typing import Any

from basslint.errors import SettingsError, UsageError
from basslint.hear.facts import (
    MOST_SEMITONES,
    MOST_TRANSPOSED,
    StatedLoop,
    parse_key,
    parse_pitch,
    parse_seconds,
)
from basslint.settings.model import PartSound, RuleChoice, Settings, Stated, shown
from basslint.settings.source import read_source, table_of, unreadable
from basslint.settings.values import FACTS, RULE_KEYS, SONG, TOP, Values
from basslint.smf.chunks import DEFAULT_LIMITS, Limits
from basslint.util.files import is_file
from basslint.util.records import names_of, replace
from basslint.waivers.model import Waiver, read_waiver


class SettingsFile:
    """A parsed and checked settings file: what holds for all songs, and overrides by glob."""

    def __init__(
        self,
        path: Path,
        base: Settings,
        songs: Iterable[tuple[tuple[str, ...], Mapping[str, Any]]],
        waivers: Iterable[Waiver],
    ) -> None:
        self.path, self.base, self.songs = path, base, tuple(songs)
        self._resolved: dict[tuple[int, ...], Settings] = {}
        self._named: dict[str, list[Waiver]] = {}
        self._globs: list[Waiver] = []
        for waiver in waivers:
            if waiver.is_glob:
                self._globs.append(waiver)
            else:
                self._named.setdefault(waiver.song, []).append(waiver)

    def settings_of(self, path: Path, members: Iterable[Path] = ()) -> Settings:
        """All that holds for one song, or for the files (``members``) that are read as one.

        What is said of one of them is said of the arrangement.
        """
        name = self.base.name_of(path)
        files = [path, *members]
        names = {n for file in files for n in (self.base.name_of(file), file.name)}
        rows = tuple(
            row
            for row, (globs, _) in enumerate(self.songs)
            if any(fnmatchcase(n, g) for g in globs for n in names)
        )
        if rows not in self._resolved:
            self._resolved[rows] = self._overridden(rows)
        mine = [
            *self._named.get(name, ()),
            *(self._named.get(path.name, ()) if path.name != name else ()),
            *(w for w in self._globs if w.covers_song(name)),
        ]
        settings = self._resolved[rows]
        return replace(settings, waivers=tuple(mine)) if mine else settings

    def _overridden(self, rows: Collection[int]) -> Settings:
        tables = tuple((", ".join(globs), row in rows) for row, (globs, _) in enumerate(self.songs))
        settings = replace(self.base, tables=tables)
        for row in rows:
            globs, table = self.songs[row]
            source = f"{self.path}, song {', '.join(globs)}"
            settings = _Reader(self.path).apply(settings, table, source)
        return settings


def read_file(path: Path) -> SettingsFile:
    """Parse and check a settings file, once while it stays as it is. Raises `SettingsError`."""
    try:
        state = path.stat()
    except OSError as error:
        raise unreadable(path, error) from None
    return _read(path, state.st_mtime_ns, state.st_size)


@lru_cache(64)
def _read(path: Path, _time: int, _size: int) -> SettingsFile:
    table = table_of(path, read_source(path))
    reader = _Reader(path)
    reader.keys(table, TOP, "")
    folder = path.absolute().parent
    house = (folder / "rules",) if (folder / "rules").is_dir() else ()
    plug_ins = reader.texts(table.get("plug_ins", []), "plug_ins")
    stated = [Stated("house rules", shown(str(h)), "found beside the settings") for h in house]
    stated += [Stated("plug_ins", shown(plug_ins), str(path))] if plug_ins else []
    base = Settings(
        folder=folder,
        file=path,
        house=house,
        plug_ins=plug_ins,
        together=reader.texts(table.get("together", []), "together"),
        begins=reader.begins(table.get("begins", {})),
        stated=tuple(stated),
    )
    base = reader.apply(base, table, str(path))
    songs = []
    for entry in reader.tables(table, "song"):
        reader.keys(entry, SONG, "song.")
        globs = reader.texts(entry.get("files", []), "song.files")
        if not globs:
            raise SettingsError(f"{path}: a [[song]] needs `files`.", 'Write files = "name*.mid".')
        reader.apply(base, entry, "")  # checked now, so that a fault shows whichever song is read
        songs.append((globs, entry))
    waivers = [
        read_waiver(w, f"{path}, waiver {i}")
        for i, w in enumerate(reader.tables(table, "waive"), start=1)
    ]
    base = replace(base, waived=tuple(dict.fromkeys(w.song for w in waivers)))
    return SettingsFile(path, base, songs, waivers)


class _Reader(Values):
    """Checks tables of one settings file and lays them over each other."""

    def apply(self, base: Settings, table: Mapping[str, Any], source: str) -> Settings:
        """The settings with one table laid over them."""
        stated = list(base.stated)
        changed: dict[str, Any] = {}
        if "gate" in table:
            changed["gate"] = self.level(table["gate"], "gate")
            stated.append(Stated("gate", shown(table["gate"]), source))
        if "strict" in table:
            changed["most_unjudged"] = self.strict(table["strict"])
            stated.append(Stated("strict", shown(table["strict"]), source))
        if "middle_c" in table:
            if table["middle_c"] not in ("C3", "C4", "C5"):
                raise self.wrong("middle_c", 'is "C3", "C4" or "C5"')
            changed["middle_c"] = int(table["middle_c"][1])
            stated.append(Stated("middle_c", shown(table["middle_c"]), source))
        if "limits" in table:
            changed["limits"] = self.limits(table["limits"])
            stated += [Stated(f"limits.{k}", shown(v), source) for k, v in table["limits"].items()]
        facts = table.get("facts", {})
        if not isinstance(facts, dict):
            raise self.wrong("facts", "is a table")
        if "chords" in table:  # of a [[song]]
            if "chords" in facts:
                raise self.wrong("song.chords", "is stated twice, there and under `facts`")
            facts = {**facts, "chords": table["chords"]}
        if "loop" in table:
            loops = self.loops(base, table)
            base = replace(base, facts=replace(base.facts, loops=loops))
            stated.append(Stated("facts.loops", "; ".join(map(str, loops)), source))
        if facts:
            named = replace(base, middle_c=changed.get("middle_c", base.middle_c))
            given = self.facts(named, facts)
            base = base.before(given)
            changed["facts"] = replace(base.facts, **given)
            stated += [Stated(f"facts.{k}", shown(v), source) for k, v in facts.items()]
            if "sounds" in facts:
                changed["part_sounds"] = self.sounds(named, facts["sounds"])
        rules = table.get("rules", {})
        if not isinstance(rules, dict):
            raise self.wrong("rules", "is a table")
        choices = tuple(self.choice(name, value, source) for name, value in rules.items())
        stated += [Stated(f"rules.{name}", shown(value), source) for name, value in rules.items()]
        return replace(base, **changed, choices=base.choices + choices, stated=tuple(stated))

    def facts(self, base: Settings, table: Mapping[str, Any]) -> dict[str, Any]:
        """The fields of `Facts` that a table states."""
        self.keys(table, FACTS, "facts.")
        given: dict[str, Any] = {}
        try:
            for key, value in table.items():
                name = f"facts.{key}"
                if key == "chords":
                    from basslint.settings.chords import read_stated_chords

                    given[key] = read_stated_chords(value, name)
                elif key in ("bass", "harmony"):
                    given[key] = self.texts(value, name)
                elif key == "bend_range":
                    given[key] = self.number(value, name)
                    if not 0 < given[key] <= MOST_SEMITONES:
                        raise self.wrong(name, f"lies above 0 and at most at {MOST_SEMITONES}")
                elif key in ("transpose", "cents"):
                    given[key] = self.number(value, name)
                    most = MOST_TRANSPOSED * (100 if key == "cents" else 1)
                    if abs(given[key]) > most:
                        raise self.wrong(name, f"lies between -{most:g} and {most:g}")
                elif key == "one_shot":
                    if not isinstance(value, bool):
                        raise self.wrong(name, "is true or false")
                    given[key] = value
                elif key in ("decay", "glide_time") and not isinstance(value, str):
                    raise self.wrong(name, f'takes a time with its unit, like "{_time(value)}"')
                elif key != "sounds" and not isinstance(value, str):
                    raise self.wrong(name, "takes a text")
                elif key == "key":
                    given["key"] = parse_key(value, name)
                elif key == "root_key":
                    given["root_key"] = parse_pitch(value, name, base.middle_c)
                elif key == "decay":
                    given["decay_s"] = parse_seconds(value, name)
                elif key == "glide_time":
                    given["glide_time_s"] = parse_seconds(value, name)
                elif key == "sound":
                    given["sound"] = self.sound((base.folder or Path()) / value, name)
        except UsageError as error:
            raise SettingsError(f"{self.path}: {error.message}", error.advice) from None
        return given

    def loops(self, base: Settings, table: Mapping[str, Any]) -> tuple[StatedLoop, ...]:
        """The [[loop]] tables of a file or of a [[song]]."""
        from basslint.settings.loops import read_stated_loop

        found = []
        for row, entry in enumerate(self.tables(table, "loop"), start=1):
            try:
                loop = read_stated_loop(entry, f"loop {row}")
            except UsageError as error:
                raise SettingsError(f"{self.path}: {error.message}", error.advice) from None
            file = self.sound((base.folder or Path()) / loop.file, f"loop {row}: file")
            found.append(replace(loop, file=file))
        return tuple(found)

    def sounds(self, base: Settings, value: Any) -> tuple[PartSound, ...]:
        """The sounds of parts: files, or tables of a file and its root key."""
        if not isinstance(value, dict):
            raise self.wrong("facts.sounds", "names a sound file for each part")
        return tuple(self.part_sound(base, part, said) for part, said in value.items())

    def part_sound(self, base: Settings, part: str, said: Any) -> PartSound:
        key = f"facts.sounds.{part}"
        table = said if isinstance(said, dict) else {"file": said}
        self.keys(table, ("file", "root_key"), f"{key}.")
        file, root = table.get("file"), table.get("root_key")
        if not isinstance(file, str) or not isinstance(root, str | None):
            raise self.wrong(key, 'names a sound file, or { file = "…", root_key = "C3" }')
        try:
            pitch = None if root is None else parse_pitch(root, f"{key}.root_key", base.middle_c)
        except UsageError as error:
            raise SettingsError(f"{self.path}: {error.message}", error.advice) from None
        return PartSound(part, self.sound((base.folder or Path()) / file, key), pitch)

    def sound(self, path: Path, key: str) -> str:
        if not is_file(path):
            raise self.wrong(key, f"names {path}, which is no file")
        return str(path)

    def choice(self, name: str, value: Any, source: str) -> RuleChoice:
        key = f"rules.{name}"
        if isinstance(value, bool):
            return RuleChoice(name=name, on=value, source=source)
        if isinstance(value, str):
            return RuleChoice(name=name, level=self.level(value, key), source=source)
        if not isinstance(value, dict):
            raise self.wrong(key, 'is true, false, a level, or a table like { level = "note" }')
        numbers = tuple(
            (k, self.of_rule(v, key, k)) for k, v in value.items() if k not in RULE_KEYS
        )
        on = value.get("on", True)
        if not isinstance(on, bool):
            raise self.wrong(f"{key}.on", "is true or false")
        level = self.level(value["level"], f"{key}.level") if "level" in value else None
        return RuleChoice(name=name, on=on, level=level, numbers=numbers, source=source)

    def limits(self, table: Any) -> Limits:
        if not isinstance(table, dict):
            raise self.wrong("limits", "is a table")
        self.keys(table, names_of(Limits), "limits.")
        for key, value in table.items():
            if not isinstance(value, int) or isinstance(value, bool) or value < 1:
                raise self.wrong(f"limits.{key}", "takes a whole number above 0")
        return replace(DEFAULT_LIMITS, **table)


def _time(value: Any) -> str:
    """A number as the time that was probably meant: below ten it is seconds."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 1e6:
        return "600ms"
    return f"{value:g}s" if value < 10 else f"{value:g}ms"
