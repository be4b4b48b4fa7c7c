"""How does a waiver get into the settings file, without losing the owner's comments?"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path

import tomlkit

from basslint.errors import SettingsError, UsageError
from basslint.judging.fingerprint import measureless
from basslint.judging.results import FileReport, Finding
from basslint.settings.discovery import find_file
from basslint.settings.model import FILE_NAME, name_below
from basslint.settings.source import MOST_BYTES, read_source, table_of
from basslint.song.events import given_name
from basslint.util.files import write_atomically
from basslint.util.locks import changing
from basslint.waivers.model import Waiver


def home_of(song: Path) -> Path:
    """The settings file a waiver for ``song`` belongs in: the nearest one, or a new one.

    A new one is put into the current folder where the song lies below it, else beside the song.
    """
    found = find_file(song)
    if found:
        return found
    here = Path.cwd()
    return (here if song.absolute().is_relative_to(here) else song.absolute().parent) / FILE_NAME


def name_in(home: Path, song: Path) -> str:
    """How the settings file calls the song: its path below the file's folder.

    Raises `UsageError` for a name that no text can hold.
    """
    name = name_below(home.absolute().parent, song)
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:
        raise UsageError(
            f"{song}: its name is not UTF-8, so no settings file can name it.", "Rename the file."
        ) from None
    return name


def waivers_for(
    findings: Iterable[Finding], song: str, reason: str, until: datetime.date | None = None
) -> tuple[Waiver, ...]:
    """One waiver for each rule and part, matching what is sounded there and nothing else."""

    def place(f: Finding) -> tuple[str, str]:
        return f.rule, given_name(f.part.name) if f.part else ""

    waivers: list[Waiver] = []
    for (rule, part), group in groupby(sorted(findings, key=place), key=place):
        mine = sorted(group, key=lambda f: f.where.tick)
        sounds = tuple(dict.fromkeys(f.fingerprint for f in mine))
        waivers.append(
            Waiver(
                rule=rule,
                song=song,
                reason=reason,
                bars=None,
                part=part or None,
                sounds=sounds,
                until=until,
                heard=_heard(mine),
            )
        )
    return tuple(waivers)


def _heard(findings: Sequence[Finding]) -> str:
    """What a waiver lets stand, for whoever reads it: each matter once, with all its bars."""
    matters: dict[str, list[Finding]] = {}
    for finding in findings:
        matters.setdefault(measureless(finding.message), []).append(finding)
    told = []
    for alike in list(matters.values())[:4]:
        bars = sorted({where.bar for finding in alike for where in finding.places})
        listed = ", ".join(map(str, bars[:8])) + (", …" if len(bars) > 8 else "")
        told.append(f"bar{'s' if len(bars) > 1 else ''} {listed}: {alike[0].message}")
    if len(matters) > 4:
        told.append(f"And {len(matters) - 4} more.")
    return " ".join(told)


def matching(report: FileReport, rule: str, bar: int | None) -> list[Finding]:
    """The unwaived findings of a rule (in one bar). Raises `UsageError` where there are none."""
    of_rule = [f for f in report.findings if f.rule == rule]
    mine = [f for f in of_rule if f.waived is None]
    found = [f for f in mine if bar is None or bar in {w.bar for w in f.places}]
    if found:
        return found
    done = [f for f in of_rule if bar in (None, f.where.bar)]  # none of these is unwaived
    if done:
        raise UsageError(
            f"{report.path}: {rule} is already waived{'' if bar is None else f' in bar {bar}'}.",
            f"The reason that stands: {done[0].waived}",
        )
    bars = sorted({w.bar for f in mine for w in f.places})
    where = "" if bar is None else f" in bar {bar}"
    raise UsageError(
        f"{report.path}: {rule} finds nothing to waive{where}.",
        f"It has findings in bar{'s' if len(bars) > 1 else ''} {', '.join(map(str, bars))}."
        if bars
        else "`basslint check` lists what stands.",
    )


def add_waivers(home: Path, waivers: Sequence[Waiver]) -> None:
    """Append waivers to a settings file (made where there is none), all else left as it is.

    Runs that do so at once wait for each other, so that none is lost. Raises `SettingsError` where
    the file is no TOML, `MendError` where it cannot be written.
    """
    with changing(home):
        write_atomically(home, _appended(home, waivers))


def _appended(home: Path, waivers: Sequence[Waiver]) -> bytes:
    """The bytes of a settings file as they are, and waivers after them in the line ends it has."""
    raw = read_source(home) if home.exists() else b""
    table_of(home, raw)  # where it is no TOML, that is told with its line
    tables = "\n".join(f"[[waive]]\n{tomlkit.dumps(_table(w))}" for w in waivers)
    gap = "" if not raw or raw.endswith((b"\n\n", b"\n\r\n")) else "\n"
    text = ("" if not raw or raw.endswith(b"\n") else "\n") + gap + tables
    first, end, _ = raw.partition(b"\n")
    if end and first.endswith(b"\r"):
        text = text.replace("\n", "\r\n")
    whole = raw + text.encode("utf-8")
    if len(whole) > MOST_BYTES:
        raise SettingsError(
            f"{home} would be longer than {MOST_BYTES:,} bytes.",
            "Accept fewer songs in one file: a settings file may stand in each folder.",
        )
    try:
        table_of(home, whole)
    except SettingsError:  # as of `waive = []`, which cannot be added to
        raise SettingsError(
            f"{home}: `waive` is written as [[waive]].", "Write it so: then it can be added to."
        ) from None
    return whole


def _table(waiver: Waiver) -> tomlkit.items.Table:
    table = tomlkit.table()
    table["rule"] = waiver.rule
    table["song"] = waiver.song
    if waiver.part:
        table["part"] = waiver.part
    if waiver.bars:
        table["bars"] = f"{waiver.bars[0]}-{waiver.bars[1]}"
    if waiver.heard:
        table["heard"] = waiver.heard
    if waiver.sounds:
        sounds = tomlkit.array()
        sounds.extend(waiver.sounds)
        table["sounds"] = sounds.multiline(len(waiver.sounds) > 2)
    table["reason"] = waiver.reason
    if waiver.until:
        table["until"] = waiver.until
    return table
