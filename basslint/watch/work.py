"""What does a worker do for the page: check a song, mend it, write its guide, let it be heard?"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path, PurePath

from basslint.batch import job as batch_job
from basslint.batch.job import Job, Outcome, check_song, section_for
from basslint.checking.group import read_group
from basslint.checking.members import members_of
from basslint.checking.mended import mended
from basslint.checking.one_file import check_bytes, read_bytes
from basslint.errors import BasslintError
from basslint.hear.chart import Chart
from basslint.mending.account import Choice, MendResult
from basslint.report.formats.page_parts import packed, unpacked
from basslint.smf.together import parted
from basslint.util.files import MENDED
from basslint.util.records import record, replace
from basslint.watch.orders import Answer, Check, Checked, Made, Make, Refused, Source


@record(kw_only=True)
class Task:
    """An order with what holds for its song; ``key``: a hash of all that its outcome depends on."""

    want: Check | Make
    job: Job
    order: batch_job.Order
    key: str


def done(task: Task) -> Answer:
    """Do what was asked for."""
    if isinstance(task.want, Check):
        return Checked(_checked(task), task.key)
    try:
        return _MADE[task.want.what](task, task.want)
    except BasslintError as error:
        return Refused(error.message, error.advice)


def _checked(task: Task) -> Outcome:
    source = task.want.source
    if source.data is None:
        outcome = check_song(task.job, source.path)
    else:
        order = task.order
        report = check_bytes(source.data, str(source.path), order.settings, order.rules)
        outcome = Outcome(section_for(task.job, order, report))
    return _called(outcome, source.statement.names)


def _called(outcome: Outcome, names: tuple[tuple[str, str], ...]) -> Outcome:
    """An outcome in which dropped sounds are called as they were, not by where they lie."""
    if not names:
        return outcome
    section = outcome.section
    text = unpacked(section.text)
    for path, name in names:
        text = text.replace(path, name).replace(PurePath(path).name, name)
    return replace(outcome, section=replace(section, text=packed(text)))


def _bytes(source: Source, task: Task) -> bytes:
    return read_bytes(source.path, task.order.settings) if source.data is None else source.data


def _mended(task: Task, want: Make) -> Answer:
    source, settings = want.source, task.order.settings
    data = _bytes(source, task)
    result = mended(data, source.home, settings, task.order.rules, Choice(want.by_ear))
    if not result.applied:
        return Refused("There is nothing to mend.", "The file stays as it is.")
    return Made(result.data, _targets(source, task, result), f"{len(result.applied)} mended")


def _targets(source: Source, task: Task, result: MendResult) -> tuple[tuple[Path, bytes], ...]:
    """The copies that belong beside files of the folder; none for what was dropped."""
    if source.data is not None:
        return ()
    if not source.path.is_dir():
        return ((source.path.with_suffix(MENDED), result.data),)
    files = members_of(source.path, task.order.settings)
    changed = parted(read_group(source.path, task.order.settings), result.data)
    return tuple((files[i].with_suffix(MENDED), data) for i, data in changed.items())


def _chart(source: Source, task: Task, data: bytes) -> Chart:
    report = check_bytes(data, str(source.path), task.order.settings, ())
    if report.chart is None:
        assert report.problem is not None
        raise BasslintError(report.problem.message, report.problem.advice)
    return report.chart


def _guide(task: Task, _want: Make) -> Answer:
    from basslint.audition.guide import guide
    from basslint.report.formats.guide_text import guide_words

    source = task.want.source
    chart = _chart(source, task, _bytes(source, task))
    made = guide(chart)
    return Made(made.data, words=guide_words(chart, made))


def _audition(task: Task, want: Make) -> Answer:
    from basslint.audition.mix import render, wav
    from basslint.audition.sounds import Wish

    source = want.source
    data = _bytes(source, task)
    heard = written = _chart(source, task, data)
    if want.mended:
        order = task.order
        result = mended(data, source.home, order.settings, order.rules, Choice(want.by_ear))
        heard = result.after.chart or written
    return Made(wav(render(heard, Wish(), written if want.mended else None)))


def _nudges(task: Task, want: Make) -> Answer:
    from basslint.report.formats.nudge_data import nudges_asked

    source, rules = want.source, task.order.rules
    report = check_bytes(_bytes(source, task), str(source.path), task.order.settings, rules)
    found = nudges_asked(report, rules, source.id, want.finding)
    if found is None:
        return Refused("This finding has gone, or its note cannot be moved.", "Look at the song.")
    return Made(json.dumps(found).encode("ascii"))


def _book(task: Task, _want: Make) -> Answer:
    from basslint.report.formats.book import book_html, book_policy

    settings = task.order.settings
    return Made(book_html(task.order.rules, settings.middle_c).encode(), words=book_policy())


_MADE: Mapping[str, Callable[[Task, Make], Answer]] = {
    "mended": _mended,
    "guide": _guide,
    "audition": _audition,
    "nudges": _nudges,
    "book": _book,
}
