"""Ways to mend a finding: each a documented function from one row to a few edits."""

from __future__ import annotations

from functools import cache
from importlib import import_module

__all__ = ["base", "edits", "load"]

_MODULES = (
    "harmony",
    "changes",
    "landings",
    "slides",
    "fills",
    "fill_positions",
    "low_end",
    "housekeeping",
    "stretches",
    "lags",
    "displacements",
    "part_keys",
    "high_parts",
)


@cache
def load() -> None:
    """Import the modules that register fixes, once."""
    for name in _MODULES:
        import_module(f"basslint.fixes.{name}")
