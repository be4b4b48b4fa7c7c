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
# 342 songs, 27,170 bars, 155,330 bass notes
# LONE at 0.05 per 100 bars (chance 0.80): clear 0.65, loose 0.31, wide 0.31
# LONE at 0.1 per 100 bars (chance 0.64): clear 0.77, loose 0.45, wide 0.44
# LONE at 0.15 per 100 bars (chance 0.51): clear 0.86, loose 0.54, wide 0.54
# LONE at 0.2 per 100 bars (chance 0.43): clear 0.89, loose 0.59, wide 0.58
# LONE at 0.3 per 100 bars (chance 0.32): clear 0.93, loose 0.67, wide 0.65
# LONE at 0.5 per 100 bars (chance 0.18): clear 0.96, loose 0.77, wide 0.74
# FIGURE at 0.05 per 100 bars (chance 0.75): pasted 0.72
# FIGURE at 0.1 per 100 bars (chance 0.48): pasted 0.81
# FIGURE at 0.15 per 100 bars (chance 0.36): pasted 0.84
# FIGURE at 0.2 per 100 bars (chance 0.26): pasted 0.85
# FIGURE at 0.3 per 100 bars (chance 0.19): pasted 0.87
# FIGURE at 0.5 per 100 bars (chance 0.07): pasted 0.90
LONE = Model(
    -4.692,
    (
        ("supported", -7.177, 0.791),
        ("support_gap", 0.213, 0.265),
        ("copies_alike", -1.209, 3.452),
        ("semitone_in_copies", 1.878, 0.090),
        ("rub_share", 3.160, 0.114),
        ("stand", 1.033, 0.268),
        ("accent", 0.433, 0.902),
        ("struck_again", -0.354, 2.608),
        ("reached_by_step", -0.916, 0.179),
        ("leads_on", -0.498, 0.154),
        ("led_alike", 0.0, 0.0),
        ("stands_alone", -3.055, 0.032),
        ("bar_unsupported", -1.564, 0.128),
        ("tone_in_song", -0.248, 0.740),
        ("in_scale_chance", -1.434, 0.947),
    ),
)

FIGURE = Model(
    -3.124,
    (
        ("supported", -5.351, 0.733),
        ("rub_share", 5.208, 0.154),
        ("stand", 1.222, 0.464),
        ("accent", 0.629, 1.100),
        ("struck_again", -0.395, 1.589),
        ("reached_by_step", -0.938, 0.306),
        ("leads_on", -0.715, 0.264),
        ("led_alike", 0.0, 0.0),
        ("stands_alone", -1.002, 0.014),
        ("tone_in_song", -0.281, 0.347),
        ("in_scale_chance", -2.283, 0.907),
        ("usual_place", -2.299, 0.553),
    ),
)
