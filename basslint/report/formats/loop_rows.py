"""A heard loop as rows in seconds and beats, as the text and the JSON of it show them."""

from __future__ import annotations

from basslint.audio.answers import glide_roots
from basslint.audio.loop import TICKS, HeardLoop
from basslint.util.records import record


@record
class Span:
    """A stretch of a loop: seconds of the file, and beats counted from 1 at its first bar line."""

    start_s: float
    end_s: float
    start_beat: float
    end_beat: float


@record
class Glide:
    """A stretch in which the chord moves; pitch classes of the roots, None where not told."""

    span: Span
    from_pc: int | None
    to_pc: int | None


def spans(heard: HeardLoop, start_tick: int, end_tick: int) -> list[Span]:
    """A stretch of ticks; two spans where it passes the end of a file with a pickup.

    What is heard after the end of a loop that is cut to its bars stands at its beginning.
    """
    bars, length = heard.bars, heard.sound.duration_s
    unit = TICKS * 4 / bars.meter[1]
    begin, end = start_tick / unit, end_tick / unit  # beats from 0
    whole = Span(
        bars.begins_s + begin * bars.beat_s, bars.begins_s + end * bars.beat_s, begin + 1, end + 1
    )
    if not bars.cut or whole.end_s <= length + 1e-6:
        return [whole]
    if whole.start_s >= length - 1e-6:
        return [Span(whole.start_s - length, whole.end_s - length, begin + 1, end + 1)]
    seam = (length - bars.begins_s) / bars.beat_s
    return [
        Span(whole.start_s, length, begin + 1, seam + 1),
        Span(0.0, whole.end_s - length, seam + 1, end + 1),
    ]


def glides(heard: HeardLoop) -> list[Glide]:
    """Where the loop glides, and between which roots."""
    edges = heard.segments.edges
    found = []
    ends = zip(heard.glides.start.tolist(), heard.glides.end.tolist(), strict=True)
    for (begin, end), (before, after) in zip(ends, glide_roots(heard), strict=True):
        roots = before if before >= 0 else None, after if after >= 0 else None
        found += [Glide(span, *roots) for span in spans(heard, int(edges[begin]), int(edges[end]))]
    return found
