"""One file in, one report out: the path from bytes to findings, step by step.

The commands and the Python API both come through here.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.batch.discovery import look_for_songs
from basslint.errors import BasslintError, MidiError, SoundError, UsageError
from basslint.hear.chart import Chart
from basslint.judging.results import FileReport, Problem, Report
from basslint.rulebook.loader import Rule, read_book
from basslint.settings.model import Settings, settings_for
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build
from basslint.util.files import read_at_most
from basslint.waivers.model import Ledger, Waived, apply_waivers

if TYPE_CHECKING:
    from basslint.mending.mend import Choice, MendResult
    from basslint.sound.one_shot import SoundReport


def check(
    path: str | Path | Iterable[str | Path],
    settings: Settings | None = None,
    rules: Sequence[Rule] | None = None,
) -> Report:
    """Check MIDI files and folders of them, one or several.

    ``settings``: what holds for all of them; None looks for a ``basslint.toml`` above each.
    ``rules``: the book to go by; None reads the built-in pages and what the settings name. Raises
    `UsageError` where no MIDI file is found, `SettingsError` or `RuleError` for those files; a
    damaged MIDI file is reported in its `FileReport` and stops nothing.
    """
    today = datetime.date.today()
    given = [Path(p) for p in ([path] if isinstance(path, str | Path) else path)]
    ledger = Ledger(today, [p for p in given if p.is_dir()])
    reports = []
    found = look_for_songs(given)
    for song in found.songs:
        held = settings or settings_for(song)
        book = tuple(rules) if rules is not None else held.choose(book_for(held))
        done = checked(song, held, book, today)
        if done.report.problem is None:
            ledger.enter(held.waivers, done.used, held.folder, {r.name for r in book})
        reports.append(done.report)
    return Report(tuple(reports), (*found.remarks, *ledger.remarks()))


def chart(path: str | Path, settings: Settings | None = None) -> Chart:
    """What is heard in one file. Raises `MidiError` where it cannot be read."""
    path = Path(path)
    held = settings or settings_for(path)
    song = build(scan(read_bytes(path, held), held.limits), held.limits.max_bars)
    return heard(song, held, str(path))


def checked(path: Path, settings: Settings, rules: Iterable[Rule], today: datetime.date) -> Waived:
    """Check one file and let stand what its waivers name; says which of them were of use.

    Whatever is wrong with its bytes, or with what is stated of it, becomes a `Problem`.
    """
    try:
        data = read_bytes(path, settings)
    except MidiError as error:
        return Waived(FileReport(str(path), problem_of(error)), frozenset())
    report = check_bytes(data, str(path), settings, rules)
    return apply_waivers(report, settings.name_of(path), settings.waivers, today)


def check_file(path: Path, settings: Settings, rules: Iterable[Rule]) -> FileReport:
    """Check one file, waivers applied."""
    return checked(path, settings, rules, datetime.date.today()).report


def check_bytes(
    data: bytes,
    path: str,
    settings: Settings,
    rules: Iterable[Rule],
    like: Chart | None = None,
) -> FileReport:
    """Check the bytes of a file that is named ``path`` in the report; nothing is waived.

    ``like``: the chart of a copy that differs little; it saves time and changes nothing.
    """
    from basslint.judging.judge import judge

    try:
        song = build(scan(data, settings.limits), settings.limits.max_bars)
        chart = heard(song, settings, path)
        if like is not None:
            chart.with_roots_of(like)
        verdict = judge(chart, rules)
    except BasslintError as error:
        return FileReport(path, problem_of(error))
    return FileReport(
        path,
        warnings=song.warnings,
        chart=chart,
        findings=verdict.findings,
        unjudged=verdict.unjudged,
        faults=verdict.faults,
    )


def problem_of(error: BasslintError) -> Problem:
    """An error as what a report says of its file."""
    return Problem(error.kind, error.message, error.advice, getattr(error, "byte", None))


def book_for(settings: Settings) -> tuple[Rule, ...]:
    """The built-in rules with the house rules and plug-ins of the settings."""
    return _book(settings.house, settings.plug_ins, _state_of(settings.house))


def _state_of(folders: Iterable[Path]) -> tuple[tuple[str, int, int], ...]:
    """Names, times and sizes of the pages in folders, to see whether one was edited."""
    pages = sorted(page for folder in folders for page in folder.rglob("*.md"))
    return tuple((str(p), s.st_mtime_ns, s.st_size) for p in pages for s in [p.stat()])


@lru_cache(64)
def _book(
    house: tuple[Path, ...], plug_ins: tuple[str, ...], _state: tuple[tuple[str, int, int], ...]
) -> tuple[Rule, ...]:
    return read_book(house, plug_ins)


def read_bytes(path: Path, settings: Settings) -> bytes:
    """A file's bytes, never more than the limit plus one. Raises `Unreadable`."""
    from basslint.errors import Unreadable

    try:
        if not path.is_file():
            raise Unreadable(f"{path} is no file.", "Check the path.")
        return read_at_most(path, settings.limits.max_bytes + 1)
    except OSError as error:
        raise Unreadable(
            f"The file cannot be opened: {error.strerror}.", "Check its permissions."
        ) from None


def heard(song: Song, settings: Settings, path: str) -> Chart:
    """The chart of a song, with decay and pitch taken from the sound of its bass, where one is
    named. A sound that is named for a bass part wins over the one for all; a stated decay wins over
    the latter's. Raises `UsageError` for a stated part that the song does not have."""
    facts = settings.facts
    chart = Chart(song, facts, path)
    try:
        own = _sound_of_bass(chart, settings.part_sounds)
    except UsageError as error:  # a part that the song does not have
        option, _, what = error.message.partition(": ")
        place = settings.place_of(f"facts.{option.removeprefix('--')}")
        raise UsageError(f"{place or option}: {what}", error.advice) from None
    sound = own or facts.sound
    if sound is None:
        return chart
    try:
        measured = _measured(sound)
    except SoundError as error:
        place = settings.place_of("facts.sounds" if own else "facts.sound")
        raise SoundError(
            f"{place}: {error.message}" if place else error.message, error.advice
        ) from None
    decay = measured.t60_s if own or facts.decay_s is None else facts.decay_s
    decay = facts.decay_s if decay is None else decay
    known = replace(facts, sound=sound, decay_s=decay, sound_cents=measured.cents_off)
    return Chart(song, known, path).with_parts_of(chart) if own else Chart(song, known, path)


def _sound_of_bass(chart: Chart, sounds: Iterable[tuple[str, str]]) -> str | None:
    """The sound named for a bass part of the song: the first part's, where several have one."""
    named = {part.casefold(): sound for part, sound in sounds}
    for row in chart.parts.bass:
        part = chart.song.parts[row]
        for name in (part.name, part.track_name, f"#{part.number}"):
            if name.casefold() in named:
                return named[name.casefold()]
    return None


def _measured(path: str) -> SoundReport:
    """Measure a sound, once as long as it stays as it is, however many songs it plays."""
    try:
        state = Path(path).stat()
    except OSError:
        return _measure(path, 0, 0)  # which says what is wrong with it
    return _measure(path, state.st_mtime_ns, state.st_size)


@lru_cache(64)
def _measure(path: str, _time: int, _size: int) -> SoundReport:
    from basslint.sound.one_shot import measure_sound

    return measure_sound(Path(path))


def mend(
    path: str | Path, settings: Settings | None = None, choice: Choice | None = None
) -> MendResult:
    """Mend one file in memory; ``.data`` of the result are the corrected bytes.

    Raises `MendError` where the file cannot be read.
    """
    from basslint.mending import mend as mending

    path = Path(path)
    held = settings or settings_for(path)
    rules = held.choose(book_for(held))
    return mending.mend(
        read_bytes(path, held), rechecker(path, held, rules), choice or mending.Choice()
    )


def hear_mended(
    path: Path, settings: Settings, rules: Iterable[Rule], by_ear: bool = False
) -> Chart:
    """What is heard in the file once it is mended; nothing is written."""
    from basslint.mending import mend as mending

    recheck = rechecker(path, settings, rules)
    result = mending.mend(read_bytes(path, settings), recheck, mending.Choice(by_ear))
    assert result.after.chart is not None  # mend raises where the file cannot be read
    return result.after.chart


def rechecker(
    path: Path, settings: Settings, rules: Iterable[Rule]
) -> Callable[[bytes], FileReport]:
    """What judges the bytes of a file as often as mending asks for it, waivers applied."""
    book, today, name = tuple(rules), datetime.date.today(), settings.name_of(path)

    last: Chart | None = None

    def recheck(data: bytes) -> FileReport:
        nonlocal last
        report = check_bytes(data, str(path), settings, book, last)
        last = report.chart or last
        return apply_waivers(report, name, settings.waivers, today).report

    return recheck
