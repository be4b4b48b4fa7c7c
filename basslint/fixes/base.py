"""How may a finding be mended? The registry of fixes and the edits they are built from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from basslint.charting import Chart
from basslint.findings import Edit, Fix
from basslint.readings.base import Subject

Build = Callable[[Chart, int, Mapping[str, float]], Fix | None]


@dataclass(frozen=True, slots=True)
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
        if name in _REGISTRY:
            raise ValueError(f"two fixes are named {name}")
        _REGISTRY[name] = Fixer(name, of, does, function)
        return function

    return register


def registered() -> dict[str, Fixer]:
    """The fixes by name, those of this package and of loaded plug-ins."""
    import basslint.fixes

    basslint.fixes.load()
    return _REGISTRY


def repitch(chart: Chart, note: int, pitch: int) -> Edit:
    """Edit: give the note in row ``note`` of song.notes another pitch."""
    notes, part = chart.song.notes, chart.song.parts[int(chart.song.notes.part[note])]
    return Edit(
        "pitch",
        part.track,
        part.channel,
        int(notes.start[note]),
        int(notes.end[note]),
        int(notes.pitch[note]),
        pitch,
    )


def retime(chart: Chart, note: int, do: str, tick: int) -> Edit:
    """Edit: bring the "start", the "end", or the whole ("move") of a note to ``tick``."""
    if do not in ("start", "end", "move"):
        raise ValueError(do)
    notes, part = chart.song.notes, chart.song.parts[int(chart.song.notes.part[note])]
    before = int(notes.end[note] if do == "end" else notes.start[note])
    return Edit(
        do,  # type: ignore[arg-type]  # narrowed by the check above
        part.track,
        part.channel,
        int(notes.start[note]),
        int(notes.end[note]),
        before,
        tick,
        pitch=int(notes.pitch[note]),
    )


def revelocity(chart: Chart, note: int, velocity: int) -> Edit:
    """Edit: give a note another velocity."""
    notes, part = chart.song.notes, chart.song.parts[int(chart.song.notes.part[note])]
    return Edit(
        "velocity",
        part.track,
        part.channel,
        int(notes.start[note]),
        int(notes.end[note]),
        int(notes.velocity[note]),
        velocity,
        pitch=int(notes.pitch[note]),
    )


def removal(chart: Chart, note: int) -> Edit:
    """Edit: take a note out."""
    notes, part = chart.song.notes, chart.song.parts[int(chart.song.notes.part[note])]
    return Edit(
        "remove",
        part.track,
        part.channel,
        int(notes.start[note]),
        int(notes.end[note]),
        int(notes.pitch[note]),
        None,
        pitch=int(notes.pitch[note]),
    )
