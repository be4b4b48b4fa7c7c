"""One file in, one report out: the path from bytes to findings, step by step.

The commands and the Python API both come through here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from basslint.charting import Chart
from basslint.errors import MidiError, UsageError
from basslint.facts import Facts
from basslint.findings import FileReport, Problem, Report
from basslint.rulebook import Rule, read_book
from basslint.settings import Settings, settings_for
from basslint.smf.scan import scan
from basslint.song import build

if TYPE_CHECKING:
    from basslint.mending import Choice, MendResult

SUFFIXES = (".mid", ".midi")


def check(
    *paths: str | Path, settings: Settings | None = None, rules: Sequence[Rule] | None = None
) -> Report:
    """Check MIDI files and folders of them.

    ``settings``: what holds for all of them; None looks for a ``basslint.toml`` above each.
    ``rules``: the book to go by; None reads the built-in pages and what the settings name. Raises
    `UsageError` where no MIDI file is found, `SettingsError` or `RuleError` for those files; a
    damaged MIDI file is reported in its `FileReport` and stops nothing.
    """
    reports = []
    for path in find_songs(paths):
        held = settings or settings_for(path)
        book = tuple(rules) if rules is not None else held.choose(book_for(held))
        reports.append(check_file(path, held, book))
    return Report(tuple(reports))


def chart(path: str | Path, settings: Settings | None = None) -> Chart:
    """What is heard in one file. Raises `MidiError` where it cannot be read."""
    path = Path(path)
    held = settings or settings_for(path)
    song = build(scan(read_bytes(path, held), held.limits), held.limits.max_bars)
    return Chart(song, measured(held, song.parts), str(path))


def check_file(path: Path, settings: Settings, rules: Iterable[Rule]) -> FileReport:
    """Check one file; whatever is wrong with its bytes becomes a `Problem`."""
    try:
        data = read_bytes(path, settings)
    except MidiError as error:
        return FileReport(str(path), Problem(error.kind, error.message, error.advice, error.byte))
    return check_bytes(data, str(path), settings, rules)


def check_bytes(data: bytes, path: str, settings: Settings, rules: Iterable[Rule]) -> FileReport:
    """Check the bytes of a file that is named ``path`` in the report."""
    from basslint.judge import judge

    try:
        song = build(scan(data, settings.limits), settings.limits.max_bars)
    except MidiError as error:
        return FileReport(path, Problem(error.kind, error.message, error.advice, error.byte))
    heard = Chart(song, measured(settings, song.parts), path)
    verdict = judge(heard, rules)
    return FileReport(
        path,
        warnings=song.warnings,
        chart=heard,
        findings=verdict.findings,
        unjudged=verdict.unjudged,
        faults=verdict.faults,
    )


def book_for(settings: Settings) -> tuple[Rule, ...]:
    """The built-in rules with the house rules and plug-ins of the settings."""
    return read_book(settings.house, settings.plug_ins)


def read_bytes(path: Path, settings: Settings) -> bytes:
    """A file's bytes, never more than the limit plus one. Raises `Unreadable`."""
    from basslint.errors import Unreadable

    try:
        if not path.is_file():
            raise Unreadable(f"{path} is no file.", "Check the path.")
        with path.open("rb") as file:
            return file.read(settings.limits.max_bytes + 1)
    except OSError as error:
        raise Unreadable(
            f"The file cannot be opened: {error.strerror}.", "Check its permissions."
        ) from None


def find_songs(paths: Iterable[str | Path]) -> list[Path]:
    """MIDI files among the paths and below the folders, each once, in stable order."""
    found: dict[Path, None] = {}
    for given in paths:
        path = Path(given)
        if path.is_dir():
            inside = sorted(
                p for p in path.rglob("*") if p.suffix.lower() in SUFFIXES and p.is_file()
            )
            found.update(dict.fromkeys(inside))
        elif path.exists():
            found[path] = None
        else:
            raise UsageError(f"{path} does not exist.", "Check the spelling of the path.")
    if not found:
        raise UsageError(
            "No MIDI file was found.", "Give a .mid file, or a folder that holds some."
        )
    return list(found)


def measured(settings: Settings, parts: Sequence[object] = ()) -> Facts:
    """The stated facts, with decay and pitch taken from the bass sound where one is named."""
    facts = settings.facts
    if facts.sound is None:
        return facts
    from basslint.hear.sound import measure_sound

    sound = measure_sound(Path(facts.sound))
    decay = facts.decay_s if facts.decay_s is not None else sound.t60_s
    return replace(facts, decay_s=decay, sound_cents=sound.cents_off)


def mend(
    path: str | Path, settings: Settings | None = None, choice: Choice | None = None
) -> MendResult:
    """Mend one file in memory; ``.data`` of the result are the corrected bytes.

    Raises `MendError` where the file cannot be read.
    """
    from basslint import mending

    path = Path(path)
    held = settings or settings_for(path)
    rules = held.choose(book_for(held))
    raw = read_bytes(path, held)
    return mending.mend(
        raw, lambda data: check_bytes(data, str(path), held, rules), choice or mending.Choice()
    )
