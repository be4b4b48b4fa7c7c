"""Which fixes would the first round of mending write together, and into which bytes?

For what must not wait until the result is judged again, such as a page that offers the mended file.
"""

from __future__ import annotations

from basslint.judging.results import FileReport, Finding
from basslint.mending.conflicts import part
from basslint.mending.mend import Choice, _Judge, _length, _Round, _units, _written
from basslint.smf.scan import scan
from basslint.song.arrangement import build


def first_round(report: FileReport, choice: Choice) -> tuple[tuple[Finding, ...], bytes]:
    """The findings that are mended in the first round, and the file with that done.

    It is what `mend` writes before it judges the result; nothing is undone yet. ``report`` must be
    of a readable file.
    """
    assert report.chart is not None  # a readable file has one
    song = report.chart.song
    data = song.scan.data
    if song.scan.base:  # out of its RIFF wrapper, the data are the whole file
        song = build(scan(data))
    state = _Round(data=data, report=report, units=[], conflicts=[], why={}, faults=[])
    parted = part(_units(song, report.findings, choice, state))
    judge = _Judge(lambda _: report, _length(song.grid), len(report.findings))
    units, patched = _written(data, song, parted.free or parted.waiting, state, judge, False)
    return tuple(f for unit in units for f in unit.findings), patched
