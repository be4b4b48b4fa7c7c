"""Was the main job done: of how many bars were the roots judged, and where did they come from?

A report that finds nothing must mean that something was looked at.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from basslint.hear.chart import Chart
from basslint.hear.harmony.sources import SOURCES, STATED, Source
from basslint.hear.memo import once_per_chart
from basslint.readings.base import rows_of
from basslint.readings.needs import FACTS
from basslint.util.columns import distinct
from basslint.util.records import record

_MOST_NAMES = 4  # of parts in the head of a report; the chart lists them all
_FIT = FACTS["fit"]  # what the rule of roots leans on


@record(kw_only=True)
class Coverage:
    """In how many bars the bass plays (``bars``), and in how many of them a note of it could be
    held against a root (``judged``). ``sources`` of the roots in the song, in the order of
    `SOURCES`; ``parts``: names of the parts among them; empty ``sources``: no harmony is known.
    ``bass``: whether a bass is. ``loop``: whether a loop was given.
    """

    bars: int
    judged: int
    sources: tuple[Source, ...]
    parts: tuple[str, ...]
    bass: bool
    loop: bool = False

    @property
    def words(self) -> str:
        """What was judged, in words; empty where there is no bass to judge."""
        if not self.bass:
            return ""
        if not self.sources:
            if self.loop:
                return "no root told in the loop: roots not judged; state them with --chords"
            how = "state them with --chords or give the loop with --loop"
            return f"no harmony: roots not judged; {how}"
        return f"roots {self._origin()}, {self.judged} of {self.bars} bars"

    def _origin(self) -> str:
        named = {
            "stated": "as stated",
            "midi": f"from {_in_short(self.parts)} (MIDI)",
            "loop": "from the loop",
        }
        return " and ".join(named[s] for s in named if s in self.sources)

    def lacks(self, most_unjudged: float) -> str:
        """Why a strict run fails, in words; empty where enough was judged."""
        if not self.bass:
            return "no bass part was found, so no bass was judged; name it with --bass"
        if not self.bars:
            return "the bass plays nothing, so no root was judged"
        if not self.sources:
            how = "--chords" if self.loop else "--chords or --loop"
            return f"no harmony is known, so no root was judged; state it with {how}"
        unjudged = self.bars - self.judged
        if unjudged > most_unjudged * self.bars:
            return (
                f"the roots of {unjudged} of {self.bars} bars were not judged, more than "
                f"{most_unjudged:.0%} of them; state the harmony with --chords or --harmony"
            )
        return ""


def _in_short(names: tuple[str, ...]) -> str:
    """Names of parts, each once with how often it stands there, the last of many counted."""
    each = [f"{name} ×{n}" if n > 1 else name for name, n in Counter(names).items()]
    if len(each) > _MOST_NAMES + 1:  # one more needs no more room than to be counted
        each = [*each[:_MOST_NAMES], f"{len(each) - _MOST_NAMES} more"]
    return ", ".join(each)


@once_per_chart
def coverage(chart: Chart) -> Coverage:
    """What of the bass of a song could be judged against its harmony."""
    rooted = np.flatnonzero(chart.roots.root >= 0)
    sources = {SOURCES[s] for s in distinct(chart.roots.source[rooted]).tolist()}
    # the user may state that nothing sounds anywhere: that is a statement all the same
    if len(chart.roots) and not sources and (chart.roots.source == STATED).all():
        sources = {"stated"}
    bars = judged = 0
    if len(chart.bass):
        certainty = _FIT.ground(chart, rows_of(chart, "bass-note"), {}).certainty
        bar = chart.song.grid.bar_of(chart.bass.start)
        bars = len(distinct(bar))
        sure = certainty >= _FIT.least
        if chart.loops is not None:  # under a loop the rule of roots leans on what sounds in it
            from basslint.readings.over_loop import clear_over_loop

            of_loop, clear = clear_over_loop(chart)
            sure = np.where(of_loop, clear, sure)
        judged = len(distinct(bar[sure]))
    return Coverage(
        bars=bars,
        judged=judged,
        sources=tuple(s for s in SOURCES if s in sources),
        parts=tuple(chart.song.parts[i].name for i in chart.parts.harmony),
        bass=bool(chart.parts.bass),
        loop=bool(chart.facts.loops),
    )
