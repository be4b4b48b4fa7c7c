"""How many periods of its tone does the line sound while it stands on it?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import frequency, length, stand


@reading("bass-note", unit="periods", source="ISO 16, equal temperament")
def periods(chart: Chart) -> Column:
    """How many periods of its tone sound while the line stands on it: few are hardly a pitch."""
    bass, tempo = chart.bass, chart.song.tempo
    seconds = np.asarray(tempo.seconds(bass.end) - tempo.seconds(bass.start))
    longer = stand(chart) / np.maximum(length(chart), 1e-9)
    return np.asarray(seconds * longer * frequency(chart))
