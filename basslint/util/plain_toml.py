"""What does a text in TOML say, where every line of it is of the plainest kind?

The heads of rule pages are: a key and one value to a line, texts without escapes, tables with
short names. So much is read line by line, several times as fast as by `tomllib`, and without its
import; for all else the answer is None, and `tomllib` is to be asked, which also says what is
wrong. Where there is an answer it is that of `tomllib`.

Source: TOML 1.0.0.
"""

from __future__ import annotations

from typing import Any

_BLANK = " \t"  # TOML's, where Python's `strip` takes more
_MOST_DIGITS = 15  # of a number: far below what is refused, and exact as a float
_LONGEST_KEY = 80  # far below what is refused
_WORDS = {"true": True, "false": False}
_ODD: Any = object()  # in place of a value that is not of the plainest kind


def plain_table(lines: list[str]) -> dict[str, Any] | None:
    """The table that the lines of a text hold, or None where any of them is not plain."""
    whole: dict[str, Any] = {}
    table = whole
    for line in lines:
        key, equals, text = line.partition("=")
        if equals and _is_key(key := key.strip(_BLANK)):
            value = _value(text.strip(_BLANK))
            if value is _ODD or key in table:
                return None
            table[key] = value
        elif line[:1] == "[":
            opened = _opened(line, whole)
            if opened is None:
                return None
            table = opened
        elif line.strip(_BLANK):
            return None
    return whole


def _opened(line: str, whole: dict[str, Any]) -> dict[str, Any] | None:
    """The table that ``[name]`` or ``[[name]]`` opens; None for any that is there already."""
    many = line[:2] == "[[" and line[-2:] == "]]"
    name = line[2:-2] if many else line[1:-1]
    if not _is_key(name) or not (many or line[-1] == "]"):
        return None
    table: dict[str, Any] = {}
    if not many:
        return table if whole.setdefault(name, table) is table else None
    entries = whole.setdefault(name, _Tables())
    if type(entries) is not _Tables:
        return None
    entries.append(table)
    return table


class _Tables(list[Any]):
    """Tables of one name, told apart from a list that is a value."""


def _is_key(word: str) -> bool:
    return len(word) <= _LONGEST_KEY and word.isascii() and word.replace("-", "_").isidentifier()


def _value(text: str) -> Any:
    """A value, or `_ODD`."""
    first, last = text[:1], text[-1:]
    if first == '"':
        inner = text[1:-1]
        plain = last == '"' and len(text) > 1 and '"' not in inner
        return inner if plain and "\\" not in inner and inner.isprintable() else _ODD
    if first == "{":
        key, _, inner = text[1:-1].partition("=")
        key = key.strip(_BLANK)
        value = _value(inner.strip(_BLANK)) if last == "}" and _is_key(key) else _ODD
        return _ODD if value is _ODD else {key: value}
    if first == "[":
        return _texts(text[1:-1]) if last == "]" and len(text) > 1 else _ODD
    return _WORDS[text] if text in _WORDS else _number(text)


def _texts(inner: str) -> Any:
    """A list of texts, or `_ODD`; ``inner``: what stands between the brackets."""
    pieces = inner.split('"')
    if "\\" in inner or not inner.isprintable() or len(pieces) % 2 == 0:
        return _ODD
    between = [piece.strip(_BLANK) for piece in pieces[::2]]
    if between[0] or between[-1] not in ("", ",") or any(b != "," for b in between[1:-1]):
        return _ODD
    return _ODD if len(pieces) == 1 and inner.strip(_BLANK) else pieces[1::2]


def _number(text: str) -> Any:
    """A whole number or a decimal fraction, or `_ODD`."""
    digits = text.removeprefix("-")
    whole, point, rest = digits.partition(".")
    if not digits.isascii() or len(digits) > _MOST_DIGITS or not whole.isdecimal():
        return _ODD
    if (whole[0] == "0" and len(whole) > 1) or (point and not rest.isdecimal()):
        return _ODD
    return float(text) if point else int(text)
