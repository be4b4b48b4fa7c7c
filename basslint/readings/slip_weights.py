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
# 351 songs, 27,782 bars, 156,937 bass notes
# LONE at 0.05 per 100 bars (chance 0.74): clear 0.75, loose 0.46, wide 0.40
# LONE at 0.1 per 100 bars (chance 0.62): clear 0.83, loose 0.56, wide 0.49
# LONE at 0.15 per 100 bars (chance 0.52): clear 0.88, loose 0.61, wide 0.56
# LONE at 0.2 per 100 bars (chance 0.41): clear 0.91, loose 0.67, wide 0.62
# LONE at 0.3 per 100 bars (chance 0.26): clear 0.94, loose 0.76, wide 0.69
# LONE at 0.5 per 100 bars (chance 0.16): clear 0.97, loose 0.82, wide 0.76
# LONE chances of 0.05 to 0.1, 0.07 on average, came true in 0.07
# LONE chances of 0.1 to 0.3, 0.17 on average, came true in 0.17
# LONE chances of 0.3 to 0.5, 0.40 on average, came true in 0.48
# LONE chances of 0.5 to 0.7, 0.60 on average, came true in 0.56
# LONE chances of 0.7 to 0.9, 0.81 on average, came true in 0.81
# LONE chances of 0.9 to 1.0, 0.96 on average, came true in 0.95
# FIGURE at 0.05 per 100 bars (chance 0.71): pasted 0.76
# FIGURE at 0.1 per 100 bars (chance 0.40): pasted 0.84
# FIGURE at 0.15 per 100 bars (chance 0.31): pasted 0.86
# FIGURE at 0.2 per 100 bars (chance 0.25): pasted 0.87
# FIGURE at 0.3 per 100 bars (chance 0.16): pasted 0.88
# FIGURE at 0.5 per 100 bars (chance 0.06): pasted 0.91
# FIGURE chances of 0.05 to 0.1, 0.07 on average, came true in 0.09
# FIGURE chances of 0.1 to 0.3, 0.18 on average, came true in 0.14
# FIGURE chances of 0.3 to 0.5, 0.38 on average, came true in 0.30
# FIGURE chances of 0.5 to 0.7, 0.61 on average, came true in 0.77
# FIGURE chances of 0.7 to 0.9, 0.82 on average, came true in 0.78
# FIGURE chances of 0.9 to 1.0, 0.98 on average, came true in 0.99
LONE = Model(
    -3.384,
    (
        ("supported", -8.066, 0.782),
        ("copies_alike", -1.319, 3.411),
        ("semitone_in_copies", 2.072, 0.087),
        ("rub_share", 3.168, 0.116),
        ("stand", 1.144, 0.232),
        ("struck_again", -0.518, 2.568),
        ("reached_by_step", -0.881, 0.178),
        ("leads_on", -0.572, 0.153),
        ("led_alike", -0.256, 0.046),
        ("rubs_elsewhere", -0.610, 1.414),
        ("rubs_on_place", -0.202, -6.400),
        ("stands_alone", -3.586, 0.032),
        ("bar_unsupported", -1.025, 0.134),
        ("tone_in_song", -0.280, 0.742),
        ("in_scale_chance", -2.019, 0.948),
    ),
)

FIGURE = Model(
    -4.375,
    (
        ("supported", -5.808, 0.725),
        ("rub_share", 5.205, 0.156),
        ("stand", 1.159, 0.415),
        ("accent", 0.765, 1.087),
        ("struck_again", -0.211, 1.542),
        ("reached_by_step", -0.669, 0.304),
        ("leads_on", -0.379, 0.260),
        ("led_alike", -0.451, 0.089),
        ("rubs_on_place", -0.174, -6.230),
        ("stands_alone", -1.505, 0.016),
        ("tone_in_song", -0.328, 0.358),
        ("in_scale_chance", -2.650, 0.910),
        ("usual_place", -2.033, 0.557),
    ),
)
