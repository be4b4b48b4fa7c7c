"""What becomes of one file when it is mended, and what is heard in it then?"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable
from pathlib import Path

from basslint.checking.one_file import check_bytes, read_bytes
from basslint.hear.chart import Chart
from basslint.judging.results import FileReport
from basslint.mending.account import Choice, MendResult
from basslint.mending.mend import mend
from basslint.rulebook.model import Rule
from basslint.settings.model import Settings
from basslint.waivers.model import apply_waivers


def mend_file(
    path: Path, settings: Settings, rules: Iterable[Rule], choice: Choice | None = None
) -> MendResult:
    """Mend one file in memory. Raises `MidiError` where the system does not give its bytes,
    `MendError` where they are no song."""
    return mended(read_bytes(path, settings), path, settings, rules, choice)


def mended(
    data: bytes,
    path: Path,
    settings: Settings,
    rules: Iterable[Rule],
    choice: Choice | None = None,
) -> MendResult:
    """Mend the bytes of a file that is named ``path``. Raises `MendError` where they are no song.

    Each copy that mending tries is asked in brief: of several hundred places the fixes take longer
    than finding them.
    """
    recheck = rechecker(path, settings, rules)
    return mend(data, recheck, choice, lambda copy: recheck(copy, False))


def rechecker(path: Path, settings: Settings, rules: Iterable[Rule]) -> Callable[..., FileReport]:
    """What judges the bytes of a file as often as mending asks for it, waivers applied; in full,
    or as `judge` has it."""
    book, today, name = tuple(rules), datetime.date.today(), settings.name_of(path)
    last: Chart | None = None

    def recheck(data: bytes, in_full: bool = True) -> FileReport:
        nonlocal last
        report = check_bytes(data, str(path), settings, book, last, in_full)
        last = report.chart or last
        return apply_waivers(report, name, settings.waivers, today).report

    return recheck


def hear_mended(
    path: Path, settings: Settings, rules: Iterable[Rule], by_ear: bool = False
) -> Chart:
    """What is heard in the file once it is mended; nothing is written."""
    result = mend_file(path, settings, rules, Choice(by_ear))
    assert result.after.chart is not None  # mend raises where the file cannot be read
    return result.after.chart
