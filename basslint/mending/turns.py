"""How often may a song be judged, and written to see whether it can be, while it is mended?"""

from __future__ import annotations

from collections.abc import Callable

from basslint.judging.results import FileReport
from basslint.song.timing import BarGrid
from basslint.util.records import replace

Recheck = Callable[[bytes], FileReport]

# Of 929 real files none was judged or written more than 9 times, 676 bars and 1,760 findings were
# the most over all turns of one file, 2,464 findings over all writes; an overture for orchestra, of
# 422 bars, is judged 11 times. Two turns are had by every file.
MOST_TURNS, MOST_BARS, MOST_FINDINGS = 16, 4_700, 10_000
MOST_WRITES, MOST_WRITTEN = 36, 20_000
MOST_WRITES_IN_A_ROW = 12
IN_A_CIRCLE = "its fix brings back what another fix mended"
NOT_REACHED = (
    "its fix was not tried to the end, since mending took too many turns; "
    "mend for this rule alone, or mend the copy again"
)


class Turns:
    """Judges the same bytes once, and not for ever: what one round gave up, the next one often
    asks about again.

    ``left``: how often a song may still be judged; ``writes``: and written; ``stood``: the bytes
    with which a round began, to which no fix leads back.
    """

    def __init__(
        self, recheck: Recheck, brief: Recheck | None, grid: BarGrid, findings: int
    ) -> None:
        self.recheck, self.brief = recheck, brief
        bars = _length(grid)
        turns = min(MOST_TURNS, MOST_BARS // max(bars, 1), MOST_FINDINGS // max(findings, 1))
        self.left = max(turns, 2) - 1  # one is behind us
        self.writes = writes_for(findings)
        self.stood: set[bytes] = set()
        self._seen: dict[bytes, FileReport] = {}

    def report(self, data: bytes) -> FileReport | None:
        """What is found in these bytes, in brief; None where the song was judged often enough."""
        seen = self._seen.get(data)
        if seen is not None:
            return seen
        if not self.left:
            return None
        self.left -= 1
        report = (self.brief or self.recheck)(data)
        self._seen[data] = replace(report, chart=None)  # by far the largest part of a report
        return report

    def in_full(self, data: bytes, report: FileReport) -> FileReport:
        """The same with its chart and with the fixes of the next round."""
        whole = self.brief is None and report.chart is not None
        return report if whole else self.recheck(data)


def writes_for(findings: int) -> int:
    """How often a song with so many findings may be written."""
    return max(min(MOST_WRITES, MOST_WRITTEN // max(findings, 1)), 2)


def _length(grid: BarGrid) -> int:
    """Bars; long ones count as often as four quarters go into them, which take as long to judge."""
    return max(grid.bars, int(grid.start[-1]) // (4 * grid.division))
