"""How do drawings come out, and what do their marks mean?"""

from __future__ import annotations

from basslint.report.drawing import marks
from basslint.util.records import record


@record
class Look:
    """How drawings come out: ``width`` in columns, Unicode or ASCII, octave printed for MIDI 60."""

    width: int = 80
    unicode: bool = True
    middle_c: int = 4


def legend(look: Look) -> tuple[str, ...]:
    """The marks of a strip in words."""
    u = look.unicode
    return (
        f"{marks.ONSET_WRITTEN.drawn(u)}{marks.BODY_WRITTEN.drawn(u) * 2} as written",
        f"{marks.ONSET_MENDED.drawn(u)}{marks.BODY_MENDED.drawn(u) * 2} as mended",
        f"{marks.ONSET.drawn(u)}{marks.BODY.drawn(u) * 2} stays",
        f"{marks.RISE.drawn(u)}{marks.FALL.drawn(u)} slide",
        f"{marks.HITS.drawn(u)} several hits",
    )
