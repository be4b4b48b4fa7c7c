"""How may a finding be mended? The registry of fixes and the edits they are built from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Literal

from basslint.fixes.edits import Do, Edit, Fix
from basslint.fixes.shipped import SHIPPED
from basslint.hear.chart import Chart
from basslint.readings.subjects import Subject
from basslint.util.records import record

Build = Callable[[Chart, int, Mapping[str, float]], Fix | None]


@record
class Fixer:
    """A named way to mend a row of a subject; ``does`` says it in one line for rule authors."""

    name: str
    of: Subject
    does: str
    build: Build


_REGISTRY: dict[str, Fixer] = {}


def fixer(name: str, *, of: Subject, does: str) -> Callable[[Build], Build]:
    """Register a function that builds a Fix for one row, or None where no fix is honest."""

    def register(function: Build) -> Build:
        home = f"basslint.fixes.{SHIPPED[name][1]}" if name in SHIPPED else function.__module__
        if name in _REGISTRY or function.__module__ != home:
            raise ValueError(f"two fixes are named {name}")
        _REGISTRY[name] = Fixer(name, of, does, function)
        return function

    return register


def named(name: str) -> Fixer:
    """The fix of a name, its module imported when first asked. Raises `KeyError`."""
    if name not in _REGISTRY and name in SHIPPED:
        import_module(f"basslint.fixes.{SHIPPED[name][1]}")
    return _REGISTRY[name]


def known_for(of: Subject) -> list[str]:
    """The names of the fixes of a subject, also of loaded plug-ins."""
    shipped = [name for name, (subject, _) in SHIPPED.items() if subject == of]
    return shipped + [f.name for f in _REGISTRY.values() if f.of == of and f.name not in SHIPPED]


def registered() -> dict[str, Fixer]:
    """The fixes by name, of this package and of loaded plug-ins."""
    return {name: named(name) for name in SHIPPED} | _REGISTRY


def repitch(chart: Chart, note: int, pitch: int) -> Edit:
    """Edit: give the note in row ``note`` of song.notes another pitch."""
    return _edit(chart, note, "pitch", int(chart.song.notes.pitch[note]), pitch)


def retime(chart: Chart, note: int, do: Literal["start", "end", "move"], tick: int) -> Edit:
    """Edit: bring the "start", the "end", or the whole ("move") of a note to ``tick``."""
    notes = chart.song.notes
    return _edit(chart, note, do, int(notes.end[note] if do == "end" else notes.start[note]), tick)


def revelocity(chart: Chart, note: int, velocity: int) -> Edit:
    """Edit: give a note another velocity."""
    return _edit(chart, note, "velocity", int(chart.song.notes.velocity[note]), velocity)


def removal(chart: Chart, note: int) -> Edit:
    """Edit: take a note out."""
    return _edit(chart, note, "remove", int(chart.song.notes.pitch[note]), None)


def _edit(chart: Chart, note: int, do: Do, before: int, after: int | None) -> Edit:
    notes = chart.song.notes
    part = chart.song.parts[int(notes.part[note])]
    first = note  # notes alike stand together: they are sorted by start, pitch and part
    while first and all(
        column[first - 1] == column[note] for column in (notes.start, notes.pitch, notes.part)
    ):
        first -= 1
    return Edit(
        do=do,
        track=part.track,
        channel=part.channel,
        tick=int(notes.start[note]),
        end_tick=int(notes.end[note]),
        before=before,
        after=after,
        pitch=int(notes.pitch[note]),
        nth=int((notes.end[first:note] == notes.end[note]).sum()),
    )
