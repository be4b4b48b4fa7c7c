"""What does a finding say, where does it stand, and how may it be mended?

A flagged row becomes words only here, so that what another rule explains away costs nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from math import isnan

import numpy as np
from numpy.typing import NDArray

from basslint.fixes.base import named as fix_named
from basslint.fixes.edits import Fix, FixKind
from basslint.hear.chart import Chart
from basslint.judging.hits import Hit
from basslint.judging.results import Finding, PartRef, Where
from basslint.readings.columns import Columns
from basslint.readings.slip_evidence import Weighed, evidence_of, weighed_by
from basslint.readings.subjects import Value
from basslint.rulebook.model import Case, Rule
from basslint.song.arrangement import Song

_NO_DECIMALS = 100  # three figures of a measured number say enough
_FIELD = re.compile(r"\{([a-z_0-9]+)\}")


class Told:
    """What is said of the hits of one rule; what readings say of them is looked up for all.

    Not ``in_full``, there is no evidence and no fix, save where the fix decides what is told as
    one with it (``per_part``).
    """

    def __init__(self, columns: Columns, hits: Sequence[Hit], in_full: bool = True) -> None:
        self._columns, self._hits, self._rule = columns, hits, hits[0].rule
        self._numbers = self._rule.numbers
        self._rows = np.array([hit.row for hit in hits], dtype=np.intp)
        self._values: dict[str, list[Value]] = {}
        self._mended = in_full or self._rule.per_part is not None
        self._evidence = _evidence(columns.chart, self._rule, hits) if in_full else [()] * len(hits)

    def findings(self) -> list[Finding]:
        """The findings, in the order of the hits."""
        chart, rows = self._columns.chart, self._columns.rows(self._rule.judges)
        where = places(chart, rows.tick[self._rows], rows.end_tick[self._rows])
        notes, parts = (column[self._rows].tolist() for column in (rows.note, rows.part))
        named = {part: _named(chart.song, part) for part in set(parts)}
        return [
            self._finding(at, where[at], note, named[part])
            for at, (note, part) in enumerate(zip(notes, parts, strict=True))
        ]

    def _finding(self, at: int, where: Where, note: int, part: PartRef | None) -> Finding:
        chart, rule, hit = self._columns.chart, self._rule, self._hits[at]
        event = _event(chart, note)
        readings = dict.fromkeys(condition.reading for condition in hit.case.conditions)
        return Finding(
            rule=rule.name,
            family=rule.family,
            level=hit.case.level,
            message=self.message(hit.case.message, at),
            part=part,
            where=where,
            readings=tuple([(name, self._value(name, at)) for name in readings]),
            certainty=hit.certainty,
            fix=self._fix(hit) if self._mended else None,
            pitch=int(chart.song.notes.pitch[note]) if note >= 0 else None,
            byte=event[0] if event else None,
            byte_length=event[1] if event else None,
            also=self._also(hit.more) if hit.more else (),
            evidence=self._evidence[at],
            whole=rule.judges == "song",
        )

    def _fix(self, hit: Hit) -> Fix | None:
        return _fix(self._columns.chart, hit.case, (hit.row, *hit.more), self._numbers)

    def _also(self, more: tuple[int, ...]) -> tuple[Where, ...]:
        """Where rows stand that are told with another one, in order."""
        rows, at = self._columns.rows(self._rule.judges), np.array(more)
        ordered = at[rows.tick[at].argsort(kind="stable")]
        return tuple(places(self._columns.chart, rows.tick[ordered], rows.end_tick[ordered]))

    def message(self, text: str, at: int) -> str:
        """A text of the page with what readings say of a hit put in; ``{count}`` stays."""

        def shown(match: re.Match[str]) -> str:
            name = match[1]
            if name == "count" and text is self._rule.per_part:
                return match[0]
            number = self._numbers.get(name)
            return _words(self._value(name, at) if number is None else number)

        message = _FIELD.sub(shown, text)
        message = message[:1].upper() + message[1:]
        return message if message.endswith((".", "!", "?")) else f"{message}."

    def _value(self, name: str, at: int) -> Value:
        """What a reading says of a hit."""
        values = self._values.get(name)
        if values is None:
            told = self._columns.of_rows(self._rule.judges, name, self._rows)
            values = told.tolist()
            if told.dtype.kind != "b":
                values = [_plain(v) for v in values]
            self._values[name] = values
        return values[at]


def _evidence(chart: Chart, rule: Rule, hits: Sequence[Hit]) -> list[tuple[Weighed, ...]]:
    """For each hit what the chance weighs that its case goes by: the one that says how sure it is,
    else the first that it asks for."""
    evidence: list[tuple[Weighed, ...]] = [()] * len(hits)
    if rule.judges != "bass-note":
        return evidence
    going_by: dict[str, list[int]] = {}
    for at, hit in enumerate(hits):
        asked = (hit.case.sure, *(c.reading for c in hit.case.conditions))
        name = next((n for n in asked if n is not None and weighed_by(n)), None)
        if name is not None:
            going_by.setdefault(name, []).append(at)
    for name, places in going_by.items():
        told = evidence_of(chart, name, [hits[at].row for at in places])
        for at, weighed in zip(places, told, strict=True):
            evidence[at] = weighed
    return evidence


def _fix(
    chart: Chart, case: Case, rows: tuple[int, ...], numbers: Mapping[str, float]
) -> Fix | None:
    """One fix for the rows: what mends each of them, or none where one of them cannot be mended."""
    if case.fix is None:
        return None
    build = fix_named(case.fix).build
    each = [build(chart, row, numbers) for row in rows]
    given = [fix for fix in each if fix is not None]
    if len(given) < len(each):
        return None
    first = given[0]
    if len(given) == 1:
        return first
    kind: FixKind = "safe" if all(fix.kind == "safe" for fix in given) else "by-ear"
    apart = {id(fix): fix for fix in given}.values()  # one of a whole part is gone through once
    edits = tuple(dict.fromkeys(edit for fix in apart for edit in fix.edits))
    places = "both places" if len(given) == 2 else f"all {len(given)} places"
    return Fix(f"{first.title}, in {places}", kind, edits)


def _named(song: Song, index: int) -> PartRef | None:
    """A part as findings name it, by its index; of no part where that is −1."""
    if index < 0:
        return None
    part = song.parts[index]
    shared = sum(other.name == part.name for other in song.parts) > 1
    return PartRef(part.number, part.track, part.channel, part.name, shared=shared)


def places(chart: Chart, tick: NDArray[np.int64], end_tick: NDArray[np.int64]) -> list[Where]:
    """Stretches of ticks, [n] each, as bars, beats and seconds."""
    grid, tempo = chart.song.grid, chart.song.tempo
    bar = grid.bar_of(tick)
    columns = (
        tick,
        end_tick,
        bar + 1,
        grid.beat_of(tick),
        tempo.seconds(tick),
        tempo.seconds(end_tick),
        grid.numerator[bar],
    )
    return [
        Where(
            tick=begin,
            end_tick=end,
            bar=number,
            beat=beat,
            time_s=time_s,
            end_time_s=end_time_s,
            beats=beats,
        )
        for begin, end, number, beat, time_s, end_time_s, beats in zip(
            *(column.tolist() for column in columns), strict=True
        )
    ]


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
    if isinstance(value, float) and isnan(value):
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
