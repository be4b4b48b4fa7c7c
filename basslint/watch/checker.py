"""The process that checks: it takes orders from the page's process and runs them on workers.

A process of its own, since workers are forked: a process with threads cannot do that safely. It
imports all that a check needs once, so that a worker begins at once.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator, Sequence
from datetime import date
from multiprocessing.connection import Connection
from pathlib import Path
from types import FrameType

from basslint.batch.cache import Cache, folder, key_of
from basslint.batch.discovery import look_for_songs
from basslint.batch.groups import with_groups
from basslint.batch.job import Job, lost, may_rest
from basslint.batch.pool import Lost, run_all
from basslint.checking.book import book_for
from basslint.checking.members import members_of
from basslint.checking.one_file import check_bytes
from basslint.errors import BasslintError, UsageError
from basslint.report.formats import format_named
from basslint.report.section import Sheet
from basslint.rulebook.notation import compile_beat
from basslint.settings.model import FILE_NAME, Settings
from basslint.util.records import replace
from basslint.watch.orders import (
    Answer,
    Check,
    Checked,
    Make,
    Order,
    Refused,
    Same,
    Scan,
    Scanned,
    Signature,
)
from basslint.watch.work import Task, done

_FORMAT = "html"
_SHEET = Sheet(nudged="asked")  # a finding's moves are asked for when they are looked at
_EXAMPLE = "off-root"  # the rule whose example is checked to begin with


def serve(link: Connection) -> None:
    """The life of the process: orders in, answers out as they come, until the link is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the page's process says when to stop
    signal.signal(signal.SIGTERM, _leave)
    with Path(os.devnull).open("w") as sink:  # the terminal belongs to the page's process
        sys.stderr = sink
        _warm_up()
        home = folder()
        _answer_all(link, Cache(home) if home else None)


def _answer_all(link: Connection, cache: Cache | None) -> None:
    while True:
        try:
            orders = link.recv()
        except (EOFError, OSError):
            return
        for place, answer in answers(orders, cache):
            link.send((place, answer))
        link.send(None)


def _leave(_signal: int, _frame: FrameType | None) -> None:
    raise SystemExit


def answers(orders: Sequence[Order], cache: Cache | None) -> Iterator[tuple[int, Answer]]:
    """(Place among the orders, answer), as answers come; every order has one."""
    tasks: list[tuple[int, Task]] = []
    for place, order in enumerate(orders):
        try:
            ready = _scanned(order) if isinstance(order, Scan) else _known(order, cache)
        except BasslintError as error:
            ready = Refused(error.message, error.advice)
        if isinstance(ready, Task):
            tasks.append((place, ready))
        else:
            yield place, ready
    seconds = [float(task.order.settings.limits.max_seconds) for _, task in tasks]
    jobs = min(os.cpu_count() or 1, len(tasks))
    for row, answer in run_all(done, [task for _, task in tasks], jobs, seconds, apart=True):
        place, task = tasks[row]
        yield place, _outcome_of(task, answer, cache)
    if cache:
        cache.trim()


def _known(order: Check | Make, cache: Cache | None) -> Answer | Task:
    """What can be answered at once, or the task for a worker. Raises `BasslintError`."""
    source = order.source
    job = Job(options=source.options, format=_FORMAT, sheet=_SHEET)
    task = Task(want=order, job=job, order=job.order(source.home), key="")
    if isinstance(order, Make) or source.data is not None:
        return task
    key = key_of(job, task.order, source.path) or ""
    if key and key == order.known:
        return Same(key)
    outcome = cache.get(key) if cache and key else None
    return Checked(outcome, key) if outcome is not None else replace(task, key=key)


def _outcome_of(task: Task, answer: Answer | Lost, cache: Cache | None) -> Answer:
    """What a worker found out; kept for later where it still holds."""
    source = task.want.source
    if isinstance(answer, Lost):
        if isinstance(task.want, Make):
            return Refused(f"It could not be made: {answer.reason}.", "Try again.")
        return Checked(lost(task.job, source.path, task.order, answer), "")
    if not isinstance(answer, Checked) or source.data is not None:
        return answer
    # the file may have been written again between the key and the check
    still = key_of(task.job, task.order, source.path) == task.key
    if cache and still and task.key and may_rest(answer.outcome):
        cache.put(task.key, answer.outcome)
    return replace(answer, key=task.key if still else "")


def _scanned(order: Scan) -> Scanned:
    """The songs of what is followed. None at all is no error here: one may be exported soon."""
    for root in order.roots:
        if not root.exists():
            raise UsageError(f"{root} is gone.", "Once it is back, it is followed again.")
    try:
        found = look_for_songs(order.roots)
    except UsageError:
        return Scanned((), (), tuple(settings_files(order.roots)))
    others: dict[Path, None] = dict.fromkeys(settings_files(order.roots))
    songs, over = [], dict[str, None]()
    today = date.today()
    for song in with_groups(found.songs, order.options.settings_of):
        settings = order.options.settings_of(song)
        others.update(dict.fromkeys(_other_files(settings)))
        over.update(dict.fromkeys(w.end for w in settings.waivers if w.is_over(today)))
        files = members_of(song, settings) if song.is_dir() else (song,)
        songs.append((song, signature(files)))
    return Scanned(tuple(songs), (*found.remarks, *over), tuple(others))


def settings_files(roots: Sequence[Path]) -> Iterator[Path]:
    """Where a settings file stands or might be put: in the folder and above."""
    for root in roots:
        whole = root.absolute()
        for home in (whole, *whole.parents) if root.is_dir() else whole.parents:
            yield home / FILE_NAME


def _other_files(settings: Settings) -> Iterator[Path]:
    """House rules and sounds that hold for a song."""
    for home in settings.house:
        yield home
        yield from sorted(home.rglob("*.md"))
    facts = settings.facts
    named = (facts.sound, *(s.file for s in settings.part_sounds))
    yield from (Path(sound) for sound in named if sound)
    yield from (Path(loop.file) for loop in facts.loops)
    if settings.folder is not None:
        yield settings.folder / FILE_NAME


def signature(files: Sequence[Path]) -> Signature:
    """What changes whenever one of the files is written; zeros for one that is not there."""
    return tuple(_signed(path) for path in files)


def _signed(path: Path) -> tuple[int, int, int]:
    try:
        state = path.stat()
    except OSError:
        return 0, 0, 0
    return state.st_mtime_ns, state.st_size, state.st_ino


def _warm_up() -> None:
    """Load all that a check needs, by checking an example of the book: a worker begins at once."""
    book = book_for(Settings())
    flagged = [e for r in book if r.name == _EXAMPLE for e in r.examples if e.flagged]
    for example in flagged[:1]:
        report = check_bytes(compile_beat(example.text).data, "example", Settings(), book)
        format_named(_FORMAT).section(report, book, _SHEET)
