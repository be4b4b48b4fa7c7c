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
    "kicks",
    "load",
    "needs",
    "notes",
    "over_loop",
    "part_keys",
    "phrase_ends",
    "recurrence",
    "slid_notes",
    "slides",
    "slip",
    "slip_evidence",
    "subjects",
]

_MODULES = {
    "song": ("songs",),
    "bass-note": (
        "notes",
        "against_harmony",
        "copies",
        "rootless",
        "scale_chance",
        "changes",
        "against_parts",
        "rubs",
        "kicks",
        "slid_notes",
        "phrase_ends",
        "accompaniment",
        "recurrence",
        "root_habit",
        "rub_habit",
        "line",
        "blue",
        "periods",
        "approach",
        "turns",
        "slip",
        "slip_words",
    ),
    "note": ("any_notes",),
    "slide": ("scale_chance", "slides", "falls", "bend_ranges"),
    "fill": ("fills", "fill_copies", "fill_feel", "fill_turns"),
    "chord": ("witnesses",),
    "stretch": ("stretches",),
    "lag": ("lags",),
    "displacement": ("displacements",),
    "part-key": ("part_keys",),
    "high-part": ("high_parts",),
}


@cache
def load(subject: str) -> None:
    """Import the modules that register the readings of a subject, once."""
    for name in _MODULES[subject]:
        import_module(f"basslint.readings.{name}")
