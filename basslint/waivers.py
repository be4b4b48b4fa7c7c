"""Which findings may stand, and for what reason?

A waiver names a rule, a song, a part and what is sounded there, never ticks, so that a re-export or
an inserted intro does not break it.
"""

from __future__ import annotations

import datetime
import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from basslint.errors import SettingsError

_KEYS = ("rule", "song", "bars", "part", "sounds", "reason", "until")


@dataclass(frozen=True, slots=True)
class Waiver:
    """A reason to let findings stand.

    ``song`` is a glob of file names; ``part`` and ``sounds`` (the fingerprints of what is sounded)
    narrow it; ``bars`` is (first, last) from 1, or None for anywhere; ``until`` is its last day.
    """

    rule: str
    song: str
    reason: str
    bars: tuple[int, int] | None = None
    part: str | None = None
    sounds: tuple[str, ...] = ()
    until: datetime.date | None = None


def read_waiver(table: Mapping[str, Any], where: str) -> Waiver:
    """Check one [[waive]] table. Raises `SettingsError`."""
    for key in table:
        if key not in _KEYS:
            near = difflib.get_close_matches(key, _KEYS, n=1, cutoff=0.0)
            raise SettingsError(f"{where}: unknown key `{key}`.", f"Did you mean `{near[0]}`?")
    for key in ("rule", "song", "reason"):
        if not isinstance(table.get(key), str) or not table[key].strip():
            raise SettingsError(
                f"{where}: `{key}` must be a text.",
                "A waiver names its rule, its song and the reason.",
            )
    until = table.get("until")
    if until is not None and not isinstance(until, datetime.date):
        raise SettingsError(f"{where}: `until` is a date.", "Write until = 2027-01-31.")
    sounds = table.get("sounds", [])
    if not isinstance(sounds, list) or not all(isinstance(s, str) for s in sounds):
        raise SettingsError(f"{where}: `sounds` is a list of texts.", "`basslint waive` writes it.")
    return Waiver(
        table["rule"],
        table["song"],
        table["reason"],
        _bars(table.get("bars"), where),
        table.get("part"),
        tuple(sounds),
        until,
    )


def _bars(value: Any, where: str) -> tuple[int, int] | None:
    if value is None:
        return None
    text = str(value).replace("–", "-")
    first, _, last = text.partition("-")
    if not first.strip().isdigit() or not (last.strip() or first.strip()).isdigit():
        raise SettingsError(f"{where}: `bars` is a bar or a range.", 'Write bars = "5-8".')
    return int(first), int(last or first)
