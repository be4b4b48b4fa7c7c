"""Which findings may stand, and for what reason?

A waiver names a rule, a song, a part and what is sounded there, never ticks, so that a re-export or
an inserted intro does not break it.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from basslint.errors import SettingsError
from basslint.judging.results import FileReport, Finding
from basslint.util.records import record, replace
from basslint.util.text import nearest, whole

_KEYS = ("rule", "song", "bars", "part", "heard", "sounds", "reason", "until")


@record(kw_only=True)
class Waiver:
    """A reason to let findings stand.

    ``song`` is a glob of paths below the settings file, or of bare names; ``part`` and ``sounds``
    (fingerprints of what is sounded) narrow it; ``bars`` is (first, last) from 1, or None for
    anywhere; ``until`` is its last day; ``heard`` reminds readers of what was waived and matches
    nothing.
    """

    rule: str
    song: str
    reason: str
    bars: tuple[int, int] | None = None
    part: str | None = None
    sounds: tuple[str, ...] = ()
    until: datetime.date | None = None
    heard: str = ""

    @property
    def is_glob(self) -> bool:
        """Whether it may speak of several songs."""
        return any(sign in self.song for sign in "*?[")

    def covers_song(self, path: str) -> bool:
        """Whether it speaks of the song at a path (relative to the settings file)."""
        name = path.rpartition("/")[2]
        if not self.is_glob:  # quick: a long list of accepted findings is asked for every song
            return self.song in (path, name)
        return fnmatchcase(path, self.song) or fnmatchcase(name, self.song)

    def covers(self, finding: Finding) -> bool:
        """Whether a finding of its song is the one it speaks of."""
        return (
            self.rule == finding.rule
            and (
                not self.bars or all(self.bars[0] <= w.bar <= self.bars[1] for w in finding.places)
            )
            and self.part in (None, finding.part.name if finding.part else None)
            and (not self.sounds or finding.fingerprint in self.sounds)
        )

    def is_over(self, today: datetime.date) -> bool:
        """Whether its last day has passed."""
        return self.until is not None and today > self.until

    @property
    def end(self) -> str:
        """What is said of it once it is over."""
        what = f"The waiver of {self.rule} in {self.song}"
        return f"{what} ended on {self.until}; its findings count again."


@record(eq=False)
class Waived:
    """A report with waivers applied, and the rows of the waivers that were of use."""

    report: FileReport
    used: frozenset[int]


def apply_waivers(
    report: FileReport, path: str, waivers: Sequence[Waiver], today: datetime.date
) -> Waived:
    """Let the findings stand that a waiver covers. ``path`` is relative to the settings file."""
    mine = [
        (row, w) for row, w in enumerate(waivers) if w.covers_song(path) and not w.is_over(today)
    ]
    if not mine:
        return Waived(report, frozenset())
    used: set[int] = set()
    findings: list[Finding] = []
    for finding in report.findings:
        covering = [(row, w) for row, w in mine if w.covers(finding)]
        used.update(row for row, _ in covering)
        findings.append(finding.waive(covering[0][1].reason) if covering else finding)
    return Waived(replace(report, findings=tuple(findings)), frozenset(used))


class Ledger:
    """Which waivers were met in a run, and which of them were of use?

    ``whole`` are folders of which every song is in the run: only there can be told that a waiver
    for many songs (a glob) matches nothing, unless the run judges them in part: then only which
    songs there are is known.
    """

    def __init__(
        self, today: datetime.date, whole: Sequence[Path] = (), in_part: bool = False
    ) -> None:
        self.in_part = in_part
        self.today = today
        self.whole = tuple(folder.absolute() for folder in whole)
        self.met: dict[Waiver, None] = {}  # in the order of the settings file
        self.used: set[Waiver] = set()
        self.tables: dict[tuple[Path, str], bool] = {}
        self.globs: dict[tuple[Path, str], tuple[str, ...]] = {}
        self.names: dict[tuple[Path, str], set[str]] = {}

    def enter(
        self,
        waivers: Sequence[Waiver],
        used: Iterable[int],
        folder: Path | None,
        judged: Collection[str],
    ) -> None:
        """Note a song that was checked: the waivers that speak of it, rows of those that matched,
        the folder of its settings, and the rules that were run."""
        self.used.update(waivers[row] for row in used)
        for waiver in waivers:
            complete = not waiver.is_glob or (self._is_whole(folder) and not self.in_part)
            if waiver.rule in judged and complete:
                self.met[waiver] = None

    def meet(self, file: Path | None, tables: Iterable[tuple[str, bool]]) -> None:
        """Note what the settings ``file`` of a song says of single songs: the globs of each table,
        and whether it speaks of this one. Where not all songs are in the run, only globs that
        lead to no folder can be told to name none."""
        if file is None:
            return
        whole = self._is_whole(file.absolute().parent)
        for globs, speaks in tables:
            if whole or (not speaks and _lead_nowhere(file.parent, globs)):
                self.tables[file, globs] = speaks or self.tables.get((file, globs), False)

    def look_for(
        self, file: Path | None, key: str, globs: tuple[str, ...], names: Iterable[str]
    ) -> None:
        """Note which songs or files the settings ``file`` names under a ``key``, by globs or by
        name, and all ``names`` that a song, or its files, answer to."""
        if file is None or not globs or not self._is_whole(file.absolute().parent):
            return
        self.globs[file, key] = globs
        self.names.setdefault((file, key), set()).update(names)

    def _is_whole(self, folder: Path | None) -> bool:
        return folder is not None and any(folder.is_relative_to(w) for w in self.whole)

    def remarks(self) -> tuple[str, ...]:
        """Plain sentences on waivers that are over, and on waivers and tables of songs that match
        nothing in the songs checked."""
        said = [
            f"{file}: [[song]] files = {globs} names no song. Globs are matched against the path "
            "below that file and against the bare file name."
            for (file, globs), spoke in self.tables.items()
            if not spoke
        ]
        for (file, key), globs in self.globs.items():
            said += [f"{file}: {key} = {what}" for what in _idle(globs, self.names[file, key])]
        for waiver in self.met:
            if waiver.is_over(self.today):
                said.append(waiver.end)
            elif waiver not in self.used:
                what = f"The waiver of {waiver.rule} in {waiver.song}"
                said.append(f"{what} matches nothing any more; take it out of the settings.")
        return tuple(said)


def _lead_nowhere(folder: Path, globs: str) -> bool:
    """Whether each glob (joined by commas) begins with a path that is not there."""
    for glob in globs.split(", "):
        wild = [at for at in map(glob.find, "*?[") if at >= 0]
        plain = glob[: min(wild, default=len(glob))]
        head = plain if plain == glob else plain.rpartition("/")[0]
        if "/" not in plain or os.path.lexists(folder / head):
            return False
    return True


def _idle(globs: Iterable[str], names: set[str]) -> Iterator[str]:
    """What to say of the globs that match none of the names."""
    for glob in dict.fromkeys(globs):
        if glob in names or any(fnmatchcase(name, glob) for name in names):
            continue
        near = nearest(glob, sorted(names))
        advice = f"Did you mean “{near}”?" if near else "Paths are those below that file."
        yield f"“{glob}” names none of the songs. {advice}"


def read_waiver(table: Mapping[str, Any], where: str) -> Waiver:
    """Check one [[waive]] table. Raises `SettingsError`."""
    for key in table:
        if key not in _KEYS:
            near = nearest(key, _KEYS, 0.0)
            raise SettingsError(f"{where}: unknown key `{key}`.", f"Did you mean `{near}`?")
    for key in ("rule", "song", "reason"):
        if not isinstance(table.get(key), str) or not table[key].strip():
            raise SettingsError(
                f"{where}: `{key}` {'must be a text' if key in table else 'is missing'}.",
                "A waiver names its rule, its song and the reason.",
            )
    if "part" in table and not isinstance(table["part"], str):
        raise SettingsError(f"{where}: `part` is the name of a part.", 'Write part = "Sub".')
    until = table.get("until")
    if isinstance(until, datetime.datetime):  # TOML has both; a day is meant
        until = until.date()
    if until is not None and not isinstance(until, datetime.date):
        raise SettingsError(f"{where}: `until` is a date.", "Write until = 2027-01-31.")
    sounds = table.get("sounds", [])
    if not isinstance(sounds, list) or not all(isinstance(s, str) for s in sounds):
        raise SettingsError(f"{where}: `sounds` is a list of texts.", "`basslint waive` writes it.")
    return Waiver(
        rule=table["rule"],
        song=table["song"],
        reason=table["reason"],
        bars=_bars(table.get("bars"), where),
        part=table.get("part"),
        sounds=tuple(sounds),
        until=until,
        heard=str(table.get("heard", "")),
    )


def _bars(value: Any, where: str) -> tuple[int, int] | None:
    if value is None:
        return None
    text = str(value).replace("–", "-")
    first, _, last = text.partition("-")
    bars = whole(first), whole(last if last.strip() else first)
    if bars[0] is None or bars[1] is None:
        raise SettingsError(f"{where}: `bars` is a bar or a range.", 'Write bars = "5-8".')
    return bars[0], bars[1]
