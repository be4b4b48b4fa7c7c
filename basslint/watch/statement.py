"""What is stated of a song in the page's form, as options of a run and as lines of the settings."""

from __future__ import annotations

import glob
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit

from basslint.errors import UsageError
from basslint.hear.facts import StatedChords, StatedLoop, parse_key, parse_pitch, parse_seconds
from basslint.settings.loops import read_stated_loop
from basslint.settings.run_options import RunOptions
from basslint.theory.chord_symbols import read_chords
from basslint.util.records import record, replace

FIELDS = ("key", "chords", "bass", "decay", "root_key", "begins", "bars")
_LONGEST = 2_000  # characters of a field: hundreds of chords


@record
class Upload:
    """A sound that was dropped: where it lies, and how it was called."""

    path: Path
    name: str


@record(kw_only=True)
class Statement:
    """The form as it was filled in; empty fields leave it to the settings. ``begins`` and ``bars``
    are of the loop that was dropped, or of those that the settings name."""

    key: str = ""
    chords: str = ""
    bass: str = ""
    decay: str = ""
    root_key: str = ""
    begins: str = ""
    bars: str = ""
    loop: Upload | None = None
    sound: Upload | None = None

    def filled(self, words: Mapping[str, Any]) -> Statement:
        """The statement with fields replaced by words of the form."""
        given: dict[str, Any] = {k: str(words[k]).strip()[:_LONGEST] for k in FIELDS if k in words}
        return replace(self, **given)

    def options(self, base: RunOptions, home: Path) -> RunOptions:
        """The options of a run with all of it stated; ``home``: the path whose settings hold.

        Raises `UsageError`.
        """
        return replace(
            base,
            key=parse_key(self.key, "key") if self.key else base.key,
            chords=self._chords() or base.chords,
            bass=self._parts() or base.bass,
            decay_s=parse_seconds(self.decay, "decay") if self.decay else base.decay_s,
            sound=str(self.sound.path) if self.sound else base.sound,
            root_key=self._root_key(base, home) or base.root_key,
            loops=self._loops(base, home),
        )

    def lines(self, song: str) -> str:
        """The same as lines of a settings file, for a song by its name there; empty for none."""
        facts = tomlkit.inline_table()
        for name in ("key", "chords", "decay", "root_key"):
            if value := getattr(self, name):
                facts[name] = value
        if parts := self._parts():
            facts["bass"] = parts[0] if len(parts) == 1 else list(parts)
        if self.sound:
            facts["sound"] = self.sound.name
        table = tomlkit.table()
        table["files"] = glob.escape(song)
        if facts:
            table["facts"] = facts
        if self.loop:
            loop = tomlkit.table()
            loop["file"] = self.loop.name
            loop.update(self._of_loop())
            loops = tomlkit.aot()
            loops.append(loop)
            table["loop"] = loops
        if len(table) == 1:
            return ""
        document, songs = tomlkit.document(), tomlkit.aot()
        songs.append(table)
        document["song"] = songs
        return tomlkit.dumps(document)

    @property
    def names(self) -> tuple[tuple[str, str], ...]:
        """Paths of dropped sounds, and how they are called."""
        return tuple((str(u.path), u.name) for u in (self.loop, self.sound) if u is not None)

    def _chords(self) -> tuple[StatedChords, ...]:
        return (StatedChords(1, read_chords(self.chords, "chords")),) if self.chords else ()

    def _root_key(self, base: RunOptions, home: Path) -> str:
        if self.root_key:  # read with the run's options only later, where it would stop the check
            parse_pitch(self.root_key, "root key", base.settings_of(home).middle_c)
        return self.root_key

    def _parts(self) -> tuple[str, ...]:
        return tuple(filter(None, (part.strip() for part in self.bass.split(","))))

    def _of_loop(self) -> dict[str, Any]:
        """Length and beginning as a [[loop]] table has them."""
        said: dict[str, Any] = {}
        if self.bars:
            said["bars"] = int(self.bars) if self.bars.isdecimal() else self.bars
        if self.begins:
            said["begins"] = self.begins
        return said

    def _loops(self, base: RunOptions, home: Path) -> tuple[StatedLoop, ...]:
        said = self._of_loop()
        if self.loop:
            return (read_stated_loop({"file": str(self.loop.path), **said}, "loop"),)
        if not said:
            return base.loops
        known = base.settings_of(home).facts.loops
        if not known:
            raise UsageError("There is no loop that could begin or last.", "Drop one first.")
        read = read_stated_loop({"file": "loop", **said}, "loop")
        changed: dict[str, Any] = {"bars": read.bars} if self.bars else {}
        if self.begins:
            changed |= {"begins_s": read.begins_s, "begins_beats": read.begins_beats}
        return tuple(replace(loop, **changed) for loop in known)


NOTHING = Statement()
