"""The Python door: check, chart and mend by path, with the settings that hold there."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.batch.discovery import look_for_songs
from basslint.batch.executors import Order, checked_by
from basslint.checking.book import book_for
from basslint.checking.members import meet
from basslint.checking.one_file import chart_of, checked
from basslint.hear.chart import Chart
from basslint.judging.results import Report
from basslint.rulebook.model import Rule
from basslint.settings.discovery import settings_for
from basslint.settings.model import Settings
from basslint.waivers.model import Ledger, Waived

if TYPE_CHECKING:
    from collections.abc import Iterator
    from concurrent.futures import Executor

    from basslint.mending.account import Choice, MendResult


def check(
    path: str | Path | Iterable[str | Path],
    settings: Settings | None = None,
    rules: Sequence[Rule] | None = None,
    executor: Executor | None = None,
) -> Report:
    """Check MIDI files and folders of them, one or several.

    ``settings``: what holds for all of them; None looks for a ``basslint.toml`` above each.
    ``rules``: the book to go by; None reads the built-in pages and what the settings name.
    ``executor``: where songs are checked, any of `concurrent.futures` or of an engine that gives
    one; None checks them here, one after the other. The report is the same; a song whose worker is
    lost has a fault in it. Raises
    `UsageError` where no MIDI file is found, `SettingsError` or `RuleError` for those files; a
    damaged MIDI file is reported in its `FileReport` and stops nothing.
    """
    today = datetime.date.today()
    given = [Path(p) for p in ([path] if isinstance(path, str | Path) else path)]
    ledger = Ledger(today, [p for p in given if p.is_dir()])
    found = look_for_songs(given)
    orders = []
    for song in found.songs:
        held = settings or settings_for(song)
        meet(ledger, song, held)
        book = tuple(rules) if rules is not None else held.choose(book_for(held))
        orders.append(Order(song, held, book))
    if executor is None:
        answers: Iterator[Waived] = (checked(o.song, o.settings, o.rules, today) for o in orders)
    else:
        answers = checked_by(executor, orders, today)
    reports = []
    for order, done in zip(orders, answers, strict=True):
        if done.report.problem is None and not done.report.faults:
            held, judged = order.settings, {rule.name for rule in order.rules}
            ledger.enter(held.waivers, done.used, held.folder, judged)
        reports.append(done.report)
    return Report(tuple(reports), (*found.remarks, *ledger.remarks()))


def chart(path: str | Path, settings: Settings | None = None) -> Chart:
    """What is heard in one file, or in a folder of files that are one arrangement.

    Raises `MidiError` where it cannot be read, `SoundError` for a sound that the settings name, and
    `UsageError` where a folder holds several songs or, once the parts are asked for, where a part
    that is stated is none of the file's.
    """
    path = Path(path)
    return chart_of(path, settings or settings_for(path))


def mend(
    path: str | Path, settings: Settings | None = None, choice: Choice | None = None
) -> MendResult:
    """Mend one file in memory; ``.data`` of the result are the corrected bytes.

    ``choice``: which fixes to apply, such as ``Choice(by_ear=True)``; None applies the safe ones.
    Raises `MidiError` where the system does not give the bytes, `MendError` where they hold no song
    or what is stated of it does not hold.
    """
    from basslint.checking.mended import mend_file

    path = Path(path)
    held = settings or settings_for(path)
    return mend_file(path, held, held.choose(book_for(held)), choice)
