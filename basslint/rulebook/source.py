"""Where in a page does what stand? Finds the line of a complaint, and reads texts and tables."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from basslint.errors import RuleError
from basslint.util.records import record
from basslint.util.text import visible

CONTROL = r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]"


@record
class PageSource:
    """A page, or its ``nth`` section named ``table``: finds a key's line and complains."""

    path: str
    lines: list[str]
    table: str = ""
    nth: int = 0

    def section(self, name: str, nth: int = 0) -> PageSource:
        """The page from its table ``[name]``, or its nth ``[[name]]``, on."""
        return PageSource(self.path, self.lines, name, nth)

    def _begin(self) -> int:
        """The line at which the section begins; looked for only where there is a complaint."""
        name = re.escape(self.table)
        head = re.compile(rf"\s*(\[{{1,2}}\s*{name}\s*\]|{name}\s*=)")
        heads = [i for i, line in enumerate(self.lines) if head.match(line)] if name else []
        return heads[self.nth] if self.nth < len(heads) else 0

    def wrong(self, key: str, what: str, advice: str = "") -> RuleError:
        """The complaint about a key, with the first line at which it stands in this section."""
        pattern = re.compile(rf"(^|[\s{{,\"'\[.]){re.escape(key)}\b")
        begin = self._begin()
        line = next(
            (i for i, x in enumerate(self.lines) if i >= begin and pattern.search(x)), begin
        )
        # keys and values of a stranger's page may hold anything, escapes of a terminal among it
        what = visible(what, 300)
        return RuleError(f"{self.path}, line {line + 2}: {what}", advice or "Mend the line.")

    def text(self, head: Mapping[str, Any], key: str) -> str:
        """A text of one line. Raises `RuleError` where a key holds something else."""
        value = head.get(key)
        if not isinstance(value, str) or not value.strip():
            raise self.wrong(key, f"`{key}` must be a text.", f'Write {key} = "…".')
        if not value.isprintable() and ("\n" in value or re.search(CONTROL, value)):
            raise self.wrong(key, f"`{key}` must be one line of plain text.")
        return value

    def tables(self, head: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
        """All ``[[key]]`` tables. Raises `RuleError` where a key holds something else."""
        entries = head.get(key, [])
        entries = entries if isinstance(entries, list) else [entries]
        if not all(isinstance(e, dict) for e in entries):
            raise self.wrong(key, f"`{key}` must be a table.", f"Write [[{key}]] above its lines.")
        return entries


def shown(value: Any) -> str:
    """A value of a stranger's page as it may stand in a message."""
    try:
        text = f"“{value}”" if isinstance(value, str) else repr(value)
    except (ValueError, RecursionError):  # numbers of thousands of digits
        return "what is written"
    return text if len(text) <= 60 else text[:59] + "…"
