"""Which bars does a line of the notation hold?"""

from __future__ import annotations

import re


def split_bars(text: str, most: int) -> list[str]:
    """Split ``| a | b |*2`` into bars, repeats written out.

    Raises `ValueError` where no bar line begins it, or where it has more than ``most`` bars.
    """
    bars: list[str] = []
    loop = 0
    if not text.startswith("|"):
        raise ValueError("bars stand between | signs")
    for piece in text[1:].split("|"):
        times = re.match(r"^\*(\d+)", piece.strip())
        if times:
            if (len(bars) - loop) * int(times[1]) > most:
                raise ValueError(f"more than {most} bars")
            bars += bars[loop:] * (int(times[1]) - 1)
            piece = piece.strip()[times.end() :]
            loop = len(bars)
        elif not piece and bars:
            loop = len(bars)
            continue
        if piece.strip():
            bars.append(piece.strip())
        if len(bars) > most:
            raise ValueError(f"more than {most} bars")
    return bars
