"""What is true of a bass part that lies a constant time off the drums?"""

from __future__ import annotations

import numpy as np

from basslint.hear.chart import Chart
from basslint.readings.base import Column, reading
from basslint.readings.notes import words


@reading("lag", unit="ms")
def lag_ms(chart: Chart) -> Column:
    """How far the part lies behind the drums; negative: before them."""
    return np.round(chart.lags.seconds * 1000.0)


@reading("lag", unit="ms")
def lag_size(chart: Chart) -> Column:
    """How far the part lies off the drums, whichever way."""
    return np.abs(lag_ms(chart))


@reading("lag", unit="share")
def lag_share(chart: Chart) -> Column:
    """Share of its onsets near drum hits that lie off by just that much."""
    return np.minimum(chart.lags.share, 1.0)


@reading("lag", unit="text")
def lag_side(chart: Chart) -> Column:
    """Which way it lies off: behind or before."""
    return words(["behind" if s > 0 else "before" for s in chart.lags.seconds.tolist()])


@reading("lag", unit="text")
def lag_part(chart: Chart) -> Column:
    """The name of its part."""
    return words([chart.song.parts[p].name for p in chart.lags.part.tolist()])
