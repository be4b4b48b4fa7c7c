"""What does a guide track hold, and which roots were left out of it?"""

from __future__ import annotations

from collections.abc import Callable

from basslint.audio.answers import loop_keys, loop_roots
from basslint.audio.loop import HeardLoop
from basslint.audition.guide import Guide
from basslint.hear.chart import Chart
from basslint.hear.harmony.sources import Roots
from basslint.report.drawing import marks
from basslint.report.formats.loop_json import names_at
from basslint.song.timing import BarGrid

MOST_LISTED = 8


def guide_words(chart: Chart, guide: Guide) -> str:
    """How many roots were handed on, and where roots were not sure enough."""
    roots = chart.roots

    def name(row: int) -> str:
        return marks.chord_at(roots, row, chart.spelling_at(int(roots.start[row])))

    return _words(roots, chart.song.grid, guide, name)


def loop_guide_words(heard: HeardLoop, guide: Guide) -> str:
    """The same of a loop of sound."""
    roots = loop_roots(heard)
    keys = loop_keys(heard, roots)

    def name(row: int) -> str:
        return names_at(keys, int(roots.start[row]))[int(roots.root[row])]

    return _words(roots, heard.grid, guide, name)


def _words(roots: Roots, grid: BarGrid, guide: Guide, name: Callable[[int], str]) -> str:
    held = f"{marks.counted(guide.notes, 'root')} held"
    if not guide.left_out:
        return f"{held}."
    places = []
    for row in guide.left_out[:MOST_LISTED]:
        start = int(roots.start[row])
        place = marks.spot(int(grid.bar_of(start)) + 1, float(grid.beat_of(start)))
        places.append(f"{place} ({name(row)}, {marks.percent(float(roots.certainty[row]))} sure)")
    more = len(guide.left_out) - len(places)
    listed = "; ".join(places) + (f"; and {more} more" if more else "")
    return f"{held}; not sure enough and left out: {listed}."
