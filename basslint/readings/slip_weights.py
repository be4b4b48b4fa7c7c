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
# LONE at 0.05 per 100 bars (chance 0.76): clear 0.78, loose 0.59, wide 0.37
# LONE at 0.1 per 100 bars (chance 0.58): clear 0.88, loose 0.71, wide 0.51
# LONE at 0.15 per 100 bars (chance 0.45): clear 0.92, loose 0.77, wide 0.60
# LONE at 0.2 per 100 bars (chance 0.36): clear 0.94, loose 0.81, wide 0.64
# LONE at 0.3 per 100 bars (chance 0.24): clear 0.96, loose 0.85, wide 0.69
# LONE at 0.5 per 100 bars (chance 0.14): clear 0.98, loose 0.89, wide 0.76
# LONE chances of 0.05 to 0.1, 0.07 on average, came true in 0.07
# LONE chances of 0.1 to 0.3, 0.18 on average, came true in 0.16
# LONE chances of 0.3 to 0.5, 0.39 on average, came true in 0.43
# LONE chances of 0.5 to 0.7, 0.60 on average, came true in 0.60
# LONE chances of 0.7 to 0.9, 0.81 on average, came true in 0.83
# LONE chances of 0.9 to 1.0, 0.96 on average, came true in 0.96
# FIGURE at 0.05 per 100 bars (chance 0.60): pasted 0.83
# FIGURE at 0.1 per 100 bars (chance 0.38): pasted 0.86
# FIGURE at 0.15 per 100 bars (chance 0.26): pasted 0.87
# FIGURE at 0.2 per 100 bars (chance 0.19): pasted 0.89
# FIGURE at 0.3 per 100 bars (chance 0.09): pasted 0.91
# FIGURE at 0.5 per 100 bars (chance 0.03): pasted 0.92
# FIGURE chances of 0.05 to 0.1, 0.07 on average, came true in 0.05
# FIGURE chances of 0.1 to 0.3, 0.19 on average, came true in 0.22
# FIGURE chances of 0.3 to 0.5, 0.38 on average, came true in 0.32
# FIGURE chances of 0.5 to 0.7, 0.61 on average, came true in 0.48
# FIGURE chances of 0.7 to 0.9, 0.81 on average, came true in 0.84
# FIGURE chances of 0.9 to 1.0, 0.98 on average, came true in 0.99
LONE = Model(
    -0.688,
    (
        ("supported", -6.846, 0.782),
        ("heard_near", -1.827, 0.914),
        ("copies_alike", -1.453, 3.411),
        ("riff_elsewhere", -2.773, 0.567),
        ("degree_elsewhere", -0.379, 1.546),
        ("turns_alike", -0.865, 0.390),
        ("semitone_in_copies", 2.220, 0.087),
        ("rub_share", 3.077, 0.116),
        ("stand", 1.073, 0.232),
        ("passes_briefly", -5.451, 0.044),
        ("rubs_elsewhere", -0.819, 1.414),
        ("stands_alone", -4.765, 0.032),
        ("in_scale_chance", -2.245, 0.948),
    ),
)

FIGURE = Model(
    -1.561,
    (
        ("supported", -3.505, 0.725),
        ("heard_near", -2.425, 0.858),
        ("rub_share", 5.049, 0.156),
        ("stand", 0.988, 0.415),
        ("accent", 0.585, 1.087),
        ("passes_briefly", -6.132, 0.068),
        ("leads_home", -1.643, 0.147),
        ("turns_alike", -1.500, 0.504),
        ("riff_elsewhere", -1.025, 0.472),
        ("degree_elsewhere", -0.650, 1.349),
        ("stands_alone", -0.930, 0.016),
        ("tone_in_song", -0.160, 0.358),
        ("in_scale_chance", -2.757, 0.910),
        ("usual_place", -1.581, 0.557),
    ),
)
