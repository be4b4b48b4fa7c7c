"""How well does the ear hear? One table against labelled music, with song-bootstrap intervals.

Run as ``python tests/bench/hearing.py DATA [STEP]`` (every STEP-th song of the chord set). DATA is
the folder with pop-chords, pop-phrases and game-parts; where it is not, this says so and ends. All
truth is stripped from the bytes before the tool sees them.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import hearing_parts
import hearing_pattern
import hearing_phrases
import hearing_roots
from hearing_parts import Row

SETS = ("pop-chords", "pop-phrases", "game-parts")


def sections(data: Path, step: int) -> Iterator[tuple[str, Callable[[], list[Row]]]]:
    """The parts of the table, each measured when its turn comes."""
    yield "roots and keys", lambda: list(hearing_roots.rows(data, step))
    yield "parts", lambda: list(hearing_parts.rows(data))
    yield "phrases", lambda: list(hearing_phrases.rows(data))
    yield "patterns", lambda: list(hearing_pattern.rows(data))


def main(words: list[str]) -> int:
    """Print the table; exit code 2 where there is nothing to measure on."""
    data = Path(words[0]) if words else Path("data")
    missing = [name for name in SETS if not (data / name).is_dir()]
    if missing:
        print(f"{data} has no {', '.join(missing)}: nothing was measured. Name the data folder.")
        return 2
    step = int(words[1]) if len(words) > 1 else 1
    for title, measure in sections(data, step):
        print(f"\n{title}")
        for row in measure():
            span = f"{row.low:.3f}–{row.high:.3f}"
            print(f"  {row.what:66} {row.value:7.3f}  {span:13}  n={row.songs:<4} {row.target}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
