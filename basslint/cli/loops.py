"""What does the command line state about a loop of sound?"""

from __future__ import annotations

import re
from argparse import Namespace

from basslint.audio.bars import LEAST_BPM, MOST_BPM, Stated
from basslint.errors import UsageError
from basslint.settings.loops import parse_begins

_METER = re.compile(r"\s*(\d{1,2})\s*/\s*(1|2|4|8|16)\s*")


def stated_loop(args: Namespace) -> Stated:
    """``--bpm``, ``--bars``, ``--meter`` and ``--begins``. Raises `UsageError`."""
    bpm = args.bpm
    if bpm is not None and not LEAST_BPM <= bpm <= MOST_BPM:
        raise UsageError(
            f"--bpm: {bpm:g} is no tempo of a loop.",
            f"Write quarter notes per minute from {LEAST_BPM:g} to {MOST_BPM:g}.",
        )
    seconds, beats = parse_begins(args.begins, "--begins") if args.begins else (None, None)
    meter = parse_meter(args.meter, "--meter") if args.meter else (4, 4)
    return Stated(bpm=bpm, bars=args.bars, begins_s=seconds, begins_beats=beats, meter=meter)


def parse_meter(text: str, where: str) -> tuple[int, int]:
    """Read ``6/8``. Raises `UsageError`."""
    found = _METER.fullmatch(text)
    if found is None or int(found[1]) < 1:
        raise UsageError(f"{where}: “{text}” is no meter.", "Write one like 4/4 or 6/8.")
    return int(found[1]), int(found[2])
