"""What does a guide track hold, and which roots were left out of it?"""

from __future__ import annotations

from basslint.audition.guide import Guide
from basslint.hear.chart import Chart
from basslint.report.drawing import marks

MOST_LISTED = 8


def guide_words(chart: Chart, guide: Guide) -> str:
    """How many roots were handed on, and the places of those that are not sure enough."""
    roots, grid = chart.roots, chart.song.grid
    held = f"{marks.counted(guide.notes, 'root')} held"
    if not guide.left_out:
        return f"{held}."
    places = []
    for row in guide.left_out[:MOST_LISTED]:
        start = int(roots.start[row])
        name = marks.chord_at(roots, row, chart.spelling_at(start))
        place = (
            f"bar {int(grid.bar_of(start)) + 1}, beat {marks.number(float(grid.beat_of(start)))}"
        )
        places.append(f"{place} ({name}, {marks.percent(float(roots.certainty[row]))} sure)")
    more = len(guide.left_out) - len(places)
    listed = "; ".join(places) + (f"; and {more} more" if more else "")
    return f"{held}; not sure enough and left out: {listed}."
