"""The weights of the evidence for a slip, as `tests/bench/slips.py` fitted them on real songs.

Each row: the reading, its weight in log odds, and its mean over bass notes (for figures: over
figures) as people wrote them, from which evidence counts when it is told in words. All values are
scaled as `slip.EVIDENCE` says.
"""

from __future__ import annotations

from basslint.util.records import record


@record
class Model:
    """A logistic model: log odds = ``intercept`` + the sum of weight × evidence."""

    intercept: float
    weights: tuple[tuple[str, float, float], ...]


# Measured, cross-validated by song:
# 345 songs, 27,352 bars, 156,577 bass notes
# LONE at 0.05 per 100 bars (chance 0.78): clear 0.69, loose 0.37, wide 0.35
# LONE at 0.1 per 100 bars (chance 0.57): clear 0.83, loose 0.53, wide 0.50
# LONE at 0.15 per 100 bars (chance 0.50): clear 0.86, loose 0.57, wide 0.54
# LONE at 0.2 per 100 bars (chance 0.41): clear 0.90, loose 0.63, wide 0.59
# LONE at 0.3 per 100 bars (chance 0.30): clear 0.94, loose 0.70, wide 0.66
# LONE at 0.5 per 100 bars (chance 0.18): clear 0.97, loose 0.78, wide 0.72
# LONE chances of 0.05 to 0.1, 0.07 on average, came true in 0.07
# LONE chances of 0.1 to 0.3, 0.17 on average, came true in 0.17
# LONE chances of 0.3 to 0.5, 0.39 on average, came true in 0.45
# LONE chances of 0.5 to 0.7, 0.59 on average, came true in 0.57
# LONE chances of 0.7 to 0.9, 0.81 on average, came true in 0.81
# LONE chances of 0.9 to 1.0, 0.96 on average, came true in 0.95
# FIGURE at 0.05 per 100 bars (chance 0.76): pasted 0.71
# FIGURE at 0.1 per 100 bars (chance 0.47): pasted 0.82
# FIGURE at 0.15 per 100 bars (chance 0.33): pasted 0.85
# FIGURE at 0.2 per 100 bars (chance 0.24): pasted 0.86
# FIGURE at 0.3 per 100 bars (chance 0.18): pasted 0.88
# FIGURE at 0.5 per 100 bars (chance 0.06): pasted 0.91
# FIGURE chances of 0.05 to 0.1, 0.07 on average, came true in 0.08
# FIGURE chances of 0.1 to 0.3, 0.18 on average, came true in 0.16
# FIGURE chances of 0.3 to 0.5, 0.39 on average, came true in 0.37
# FIGURE chances of 0.5 to 0.7, 0.61 on average, came true in 0.83
# FIGURE chances of 0.7 to 0.9, 0.81 on average, came true in 0.75
# FIGURE chances of 0.9 to 1.0, 0.97 on average, came true in 0.98
LONE = Model(
    -4.421,
    (
        ("supported", -8.201, 0.789),
        ("copies_alike", -1.137, 3.436),
        ("copies_otherwise", 0.245, 0.032),
        ("semitone_in_copies", 1.970, 0.093),
        ("rub_share", 3.343, 0.114),
        ("stand", 0.949, 0.256),
        ("accent", 0.425, 0.905),
        ("struck_again", -0.379, 2.602),
        ("reached_by_step", -0.879, 0.179),
        ("leads_on", -0.246, 0.154),
        ("led_alike", -0.389, 0.045),
        ("stands_alone", -2.764, 0.032),
        ("bar_unsupported", -1.457, 0.129),
        ("tone_in_song", -0.332, 0.739),
        ("in_scale_chance", -1.753, 0.947),
    ),
)

FIGURE = Model(
    -3.012,
    (
        ("supported", -5.521, 0.732),
        ("rub_share", 5.174, 0.154),
        ("stand", 1.196, 0.451),
        ("accent", 0.642, 1.098),
        ("struck_again", -0.401, 1.590),
        ("reached_by_step", -1.016, 0.305),
        ("leads_on", -0.377, 0.262),
        ("led_alike", -0.372, 0.086),
        ("stands_alone", -0.566, 0.015),
        ("tone_in_song", -0.349, 0.351),
        ("in_scale_chance", -2.221, 0.909),
        ("usual_place", -2.520, 0.553),
    ),
)
