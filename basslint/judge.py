"""What is off in this song, by this book of rules, and what could not be judged?

One pass per rule: its conditions become masks over columns, its needs become certainties, and only
the rows that are left are turned into words. A rule that crashes is reported and does not stop
the others.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from basslint.charting import Chart
from basslint.errors import BasslintError
from basslint.findings import LEVELS, Finding, Fix, PartRef, Unjudged, Value, Where
from basslint.fingerprint import numbered
from basslint.fixes.base import registered as fixes
from basslint.readings.base import Column, Rows, Subject, registered, rows_of
from basslint.readings.needs import FACTS
from basslint.rulebook import Case, Condition, Rule

MOST_FINDINGS = 2_000  # of one rule in one file
_TOO_MANY = f"the rule has found {MOST_FINDINGS:,} places before this; mend those first"
_FIELD = re.compile(r"\{([a-z_0-9]+)\}")


@dataclass(frozen=True, slots=True)
class Verdict:
    """The findings in order of place, what was not judged, and rules that failed themselves."""

    findings: tuple[Finding, ...]
    unjudged: tuple[Unjudged, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Found:
    """A finding beside rows of song.notes, to tell causes from echoes.

    ``notes``: those it speaks of; ``explains``: those of which it explains other findings away. A
    slide speaks of both its notes, but explains only the one it lands on.
    """

    finding: Finding
    notes: tuple[int, ...]
    explains: tuple[int, ...]


class Columns:
    """The readings of one chart, each computed once however many rules ask for it."""

    def __init__(self, chart: Chart) -> None:
        self.chart = chart
        self._rows: dict[Subject, Rows] = {}
        self._columns: dict[tuple[Subject, str], Column] = {}

    def rows(self, subject: Subject) -> Rows:
        """Where the rows of a subject stand."""
        if subject not in self._rows:
            self._rows[subject] = rows_of(self.chart, subject)
        return self._rows[subject]

    def column(self, subject: Subject, name: str) -> Column:
        """The column of a reading, checked to have one value per row."""
        key = (subject, name)
        if key not in self._columns:
            column = np.asarray(registered(subject)[name].column(self.chart))
            if column.shape != (len(self.rows(subject)),):
                raise ValueError(f"reading {name} gave {column.shape}, not one value per {subject}")
            self._columns[key] = column
        return self._columns[key]


def judge(chart: Chart, rules: Iterable[Rule]) -> Verdict:
    """Run rules over a chart."""
    columns = Columns(chart)
    found: list[_Found] = []
    unjudged: list[Unjudged] = []
    faults: list[str] = []
    book = tuple(rules)
    for rule in book:
        try:
            hits, blind = _run(rule, columns)
        except BasslintError:  # the user's own, such as a stated part that does not exist
            raise
        except Exception as error:  # a rule's fault must not hide the others' findings
            faults.append(f"{rule.name} failed: {type(error).__name__}: {error}")
            continue
        found += hits
        unjudged += blind
    kept = _without_echoes(found, book)
    kept.sort(key=lambda f: (f.where.tick, LEVELS.index(f.level), f.rule, _part(f), f.pitch or 0))
    unjudged.sort(key=lambda u: (u.rule, u.start_bar))
    return Verdict(numbered(kept, chart.song.grid), tuple(unjudged), tuple(faults))


def _part(finding: Finding) -> int:
    return finding.part.number if finding.part else 0


def _run(rule: Rule, columns: Columns) -> tuple[list[_Found], list[Unjudged]]:
    chart = columns.chart
    rows = columns.rows(rule.judges)
    whole = chart.song.grid.bars + 1
    if rule.judges in ("bass-note", "slide") and not chart.parts.bass:
        reason = "no bass part was found; name it with --bass"
        return [], [Unjudged(rule.name, 1, whole, reason)]
    if not len(rows):
        return [], []
    certainty = np.ones(len(rows))
    judged = np.ones(len(rows), dtype=bool)
    blind: list[Unjudged] = []
    for name, least in rule.needs:
        fact = FACTS[name]
        ground = fact.ground(chart, rows, rule.numbers)
        unsure = judged & (ground.certainty < (fact.least if least is None else least))
        asked = ((int(i), ground.reason(int(i))) for i in np.flatnonzero(unsure))
        reasons = [(row, reason) for row, reason in asked if reason]
        if reasons:
            blind += _bars_without(rule, chart, rows, reasons)
        judged &= ~unsure
        certainty = np.minimum(certainty, ground.certainty)
    left = np.flatnonzero(judged)  # rows that no case has taken yet
    held: dict[Condition, NDArray[np.bool_]] = {}  # the cases of a rule share most conditions
    hits: list[_Found] = []
    for case in rule.cases:
        found = left
        for condition in case.conditions:
            if not len(found):
                break
            holds = held.get(condition)
            if holds is None:
                column = columns.column(rule.judges, condition.reading)
                holds = held[condition] = _holds(condition, column, rule.numbers)
            found = found[holds[found]]
        if not len(found):
            continue
        room = MOST_FINDINGS - len(hits)
        if len(found) > room:  # bounds time and memory; so many are one fault of the whole file
            bars = chart.song.grid.bar_of(rows.tick[found[room:]])
            blind.append(Unjudged(rule.name, int(bars.min()) + 1, int(bars.max()) + 2, _TOO_MANY))
        hits += [
            _finding(rule, case, columns, rows, row, float(certainty[row]))
            for row in found[:room].tolist()
        ]
        left = np.setdiff1d(left, found, assume_unique=True)
    return hits, blind


def _holds(condition: Condition, column: Column, numbers: Mapping[str, float]) -> NDArray[np.bool_]:
    """Where a condition holds. A value that cannot be told (NaN, None) fulfils none."""
    operand = condition.operand
    if condition.test in ("above", "below", "between"):
        bounds = [numbers[str(name)] for name in operand]
        measured = column.astype(np.float64)
        with np.errstate(invalid="ignore"):
            if condition.test == "above":
                return np.asarray(measured > bounds[0])
            if condition.test == "below":
                return np.asarray(measured < bounds[0])
            return np.asarray((measured >= bounds[0]) & (measured <= bounds[1]))
    same = np.zeros(len(column), dtype=bool)
    for value in operand:
        same |= np.asarray(column == value, dtype=bool)
    if condition.test != "not":
        return same
    if column.dtype.kind == "f":
        return np.asarray(~same & ~np.isnan(column))
    if column.dtype.kind == "O":
        return np.asarray(~same & np.array([value is not None for value in column], dtype=bool))
    return ~same


def _bars_without(
    rule: Rule, chart: Chart, rows: Rows, reasons: Sequence[tuple[int, str]]
) -> list[Unjudged]:
    """Join rows that were not judged for one reason into stretches of bars."""
    at = np.array([row for row, _ in reasons], dtype=np.intp)
    grid, tick = chart.song.grid, rows.tick[at]
    first = grid.bar_of(tick).tolist()
    last = grid.bar_of(np.maximum(rows.end_tick[at] - 1, tick)).tolist()
    spans: dict[str, list[tuple[int, int]]] = {}
    for (_, reason), begin, end in zip(reasons, first, last, strict=True):
        spans.setdefault(reason, []).append((begin + 1, end + 2))
    result: list[Unjudged] = []
    for reason, stretches in spans.items():
        stretches.sort()
        begin, end = stretches[0]
        for a, b in stretches[1:]:
            if a > end:
                result.append(Unjudged(rule.name, begin, end, reason))
                begin, end = a, b
            end = max(end, b)
        result.append(Unjudged(rule.name, begin, end, reason))
    return result


def _finding(
    rule: Rule, case: Case, columns: Columns, rows: Rows, row: int, certainty: float
) -> _Found:
    chart, song = columns.chart, columns.chart.song
    tick, end_tick = int(rows.tick[row]), int(rows.end_tick[row])
    note = int(rows.note[row])
    part_row = int(rows.part[row])
    part = song.parts[part_row] if part_row >= 0 else None
    values = {
        c.reading: _plain(columns.column(rule.judges, c.reading)[row]) for c in case.conditions
    }

    def shown(match: re.Match[str]) -> str:
        name = match[1]
        if name in rule.numbers:
            return _words(rule.numbers[name])
        return _words(_plain(columns.column(rule.judges, name)[row]))

    message = _FIELD.sub(shown, case.message)
    message = message[:1].upper() + message[1:]
    if message[-1] not in ".!?":
        message += "."
    fix: Fix | None = fixes()[case.fix].build(chart, row, rule.numbers) if case.fix else None
    event = _event(chart, note)
    finding = Finding(
        rule=rule.name,
        family=rule.family,
        level=case.level,
        message=message,
        part=PartRef(part.number, part.track, part.channel, part.name) if part else None,
        where=place(chart, tick, end_tick),
        readings=tuple(values.items()),
        certainty=certainty,
        fix=fix,
        pitch=int(song.notes.pitch[note]) if note >= 0 else None,
        byte=event[0] if event else None,
        byte_length=event[1] if event else None,
    )
    notes: tuple[int, ...] = (note,) if note >= 0 else ()
    if rule.judges == "slide":
        notes = (note, int(chart.slides.source_note[row]))
    elif rule.judges == "fill":
        notes = tuple(int(n) for n in chart.fills.notes[row])
    return _Found(finding, notes, notes[:1] if rule.judges == "slide" else notes)


def place(chart: Chart, tick: int, end_tick: int) -> Where:
    """A stretch of ticks as bars, beats and seconds."""
    grid, tempo = chart.song.grid, chart.song.tempo
    return Where(
        tick,
        end_tick,
        int(grid.bar_of(tick)) + 1,
        float(grid.beat_of(tick)),
        tempo.seconds(tick),
        tempo.seconds(end_tick),
    )


def _event(chart: Chart, note: int) -> tuple[int, int] | None:
    """Byte offset and length of a note's note-on event in the file."""
    if note < 0:
        return None
    notes, scan = chart.song.notes, chart.song.scan
    track = scan.tracks[chart.song.parts[int(notes.part[note])].track]
    row = int(notes.on_row[note])
    return scan.base + int(track.at[row]), int(track.stop[row] - track.at[row])


def _plain(value: object) -> Value:
    """A numpy value as a plain one; NaN becomes None."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and np.isnan(value):
        return None
    return value  # type: ignore[return-value]  # columns hold bool, float and str only


def _words(value: Value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return "unknown" if value is None else str(value)


def _without_echoes(found: list[_Found], rules: Sequence[Rule]) -> list[Finding]:
    """Drop findings that another finding on the same note explains (one cause, one finding)."""
    flagged: dict[str, set[int]] = {}
    for item in found:
        flagged.setdefault(item.finding.rule, set()).update(item.explains)
    because = {rule.name: rule.because for rule in rules}
    return [
        item.finding
        for item in found
        if not any(
            note in flagged.get(other, ())
            for other in because[item.finding.rule]
            for note in item.notes
        )
    ]
