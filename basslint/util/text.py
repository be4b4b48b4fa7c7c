"""How is a text from a file shown, so that it can do nothing but be read?"""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Iterable

LONGEST_NAME = 120
LONGEST_PATH = 4096

_BIDI = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def visible(raw: bytes | str, longest: int = LONGEST_NAME) -> str:
    """Decode a name and make everything that a terminal could obey visible.

    UTF-8 where it is valid, Latin-1 otherwise (RP-001 names no encoding). Control characters,
    line breaks, direction marks and unassigned code points become ``\\xNN`` or ``\\uNNNN``; texts
    over ``longest`` characters are cut with an ellipsis.
    """
    if isinstance(raw, bytes):
        raw = raw[: 4 * longest + 4]
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError:
            text = raw.decode("latin-1")
    else:
        text = raw
    text = text.strip(" \x00")
    shown = text[: longest + 1]
    if not (shown.isascii() and shown.isprintable()):  # most names are
        shown = "".join(_shown(c) for c in shown)
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"


def harmless(text: str) -> str:
    """A text of whole sentences with everything visible that a terminal could obey; line ends are
    kept, nothing is cut."""
    if text.isascii() and text.replace("\n", "").isprintable():
        return text
    return "".join(c if c == "\n" else _shown(c) for c in text)


def nearest(word: str, known: Iterable[str], alike: float = 0.6) -> str:
    """The known word most like another one, empty where none is: ``alike`` at least, 0..1."""
    import difflib  # of use to those alone who have mistyped something

    return next(iter(difflib.get_close_matches(word, list(known), n=1, cutoff=alike)), "")


def whole(text: str, most: int = 10**9) -> int | None:
    """A whole number from 0 to ``most``, as ASCII digits and spaces around them; else None.

    Not `str.isdigit`: it says yes to “²”, and thousands of digits are no number to Python.
    """
    digits = text.strip(" ")
    if not (digits.isascii() and digits.isdigit()) or len(digits) > len(str(most)):
        return None
    number = int(digits)
    return number if number <= most else None


def _shown(char: str) -> str:
    if char.isprintable() and char not in _BIDI:
        return char
    if unicodedata.category(char) == "Zs":
        return " "
    code = ord(char)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def shell_word(path: str) -> str:
    """A path as one word of a command to type: in quotes where the system's shell needs them."""
    if os.name != "nt":
        import shlex  # for pages alone

        return shlex.quote(path)
    plain = all(c.isalnum() or c in "_-.:\\/" for c in path)
    return path if plain and path else f'"{path}"'  # no name there holds a double quote
