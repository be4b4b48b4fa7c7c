"""What has the listener to put up with in a loop, in plain sentences?"""

from __future__ import annotations

from basslint.audio.bars import Bars
from basslint.audio.left_over import LeftOver
from basslint.audio.loop import HARMONY_HEARD, HeardLoop
from basslint.audio.tuning import other_reading

_NO_HARMONY = 0.25  # mean weight of what sounds below which a loop holds no notes
_UNSURE = 0.05  # chance of the other reading of the tuning from which it is told


def loop_remarks(heard: HeardLoop, in_song: bool = False) -> tuple[str, ...]:
    """Sentences on the file, its bars, its tuning, and on what could not be heard.

    ``in_song``: it plays in a song, and what is to be stated stands in settings.
    """
    found = list(heard.sound.remarks)
    bars = heard.bars
    if heard.tonality.notes.mean() < _NO_HARMONY:
        found.append("No harmony is heard: drums, noise or speech have no root.")
    elif (heard.tonality.weight < HARMONY_HEARD).all():
        found.append("One note at a time sounds: that makes no chord, so no roots are told.")
    elif heard.left is not None:
        found.append(_left_over(heard.left, bars, in_song))
    elif heard.off_s is not None:
        side = "after" if heard.off_s > 0 else "before"
        found.append(
            f"The loop does not seem to begin here: its strokes lie {abs(heard.off_s) * 1000:.0f} "
            f"ms {side} the grid, so no roots are told. State where it begins, or its tempo."
        )
    if other_reading(heard.tuning) > _UNSURE and heard.tonality.notes.mean() >= _NO_HARMONY:
        side = "sharp" if heard.tuning.cents > 0 else "flat"
        found.append(
            f"It stands {abs(heard.tuning.cents):.0f} cents {side}, near a quarter tone: every "
            "root may be a semitone further on, and is told with that doubt."
        )
    if bars.tempo_heard:
        found.append(
            f"The tempo, {bars.bpm:.1f} bpm, is a guess from its length and strokes; state it with "
            "--bpm."
        )
    rest = heard.sound.duration_s - bars.end_s
    if not bars.cut and heard.left is None and rest > bars.bar_s / 2:
        found.append(f"{rest:.2f} s after the last of its bars are not looked at.")
    return tuple(found)


def _left_over(left: LeftOver, bars: Bars, in_song: bool) -> str:
    """By how much a loop misses whole bars, which would fit, and what to state."""
    count = f"{bars.bars} bar{'s' if bars.bars != 1 else ''}"
    said = (
        f"It is no whole number of bars at {bars.bpm:.1f} bpm: after {count} its music goes on for "
        f"{left.seconds:.2f} s ({left.seconds / bars.bar_s:.2f} bars), so no roots are told."
    )
    if not in_song and (bars.tempo_heard or left.bpm is None):
        return f"{said} State its tempo or its length: --bpm, --bars."
    if not in_song:
        return f"{said} Its length fits --bpm {left.bpm:.1f} --bars {left.bars}."
    if left.bars is None or left.bpm is None:
        return f"{said} Name another loop, or state its length as `bars` under [[loop]]."
    return (
        f"{said} Its length fits {left.bpm:.1f} bpm, with bars = {left.bars}: state that under "
        "[[loop]] if the sampler fits it to the song, else name another loop."
    )
