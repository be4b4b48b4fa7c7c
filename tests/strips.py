"""The lines of a drawn strip, by their label."""

from __future__ import annotations

from basslint.report.drawing.look import Look
from basslint.report.drawing.strip import finding_strip

WIDE = Look(80)


def strip(chart, found, look=WIDE):
    """The lines of a strip by their label, each as (drawn cells, label with its mark)."""
    rows = finding_strip(chart, found, look)
    lines = {}
    for row in rows:
        label = row.segments[0].text
        lines[label.split()[-1]] = (row.text[len(label) :], label.strip())
    return lines, rows
