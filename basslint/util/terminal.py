"""How wide is the terminal, and where do sentences break on it?"""

from __future__ import annotations

import os
import re
import sys
from typing import TextIO

USUAL_COLUMNS = 80  # of what does not say how wide it is
_SET_OFF = re.compile(r" +\S.*?\S {2,}")  # `  command   ` in front of what it does


def columns(stream: TextIO | None = None) -> int:
    """Columns as COLUMNS has them, else as the terminal behind a stream (standard output) has them.

    What `shutil.get_terminal_size` says, without the compressors that are imported with it.
    """
    try:
        named = int(os.environ.get("COLUMNS", "0"))
    except ValueError:
        named = 0
    if named > 0:
        return named
    try:
        shown = stream or sys.__stdout__
        return os.get_terminal_size(shown.fileno()).columns or USUAL_COLUMNS  # type: ignore[union-attr]
    except (AttributeError, ValueError, OSError):  # closed, or no terminal
        return USUAL_COLUMNS


def broken_at_words(text: str, width: int) -> str:
    """A text in lines of at most ``width`` columns, broken at spaces; a longer word stays whole.

    What goes on below a line that sets off its first words by spaces stands under what they say.
    """
    import textwrap  # of use to those alone who are told something on a terminal

    lines = []
    for line in text.split("\n"):
        column = _SET_OFF.match(line)
        indent = len(line) - len(line.lstrip())
        hang = column.end() if column and 2 * column.end() <= width else 2 * indent
        lines += textwrap.wrap(
            line,
            width,
            subsequent_indent=" " * hang,
            break_long_words=False,
            break_on_hyphens=False,
        ) or [""]
    return "\n".join(lines)
