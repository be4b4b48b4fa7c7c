"""Which fixes would the first round of mending write together, and into which bytes?

For what must not wait until the result is judged again, such as a page that offers the mended file.
"""

from __future__ import annotations

from basslint.judging.results import FileReport, Finding
from basslint.mending.account import Choice
from basslint.mending.bare import bare_song
from basslint.mending.conflicts import part
from basslint.mending.turns import writes_for
from basslint.mending.units import units_of
from basslint.mending.writing import write_together
from basslint.song.arrangement import Song


def first_round(report: FileReport, choice: Choice) -> tuple[tuple[Finding, ...], Song]:
    """The findings that are mended in the first round, and the song with that done.

    It is what `mend` writes before it judges the result; nothing is undone yet. ``report`` must be
    of a readable file. The bytes of the song are those of the file, out of a RIFF wrapper.
    """
    assert report.chart is not None  # a readable file has one
    song, findings = bare_song(report.chart.song), report.findings
    data = song.scan.data
    units, _ = units_of(song, findings, choice)
    parted = part(units, findings)
    written = write_together(data, song, parted.free or parted.waiting, writes_for(len(findings)))
    return tuple(findings[row] for unit in written.units for row in unit.findings), written.song
