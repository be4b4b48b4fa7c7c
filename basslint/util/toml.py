"""What does a text in TOML say, within bounds that keep reading it quick?"""

from __future__ import annotations

import re
import tomllib
from typing import Any

MOST_DEPTH = 16  # tables in tables; what we read has four
_LONGEST_KEY = 200
_MOST_WHOLE = 2**128  # TOML asks for 64 bits; a limit may be set higher than any file is long

# Texts and remarks. Each alternative that has begun comes to an end, so that this stays linear.
_SAID = (
    r'"""(?:\\.?|[^\\])*?(?:"""|\Z)|\'\'\'.*?(?:\'\'\'|\Z)'
    r'|"(?:\\.|[^"\\\n])*"?|\'[^\'\n]*\'?|#[^\n]*'
)
_DEEP_KEY = rf"(?<![\w-])(?:[\w-]+[ \t]*\.[ \t]*){{{MOST_DEPTH}}}"


class NotToml(ValueError):
    """The text is no TOML, or more of it than anybody writes by hand; says why."""


def read_toml(text: str) -> dict[str, Any]:
    """The table that a text holds. Raises `NotToml`.

    A key of thousands of parts costs the square of its length, so that is refused before parsing.
    """
    # a key stands on one line
    many = any(line.count(".") >= MOST_DEPTH for line in text.split("\n"))
    if many and re.search(_DEEP_KEY, re.sub(_SAID, "x", text, flags=re.DOTALL)):
        raise NotToml(f"a key has more than {MOST_DEPTH} parts")
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise NotToml(str(error)) from None
    except RecursionError:
        raise NotToml("it is nested too deeply") from None
    except ValueError:  # Python refuses to read thousands of digits
        raise NotToml("a number has too many digits") from None
    _check(table)
    return table


def _check(table: dict[str, Any]) -> None:
    """Refuse what is nested, named or counted beyond the bounds."""
    ahead: list[tuple[Any, int]] = [(table, 0)]
    while ahead:
        value, depth = ahead.pop()
        if depth > MOST_DEPTH:
            raise NotToml("it is nested too deeply")
        if isinstance(value, dict):
            if any(len(key) > _LONGEST_KEY for key in value):
                raise NotToml(f"a key is longer than {_LONGEST_KEY} characters")
            ahead += ((inner, depth + 1) for inner in value.values())
        elif isinstance(value, list):
            ahead += ((inner, depth + 1) for inner in value)
        elif isinstance(value, int) and not -_MOST_WHOLE <= value < _MOST_WHOLE:
            raise NotToml("a whole number needs more than 128 bits")
