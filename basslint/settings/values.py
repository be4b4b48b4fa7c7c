"""Is a single value of the settings well said, and if not, what would be right?"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from basslint.errors import SettingsError
from basslint.rulebook.model import LEVELS, Level
from basslint.settings.model import MOST_UNJUDGED
from basslint.util.records import record
from basslint.util.text import nearest

RULE_KEYS = ("on", "level")  # of a rule's table, besides the numbers of its page
FACTS = (
    "bass", "harmony", "key", "chords", "decay", "sound", "sounds", "bend_range",
    "glide_time", "one_shot", "root_key", "transpose", "cents",
)  # fmt: skip
_SHARED = ("gate", "strict", "middle_c", "facts", "rules", "loop")
TOP = (*_SHARED, "together", "begins", "plug_ins", "limits", "song", "waive")
SONG = (*_SHARED, "files", "chords")


@record
class Values:
    """Checks values of one settings file, ``path``, and says where one is wrong."""

    path: Path

    def wrong(self, key: str, what: str) -> SettingsError:
        return SettingsError(f"{self.path}: `{key}` {what}.", "README.md lists the settings.")

    def keys(self, table: Mapping[str, Any], known: Iterable[str], prefix: str) -> None:
        for key in table:
            if key not in known:
                near = nearest(key, known, 0.0)
                advice = f"Did you mean `{prefix}{near}`?" if near else ""
                raise SettingsError(
                    f"{self.path}: unknown key `{prefix}{key}`.", _home(key, prefix) or advice
                )

    def tables(self, table: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
        value = table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            raise self.wrong(key, f"is written as [[{key}]]")
        return value

    def texts(self, value: Any, key: str) -> tuple[str, ...]:
        value = [value] if isinstance(value, str) else value
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            raise self.wrong(key, "takes a text or a list of texts")
        return tuple(value)

    def level(self, value: Any, key: str) -> Level:
        for known in LEVELS:
            if value == known:
                return known
        near = nearest(str(value)[:20], LEVELS)
        what = f"`{key}` is one of {', '.join(LEVELS)}, not “{str(value)[:40]}”"
        advice = f"Did you mean {near}?" if near else "README.md lists the settings."
        raise SettingsError(f"{self.path}: {what}.", advice)

    def number(self, value: Any, key: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.wrong(key, "takes a number")
        if not math.isfinite(value):
            raise self.wrong(key, "takes a finite number")
        return float(value)

    def of_rule(self, value: Any, rule: str, key: str) -> float:
        """A number of a rule. What is none may be another key misspelt: which numbers a rule has
        is only known with its page."""
        near = nearest(key, RULE_KEYS)
        if near and (isinstance(value, bool) or not isinstance(value, int | float)):
            raise SettingsError(
                f"{self.path}: unknown key `{rule}.{key}`.", f"Did you mean `{rule}.{near}`?"
            )
        return self.number(value, f"{rule}.{key}")

    def strict(self, value: Any) -> float | None:
        """The share of bars that may stay unjudged: stated, or half; None where not strict."""
        if isinstance(value, bool):
            return MOST_UNJUDGED if value else None
        if isinstance(value, dict) and list(value) == ["most_unjudged"]:
            share = self.number(value["most_unjudged"], "strict.most_unjudged")
            if 0 <= share <= 1:
                return share
            raise self.wrong("strict.most_unjudged", "is a share from 0 to 1")
        raise self.wrong("strict", "is true, false, or a table like { most_unjudged = 0.2 }")

    def begins(self, value: Any) -> tuple[tuple[str, int], ...]:
        """In which bar files of a group begin, by glob: ``{ "hook.mid" = "bar 9" }``."""
        what = 'is a table such as { "night-bus/hook.mid" = "bar 9" }'
        if not isinstance(value, dict):
            raise self.wrong("begins", what)
        found = []
        for glob, bar in value.items():
            words = re.fullmatch(r"bar ([1-9][0-9]{0,3})", bar) if isinstance(bar, str) else None
            if words is None:
                raise self.wrong(f"begins.{glob}", what)
            found.append((glob, int(words[1])))
        return tuple(found)


def _home(key: str, prefix: str) -> str:
    """Where a key belongs that stands in the wrong table; empty where it is known nowhere."""
    if key in FACTS and not prefix:
        return f"`{key}` is a fact: write it below a line that says [facts]."
    if key in FACTS and prefix == "song.":
        return f"`{key}` is a fact: write facts = {{ {key} = … }}."
    if key in TOP and prefix:  # in TOML all that follows a [table] belongs to it
        return f"`{key}` holds for the file: write it above the first [table]."
    return ""
