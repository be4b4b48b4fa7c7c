"""How does one finding sound as written, and how once mended?"""

from __future__ import annotations

from dataclasses import dataclass

from basslint.audition.excerpt import Excerpt, excerpt
from basslint.errors import BasslintError
from basslint.hear.chart import Chart
from basslint.judging.results import Finding
from basslint.mending.patch import patch
from basslint.smf.scan import scan
from basslint.song.arrangement import build


@dataclass(frozen=True, slots=True)
class Comparison:
    """The same bars twice; ``mended`` is None where the finding has no fix to be heard."""

    written: Excerpt
    mended: Excerpt | None


def compare(chart: Chart, finding: Finding) -> Comparison:
    """Excerpts around a finding, before and after its own fix alone."""
    written = excerpt(chart, finding.where)
    if finding.fix is None:
        return Comparison(written, None)
    try:
        data = chart.song.scan.data
        song = chart.song if chart.song.scan.base == 0 else build(scan(data))
        after = Chart(build(scan(patch(data, song, finding.fix.edits))), chart.facts, chart.path)
        after = after.with_parts_of(chart)
    except BasslintError:  # a fix that cannot be written is offered in words alone
        return Comparison(written, None)
    return Comparison(written, excerpt(after, finding.where))
