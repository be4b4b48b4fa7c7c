"""The table of shipped fixes says of each what its module says, and no other takes its name."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import pytest

import basslint.fixes
from basslint.fixes.base import fixer, known_for, named, registered
from basslint.fixes.shipped import SHIPPED


def test_the_table_says_what_the_modules_say() -> None:
    home = Path(basslint.fixes.__file__).parent
    for path in home.glob("[a-z]*.py"):
        import_module(f"basslint.fixes.{path.stem}")
    found = {
        name: (fix.of, fix.build.__module__.removeprefix("basslint.fixes."))
        for name, fix in registered().items()
        if fix.build.__module__.startswith("basslint.")
    }
    assert found == SHIPPED
    assert list(found) == list(SHIPPED)  # in which order pages and lists name them


def test_a_fix_is_found_by_its_name_and_its_subject() -> None:
    assert named("ramp").of == "fill"
    assert "ramp" in known_for("fill")
    assert "ramp" not in known_for("bass-note")
    with pytest.raises(KeyError):
        named("no-such-fix")


def test_no_other_fix_takes_a_shipped_name() -> None:
    with pytest.raises(ValueError, match="two fixes are named air"):
        fixer("air", of="bass-note", does="nothing")(lambda chart, row, numbers: None)
