"""How often a song is judged while it is mended hangs on its length, not on how it counts bars."""

from __future__ import annotations

import pytest
from made_up_judges import counted, judge, never, turn
from midi_bytes import midi, track

from basslint.mending.mend import mend
from basslint.mending.turns import MOST_BARS


@pytest.mark.parametrize("numerator", [4, 255])
def test_few_long_bars_are_as_dear_as_many_short_ones(numerator: int) -> None:
    """Twelve bars of 255 whole notes took a second to mend: found by `tests/bench/mutate.py`."""
    meter = bytes((0xFF, 0x58, 4, numerator, 2 if numerator == 4 else 0, 24, 8))
    length = 4 * 480 * (MOST_BARS // 3 + 1)  # two turns
    first = [(0, bytes((0x90, 41, 100))), (480, bytes((0x80, 41, 64)))]
    last = [(length, bytes((0x90, 36, 100))), (480, bytes((0x80, 36, 64)))]
    recheck, asked = counted(judge(wrong=turn(41, 40), good=turn(36, 38), fresh=never(40)))
    mend(midi(track((0, meter), *first, *last)), recheck)
    assert len(asked) == 2
