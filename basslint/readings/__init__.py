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
    "octaves",
    "over_loop",
    "part_keys",
    "phrase_ends",
    "recurrence",
    "root_habit",
    "slid_notes",
    "slides",
    "slip",
    "slip_evidence",
    "subjects",
]

# by subject, in the order in which readings are listed
_MODULES = {
    "song": ("songs",),
    "bass-note": (
        "accompaniment",
        "notes",
        "against_harmony",
        "against_parts",
        "copies",
        "recurrence",
        "phrase_ends",
        "scale_chance",
        "rootless",
        "changes",
        "rubs",
        "kicks",
        "slid_notes",
        "octaves",
        "root_habit",
        "rub_habit",
        "line",
        "blue",
        "minor",
        "moved_figure",
        "periods",
        "approach",
        "walks",
        "turns",
        "slip",
        "explained",
        "slip_words",
    ),
    "note": ("any_notes",),
    "slide": ("scale_chance", "bend_ranges", "slides", "falls"),
    "fill": (
        "fills",
        "fill_beat",
        "fill_copies",
        "fill_families",
        "fill_feel",
        "fill_places",
        "fill_turns",
    ),
    "chord": ("witnesses",),
    "stretch": ("stretches",),
    "lag": ("lags",),
    "displacement": ("displacements",),
    "part-key": ("part_keys",),
    "high-part": ("high_parts",),
}
# what is asked of every song, then of many; the others are imported where something is nearly off
_MOST_ASKED = (
    "accompaniment", "notes", "against_harmony", "against_parts", "changes", "kicks", "slid_notes",
    "explained", "octaves", "slides", "phrase_ends", "blue", "slip", "root_habit",
)  # fmt: skip


@cache
def load(subject: str) -> None:
    """Import the modules that register the readings of a subject, once."""
    for module in modules_of(subject):
        import_module(module)


@cache
def modules_of(subject: str) -> tuple[str, ...]:
    """The modules that register the readings of a subject, in the order of their lists."""
    return tuple([f"basslint.readings.{name}" for name in _MODULES[subject]])


@cache
def in_turn(subject: str) -> tuple[str, ...]:
    """The same in the order in which they are looked through for a reading."""
    most_asked = [name for name in _MOST_ASKED if name in _MODULES[subject]]
    ordered = dict.fromkeys([*most_asked, *_MODULES[subject]])
    return tuple([f"basslint.readings.{name}" for name in ordered])
