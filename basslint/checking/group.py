"""What do files say that are one arrangement, and what do findings in it say of each file?

A group stands for its folder: wherever a song is asked for by its path, a folder may be one whose
files are read together.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from fnmatch import fnmatchcase
from pathlib import Path

from basslint.checking.members import members_of
from basslint.errors import MidiError, Unreadable, UsageError
from basslint.judging.results import FileReport, Finding
from basslint.settings.discovery import is_grouped, settings_for
from basslint.settings.model import Settings
from basslint.smf.scan import Scan, scan
from basslint.smf.status import CHANNEL, KIND, NOTE_ON
from basslint.smf.together import Joined, MidiFile, join
from basslint.song.arrangement import build
from basslint.song.timing import BarGrid
from basslint.theory.general_midi import DRUM_CHANNEL
from basslint.util.columns import distinct
from basslint.util.files import read_at_most
from basslint.util.records import replace

_DRUMS = DRUM_CHANNEL - 1  # as status bytes count


def read_group(folder: Path, settings: Settings) -> Joined:
    """The files of a group as one.

    Raises `MidiError`, which names the file that is at fault, and `UsageError` for a folder that
    nobody called a group and that holds songs.
    """
    files = []
    members = members_of(folder, settings)
    if not members:
        try:
            os.scandir(folder).close()
        except OSError as error:
            raise Unreadable(
                f"{folder} cannot be looked into: {error.strerror}.", "Check its permissions."
            ) from None
        raise Unreadable(f"{folder} holds no MIDI files.", "Name a folder that holds some.")
    for path in members:
        try:
            raw = _bytes(path, settings)
            files.append(MidiFile(path.stem, raw, scan(raw, settings.limits)))
        except MidiError as error:
            raise type(error)(
                f"{path}, one of {len(members)} files that are read together: {error.message}",
                error.advice,
                error.byte,
            ) from None
    if not settings.members and not any(is_grouped(p, settings) for p in members):
        _refuse_songs(folder, list(zip(members, files, strict=True)), settings)
    bars = [_first_bar(path, settings) for path in members]
    whole = join(files)
    if set(bars) == {1}:
        return whole
    return join(files, _ticks(build(scan(whole.data, settings.limits)).grid, bars))


def _refuse_songs(folder: Path, read: Sequence[tuple[Path, MidiFile]], settings: Settings) -> None:
    """Laid over each other, songs would sound like one, and all that is heard of it be wrong.

    A song is a file of several pitched parts; a file of one part may be a part of a song. So are
    files that hold the same part beside others, and those that the settings speak of one by one.
    """
    songs, why = [path for path, file in read if _pitched(file.scan) > 1], ""
    if len(songs) < 2:
        songs, shared = _of_one_name(read, settings)
        why = f" Each has a part named {shared}."
    if len(songs) < 2:
        songs, why = _spoken_of(read, settings), " Each has a [[song]] table of its own."
    if len(songs) > 1:
        among = ", ".join(path.name for path in songs[:3]) + (", …" if len(songs) > 3 else "")
        raise UsageError(
            f"{folder} holds {len(songs)} songs ({among}), not the parts of one.{why}",
            "Name one of them, or `basslint check` the folder. If they are one arrangement, say so "
            "in basslint.toml: together = [GLOB].",
        )


def _of_one_name(
    read: Sequence[tuple[Path, MidiFile]], settings: Settings
) -> tuple[list[Path], str]:
    """The files of several parts that have one of the same name, most of them, and that name."""
    holders: dict[str, list[Path]] = {}
    for path, file in read:
        parts = build(file.scan, settings.limits.max_bars).parts
        if len(parts) > 1:
            for name in dict.fromkeys(part.track_name for part in parts if part.track_name):
                holders.setdefault(name, []).append(path)
    name = max(holders, key=lambda n: len(holders[n]), default="")
    return holders.get(name, []), name


def _spoken_of(read: Sequence[tuple[Path, MidiFile]], settings: Settings) -> list[Path]:
    """The files of which a [[song]] table of the settings speaks, and of no other of them."""
    tables = [settings_for(path, settings.file).tables for path, _ in read]
    alone = [row for row, spoken in enumerate(zip(*tables, strict=True)) if _once(spoken)]
    return [p for (p, _), mine in zip(read, tables, strict=True) if any(mine[r][1] for r in alone)]


def _once(spoken: Sequence[tuple[str, bool]]) -> bool:
    return sum(speaks for _, speaks in spoken) == 1


def _pitched(read: Scan) -> int:
    """How many (track, channel) pairs of a file strike notes, drums left out."""
    struck = [t.status[(t.status & KIND == NOTE_ON) & (t.data2 > 0)] & CHANNEL for t in read.tracks]
    return sum(len(distinct(channels[channels != _DRUMS])) for channels in struck)


def _first_bar(member: Path, settings: Settings) -> int:
    """The bar in which a file begins, by the settings."""
    name = settings.name_of(member)
    stated = [b for glob, b in settings.begins if glob == member.name or fnmatchcase(name, glob)]
    return stated[-1] if stated else 1


def _ticks(grid: BarGrid, bars: Sequence[int]) -> list[int]:
    """The ticks at which bars begin; bars after the end are as long as the last one."""
    last = int(grid.start[-1] - grid.start[-2])
    beyond = [max(bar - 1 - grid.bars, 0) * last for bar in bars]
    return [
        int(grid.start[min(bar - 1, grid.bars)]) + more
        for bar, more in zip(bars, beyond, strict=True)
    ]


def _bytes(path: Path, settings: Settings) -> bytes:
    try:
        if not path.is_file():
            raise Unreadable("it is no file.", "Check the path.")
        return read_at_most(path, settings.limits.max_bytes + 1)
    except OSError as error:
        raise Unreadable(
            f"it cannot be opened: {error.strerror}.", "Check its permissions."
        ) from None


def by_file(report: FileReport, whole: Joined, members: Sequence[Path]) -> FileReport:
    """The report on a group, each finding under the file that it stands in."""

    def of_file(finding: Finding) -> Finding:
        if finding.part is None:
            return finding
        name = members[whole.index_of(finding.part.track)].name
        part = replace(finding.part, file=name)
        return replace(finding, part=part, byte=None, byte_length=None)

    findings = tuple(of_file(finding) for finding in report.findings)
    return replace(report, findings=findings, warnings=(*whole.remarks, *report.warnings))
