"""How wide is the terminal?"""

from __future__ import annotations

import os
import sys

USUAL_COLUMNS = 80  # of what does not say how wide it is


def columns() -> int:
    """Columns as COLUMNS has them, else as the terminal has them.

    What `shutil.get_terminal_size` says, without the compressors that are imported with it.
    """
    try:
        named = int(os.environ.get("COLUMNS", "0"))
    except ValueError:
        named = 0
    if named > 0:
        return named
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns or USUAL_COLUMNS  # type: ignore[union-attr]
    except (AttributeError, ValueError, OSError):  # closed, or no terminal
        return USUAL_COLUMNS
