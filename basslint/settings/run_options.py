"""What is stated for a whole run, over what the settings say of each file?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from basslint.hear.facts import parse_pitch
from basslint.settings.discovery import settings_for
from basslint.settings.model import Settings
from basslint.util.records import record, replace

if TYPE_CHECKING:
    from basslint.hear.facts import StatedChords, StatedKey, StatedLoop
    from basslint.rulebook.model import Level, Rule


@record(kw_only=True)
class RunOptions:
    """What holds for every file of a run; empty or None leaves it to the settings.

    ``settings_file`` stands for the one that would be looked for. ``only`` and ``without`` name
    rules or families. The others override the facts of the same name (see `Facts`) and the gate;
    ``strict``: what could not be judged fails the run; ``members``: files that are read as one,
    for the folder that stands for them; ``together``: so are those of every folder.
    """

    settings_file: Path | None = None
    bass: tuple[str, ...] = ()
    harmony: tuple[str, ...] = ()
    key: StatedKey | None = None
    chords: tuple[StatedChords, ...] = ()
    loops: tuple[StatedLoop, ...] = ()
    decay_s: float | None = None
    glide_time_s: float | None = None
    bend_range: float | None = None
    sound: str | None = None
    root_key: str | None = None
    only: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    gate: Level | None = None
    strict: bool = False
    members: tuple[Path, ...] = ()
    together: bool = False

    def settings_of(self, path: Path) -> Settings:
        """The settings for a file, overridden. Raises `SettingsError`."""
        members = self.members if self.members and path.is_dir() else ()
        settings = settings_for(path, self.settings_file, members)
        if members:
            settings = replace(settings, members=members)
        if self.together:
            settings = replace(settings, together=("*",))
        root_key = self.root_key and parse_pitch(self.root_key, "--root-key", settings.middle_c)
        return settings.with_facts(
            bass=self.bass,
            harmony=self.harmony,
            key=self.key,
            chords=self.chords,
            loops=self.loops,
            decay_s=self.decay_s,
            glide_time_s=self.glide_time_s,
            bend_range=self.bend_range,
            sound=self.sound,
            root_key=root_key,
        )

    def choose(self, settings: Settings, book: tuple[Rule, ...]) -> tuple[Rule, ...]:
        """The rules to run: those that the settings leave on, narrowed by ``only``/``without``.

        Raises `UsageError` for a name that is no rule or family.
        """
        chosen = settings.choose(book)
        if not self.only and not self.without:
            return chosen
        from basslint.rulebook.lookup import find_rules

        only, without = find_rules(self.only, book), find_rules(self.without, book)
        if only:  # a rule that is named runs even where the settings turn it off
            by_name = {r.name: r for r in (*book, *chosen)}
            return tuple(by_name[n] for n in only if n not in without)
        return tuple(r for r in chosen if r.name not in without)
