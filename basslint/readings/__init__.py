"""The columns that rules see: of a bass note, a note, a slide, a fill, a chord, a song."""

from __future__ import annotations

from functools import cache
from importlib import import_module

__all__ = [
    "against_harmony",
    "against_parts",
    "any_notes",
    "base",
    "bend_ranges",
    "columns",
    "copies",
    "displacements",
    "fill_copies",
    "fill_doubles",
    "fills",
    "kick_feel",
    "load",
    "needs",
    "notes",
    "part_keys",
    "phrase_ends",
    "recurrence",
    "slid_notes",
    "slides",
    "slip",
    "slip_evidence",
    "subjects",
]

_MODULES = (
    "notes",
    "against_harmony",
    "copies",
    "rootless",
    "scale_chance",
    "changes",
    "against_parts",
    "rubs",
    "kick_feel",
    "any_notes",
    "slides",
    "falls",
    "bend_ranges",
    "slid_notes",
    "fills",
    "fill_copies",
    "fill_feel",
    "fill_turns",
    "phrase_ends",
    "witnesses",
    "songs",
    "stretches",
    "lags",
    "displacements",
    "part_keys",
    "high_parts",
    "accompaniment",
    "recurrence",
    "root_habit",
    "rub_habit",
    "line",
    "blue",
    "waves",
    "approach",
    "turns",
    "slip",
    "slip_words",
)


@cache
def load() -> None:
    """Import the modules that register readings, once."""
    for name in _MODULES:
        import_module(f"basslint.readings.{name}")
