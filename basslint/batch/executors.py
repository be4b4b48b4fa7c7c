"""How are songs checked by an engine that somebody else runs?

Any `concurrent.futures.Executor` will do. Bytes are read here and sent, so that workers need not
see the songs; sounds and loops that settings name must lie at the same paths there.
"""

from __future__ import annotations

import datetime
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import CancelledError, Executor, Future
from pathlib import Path

from basslint.checking.one_file import check_bytes, problem_of, read_bytes
from basslint.errors import MidiError
from basslint.judging.results import FileReport
from basslint.rulebook.model import Rule
from basslint.settings.model import Settings
from basslint.util.records import record
from basslint.util.text import visible
from basslint.waivers.model import Waived, apply_waivers

_AHEAD = 64  # songs at the engine at once: it has enough to do, and memory stays bounded


@record
class Order:
    """A song, what holds for it, and the rules to judge it by."""

    song: Path
    settings: Settings
    rules: tuple[Rule, ...]


def checked_by(
    executor: Executor, orders: Iterable[Order], today: datetime.date
) -> Iterator[Waived]:
    """What `checked` says of each song, in their order; a song whose worker is lost has a fault.

    The time and memory of a song are the engine's to bound.
    """
    sent: deque[tuple[Order, Future[FileReport] | FileReport]] = deque()
    for order in orders:
        sent.append((order, _sent(executor, order)))
        if len(sent) >= _AHEAD:
            yield _waived(*sent.popleft(), today)
    while sent:
        yield _waived(*sent.popleft(), today)


def _sent(executor: Executor, order: Order) -> Future[FileReport] | FileReport:
    path = str(order.song)
    try:
        data = read_bytes(order.song, order.settings)
    except MidiError as error:
        return FileReport(path=path, problem=problem_of(error))
    try:
        return executor.submit(check_bytes, data, path, order.settings, order.rules)
    except Exception as error:  # whatever the engine raises: it is broken, or was shut down
        return _lost(path, error)


def _waived(order: Order, answer: Future[FileReport] | FileReport, today: datetime.date) -> Waived:
    if isinstance(answer, Future):
        try:
            report = answer.result()
        except (Exception, CancelledError) as error:  # a worker died, or its answer never arrived
            report = _lost(str(order.song), error)
    else:
        report = answer
    return apply_waivers(report, order.settings.name_of(order.song), order.settings.waivers, today)


def _lost(path: str, error: BaseException) -> FileReport:
    why = visible(f"{type(error).__name__}: {error}", 300)
    return FileReport(path=path, faults=(f"the check gave no answer: {why}",))
