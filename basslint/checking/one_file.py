"""What is heard and found in one file, step by step from its bytes to its report?"""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from pathlib import Path

from basslint.checking.hearing import chord_remarks, heard, mute_remarks, sound_remarks
from basslint.errors import BasslintError, MidiError, Unreadable
from basslint.hear.chart import Chart
from basslint.judging.results import FileReport, Problem
from basslint.rulebook.model import Rule
from basslint.settings.model import Settings
from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.util.files import read_at_most
from basslint.waivers.model import Waived, apply_waivers


def read_bytes(path: Path, settings: Settings) -> bytes:
    """A file's bytes, never more than the limit plus one. Raises `Unreadable`.

    Those of a folder are its files laid together. Raises `MidiError` for them.
    """
    if path.is_dir():
        from basslint.checking.group import read_group  # most songs are files

        return read_group(path, settings).data
    try:
        if not path.is_file():
            raise Unreadable(f"{path} is no file.", "Check the path.")
        return read_at_most(path, settings.limits.max_bytes + 1)
    except OSError as error:
        raise Unreadable(
            f"{path} cannot be opened: {error.strerror}.", "Check its permissions."
        ) from None


def chart_of(path: Path, settings: Settings) -> Chart:
    """What is heard in one file. Raises `MidiError`, which names it, where it cannot be read."""
    data = read_bytes(path, settings)
    try:
        song = build(scan(data, settings.limits), settings.limits.max_bars)
    except MidiError as error:
        message = f"{path} {problem_of(error).verdict}: {error.message}"
        raise type(error)(message, error.advice, error.byte) from None
    return heard(song, settings, str(path))


def check_bytes(
    data: bytes,
    path: str,
    settings: Settings,
    rules: Iterable[Rule],
    like: Chart | None = None,
    in_full: bool = True,
) -> FileReport:
    """Check the bytes of a file that is named ``path`` in the report; nothing is waived.

    ``like``: the chart of a copy that differs little, or not at all, under the same settings; it
    saves time and changes nothing. ``in_full``: as `judge` has it.
    """
    from basslint.judging.judge import judge

    try:
        read = scan(data, settings.limits, like.song.scan if like is not None else None)
        song = build(read, settings.limits.max_bars)
        if like is not None and like.song.scan.data == song.scan.data:
            chart = like
        else:
            chart = heard(song, settings, path)
            if like is not None:
                chart.with_roots_of(like)
        verdict = judge(chart, rules, in_full)
    except BasslintError as error:
        return FileReport(path=path, problem=problem_of(error))
    return FileReport(
        path=path,
        warnings=(
            *song.warnings,
            *mute_remarks(chart),
            *(chart.loops.remarks if chart.loops else ()),
            *sound_remarks(chart, settings),
            *chord_remarks(chart, settings),
        ),
        chart=chart,
        findings=verdict.findings,
        unjudged=verdict.unjudged,
        faults=verdict.faults,
    )


def problem_of(error: BasslintError) -> Problem:
    """An error as what a report says of its file."""
    return Problem(error.kind, error.message, error.advice, getattr(error, "byte", None))


def checked(path: Path, settings: Settings, rules: Iterable[Rule], today: datetime.date) -> Waived:
    """Check one file and let stand what its waivers name; says which of them were of use.

    Whatever is wrong with its bytes, or with what is stated of it, becomes a `Problem`.
    """
    try:
        if path.is_dir():
            report = _checked_group(path, settings, rules)
        else:
            report = check_bytes(read_bytes(path, settings), str(path), settings, rules)
    except MidiError as error:
        return Waived(FileReport(path=str(path), problem=problem_of(error)), frozenset())
    return apply_waivers(report, settings.name_of(path), settings.waivers, today)


def _checked_group(path: Path, settings: Settings, rules: Iterable[Rule]) -> FileReport:
    """Check the files of a folder as one song. Raises `MidiError` where they are none."""
    from basslint.checking.group import by_file, read_group
    from basslint.checking.members import members_of

    whole = read_group(path, settings)
    report = check_bytes(whole.data, str(path), settings, rules)
    return by_file(report, whole, members_of(path, settings))


def check_file(path: Path, settings: Settings, rules: Iterable[Rule]) -> FileReport:
    """Check one file, waivers applied."""
    return checked(path, settings, rules, datetime.date.today()).report
