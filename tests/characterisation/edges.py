"""Songs that stand on the edges of what is heard, which made-up and real music seldom does.

Each comes once on either side of an edge; what is true of them is tested in ``tests/hear``.
"""

from __future__ import annotations

from collections.abc import Sequence

from slide_songs import bend_range, midi_of, note, wheel

from basslint.rulebook.notation import compile_beat

_LOOP = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C4+E4+G4:4 | G3+B3+D4:4 |*4\n"
_SUB = "sub | A1:4 | F1:4 | C2:4 | G1:4 |*4\n"


def edges() -> dict[str, bytes]:
    """The songs by name."""
    return {
        **{f"edge roll {n} of 20 on the snare": _kit_roll(n) for n in (13, 14, 18)},
        **{
            f"edge markers {' '.join(map(str, bars))}": _marked(bars)
            for bars in ((1, 2, 9), (1, 2, 3, 9), (1, 2, 3, 5, 6))
        },
        **{f"edge ramp {ticks} ticks after rest": _ramp(ticks) for ticks in (30, 31, 36)},
        **{f"edge low grace of {ticks} ticks": _low_grace(ticks) for ticks in (20, 35, 37)},
    }


def _kit_roll(snare: int) -> bytes:
    """Twenty hits, so many on the snare, the last ones on a tom."""
    roll = f"C2:1.5 D2:1/8x{snare} A2:1/8x{20 - snare}"
    line = "C2:1 D2:1 C2:1 D2:1"
    drums = f"drums | {line} |*7 | {roll} || {line} |*8\n"
    return compile_beat(_LOOP + _SUB + drums).data


def _marked(bars: Sequence[int]) -> bytes:
    """Sections, or words that stand as close as chord names."""
    return compile_beat("".join(f"marker {b} part {b}\n" for b in bars) + _LOOP + _SUB).data


def _ramp(ahead: int) -> bytes:
    """A ramp with an event every 20 ticks, and one at rest some ticks before the first."""
    events = [wheel(480 + 20 * k, 1000 * (k + 1)) for k in range(6)]
    low = [*note(0, 1920, 33), *bend_range(0, 12), wheel(480 - ahead, 0), *events]
    return midi_of(low, [*note(0, 1920, 69, 2), *note(0, 1920, 72, 2), *note(0, 1920, 76, 2)])


def _low_grace(ticks: int) -> bytes:
    """A short low note under a chord of two, in the middle of an eighth of 240 ticks, each bar."""
    low = f".:{480 + 96}/480 A3:{ticks}/480 .:{3 * 480 - 96 - ticks}/480"
    return compile_beat(f"keys | C4+E4:4 |*8\npiano | {low} |*8\n" + _SUB).data
