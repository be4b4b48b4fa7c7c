"""What does a finding say, where does it stand, and how may it be mended?

A flagged row becomes words only here, so that what another rule explains away costs nothing.
"""

from __future__ import annotations

import re

import numpy as np

from basslint.fixes.base import named as fix_named
from basslint.fixes.edits import Fix, FixKind
from basslint.hear.chart import Chart
from basslint.judging.results import Finding, PartRef, Where
from basslint.readings.columns import Columns
from basslint.readings.slip_evidence import Weighed, evidence_of, weighed_by
from basslint.readings.subjects import Value
from basslint.rulebook.model import Case, Rule
from basslint.song.arrangement import Part, Song

_NO_DECIMALS = 100  # three figures of a measured number say enough
_FIELD = re.compile(r"\{([a-z_0-9]+)\}")


def message_of(columns: Columns, rule: Rule, text: str, row: int) -> str:
    """A text of a page with what the readings say of a row put in; ``{count}`` stays."""

    def shown(match: re.Match[str]) -> str:
        name = match[1]
        if name == "count" and text is rule.per_part:
            return match[0]
        if name in rule.numbers:
            return _words(rule.numbers[name])
        return _words(_plain(columns.column(rule.judges, name)[row]))

    message = _FIELD.sub(shown, text)
    message = message[:1].upper() + message[1:]
    return message if message[-1] in ".!?" else f"{message}."


def finding_of(
    columns: Columns,
    rule: Rule,
    case: Case,
    row: int,
    certainty: float,
    more: tuple[int, ...] = (),
) -> Finding:
    """The finding of a row that a case of a rule flags; ``more``: rows that are told with it."""
    chart, song, rows = columns.chart, columns.chart.song, columns.rows(rule.judges)
    tick, end_tick = int(rows.tick[row]), int(rows.end_tick[row])
    note = int(rows.note[row])
    part_row = int(rows.part[row])
    part = song.parts[part_row] if part_row >= 0 else None
    values = {
        c.reading: _plain(columns.column(rule.judges, c.reading)[row]) for c in case.conditions
    }

    message = message_of(columns, rule, case.message, row)
    fix = _fix(chart, rule, case, (row, *more))
    event = _event(chart, note)
    return Finding(
        rule=rule.name,
        family=rule.family,
        level=case.level,
        message=message,
        part=_named(song, part) if part else None,
        where=place(chart, tick, end_tick),
        readings=tuple(values.items()),
        certainty=certainty,
        fix=fix,
        pitch=int(song.notes.pitch[note]) if note >= 0 else None,
        byte=event[0] if event else None,
        byte_length=event[1] if event else None,
        also=tuple(
            place(chart, int(rows.tick[r]), int(rows.end_tick[r]))
            for r in sorted(more, key=lambda r: int(rows.tick[r]))
        ),
        evidence=_evidence(chart, rule, case, row),
        whole=rule.judges == "song",
    )


def _evidence(chart: Chart, rule: Rule, case: Case, row: int) -> tuple[Weighed, ...]:
    """What the chance weighs that a case goes by: the one that says how sure it is, else the first
    that it asks for."""
    if rule.judges != "bass-note":
        return ()
    asked = (case.sure, *(c.reading for c in case.conditions))
    name = next((n for n in asked if n is not None and weighed_by(n)), None)
    return evidence_of(chart, name, row) if name else ()


def _fix(chart: Chart, rule: Rule, case: Case, rows: tuple[int, ...]) -> Fix | None:
    """One fix for the rows: what mends each of them, or none where one of them cannot be mended."""
    if case.fix is None:
        return None
    build = fix_named(case.fix).build
    each = [build(chart, row, rule.numbers) for row in rows]
    given = [fix for fix in each if fix is not None]
    if len(given) < len(each):
        return None
    first = given[0]
    if len(given) == 1:
        return first
    kind: FixKind = "safe" if all(fix.kind == "safe" for fix in given) else "by-ear"
    edits = tuple(dict.fromkeys(edit for fix in given for edit in fix.edits))
    places = "both places" if len(given) == 2 else f"all {len(given)} places"
    return Fix(f"{first.title}, in {places}", kind, edits)


def _named(song: Song, part: Part) -> PartRef:
    """A part as findings name it."""
    shared = sum(other.name == part.name for other in song.parts) > 1
    return PartRef(part.number, part.track, part.channel, part.name, shared=shared)


def place(chart: Chart, tick: int, end_tick: int) -> Where:
    """A stretch of ticks as bars, beats and seconds."""
    grid, tempo = chart.song.grid, chart.song.tempo
    return Where(
        tick=tick,
        end_tick=end_tick,
        bar=int(grid.bar_of(tick)) + 1,
        beat=float(grid.beat_of(tick)),
        time_s=tempo.seconds(tick),
        end_time_s=tempo.seconds(end_tick),
        beats=int(grid.numerator[int(grid.bar_of(tick))]),
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
        if abs(value) >= _NO_DECIMALS:
            return f"{value:.0f}"
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return "unknown" if value is None else str(value)
