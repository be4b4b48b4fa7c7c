"""Are words made for what is flagged, and the same as of any other row?"""

from __future__ import annotations

import numpy as np
import pytest
from bench.arrangements import arrangement

from basslint.checking.book import book_for
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.judging.judge import judge
from basslint.readings import base
from basslint.readings.columns import Columns
from basslint.settings.model import Settings
from basslint.smf.scan import scan
from basslint.song.arrangement import build

TOLD = [name for name, reading in base.registered("bass-note").items() if reading.of_rows]


def _chart() -> Chart:
    return Chart(build(scan(arrangement(8000))), Facts(root_key=37, sound_pitch=25.0))


def test_some_bass_notes_are_told_row_by_row() -> None:
    assert {"slip_words", "harmony_words", "note_name", "held"} <= set(TOLD)


@pytest.mark.parametrize("name", TOLD)
def test_rows_are_told_as_in_the_whole_column(name: str) -> None:
    chart = _chart()
    whole = base.registered("bass-note")[name].column(chart)
    rows = np.arange(len(chart.bass))[::-1][:-1]
    assert len(set(whole[rows])) > 1 or name == "figure_words"
    assert Columns(chart).of_rows("bass-note", name, rows).tolist() == whole[rows].tolist()


def test_words_are_made_for_hits_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []
    known = base.registered("bass-note")["slip_words"]
    assert known.of_rows is not None
    make = known.of_rows

    def spy(chart: Chart, rows: np.ndarray) -> base.Column:
        asked.append(len(rows))
        return make(chart, rows)

    spied = base.Reading(
        name=known.name,
        of=known.of,
        unit=known.unit,
        source="none",
        column=known.column,
        of_rows=spy,
    )
    monkeypatch.setitem(base.registered("bass-note"), "slip_words", spied)
    chart = Chart(build(scan(arrangement(8000))), Facts())
    found = judge(chart, [r for r in book_for(Settings()) if r.name == "off-root"]).findings
    assert asked == [len(found)] and 0 < len(found) < len(chart.bass)
