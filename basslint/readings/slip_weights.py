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
# LONE at 0.05 per 100 bars (chance 0.76): clear 0.78, loose 0.58, wide 0.35
# LONE at 0.1 per 100 bars (chance 0.56): clear 0.87, loose 0.71, wide 0.51
# LONE at 0.15 per 100 bars (chance 0.46): clear 0.91, loose 0.75, wide 0.58
# LONE at 0.2 per 100 bars (chance 0.38): clear 0.93, loose 0.78, wide 0.61
# LONE at 0.3 per 100 bars (chance 0.26): clear 0.95, loose 0.84, wide 0.69
# LONE at 0.5 per 100 bars (chance 0.15): clear 0.98, loose 0.89, wide 0.75
# LONE chances of 0.05 to 0.1, 0.07 on average, came true in 0.08
# LONE chances of 0.1 to 0.3, 0.18 on average, came true in 0.16
# LONE chances of 0.3 to 0.5, 0.39 on average, came true in 0.40
# LONE chances of 0.5 to 0.7, 0.60 on average, came true in 0.64
# LONE chances of 0.7 to 0.9, 0.81 on average, came true in 0.82
# LONE chances of 0.9 to 1.0, 0.96 on average, came true in 0.95
# FIGURE at 0.05 per 100 bars (chance 0.64): pasted 0.81
# FIGURE at 0.1 per 100 bars (chance 0.35): pasted 0.86
# FIGURE at 0.15 per 100 bars (chance 0.26): pasted 0.88
# FIGURE at 0.2 per 100 bars (chance 0.17): pasted 0.89
# FIGURE at 0.3 per 100 bars (chance 0.09): pasted 0.90
# FIGURE at 0.5 per 100 bars (chance 0.04): pasted 0.91
# FIGURE chances of 0.05 to 0.1, 0.07 on average, came true in 0.04
# FIGURE chances of 0.1 to 0.3, 0.18 on average, came true in 0.17
# FIGURE chances of 0.3 to 0.5, 0.38 on average, came true in 0.32
# FIGURE chances of 0.5 to 0.7, 0.61 on average, came true in 0.58
# FIGURE chances of 0.7 to 0.9, 0.81 on average, came true in 0.86
# FIGURE chances of 0.9 to 1.0, 0.98 on average, came true in 0.98
LONE = Model(
    -2.666,
    (
        ("supported", -7.895, 0.782),
        ("copies_alike", -1.436, 3.411),
        ("riff_elsewhere", -2.582, 0.567),
        ("degree_elsewhere", -0.389, 1.572),
        ("turns_alike", -0.880, 0.390),
        ("semitone_in_copies", 2.217, 0.087),
        ("rub_share", 2.957, 0.116),
        ("stand", 1.012, 0.232),
        ("passes_briefly", -5.270, 0.044),
        ("rubs_elsewhere", -0.690, 1.414),
        ("rubs_on_place", -0.122, -6.400),
        ("stands_alone", -4.634, 0.032),
        ("tone_in_song", -0.217, 0.742),
        ("in_scale_chance", -1.991, 0.948),
    ),
)

FIGURE = Model(
    -1.922,
    (
        ("supported", -4.984, 0.725),
        ("rub_share", 4.856, 0.156),
        ("stand", 0.956, 0.415),
        ("accent", 0.610, 1.087),
        ("reached_by_step", 0.140, 0.304),
        ("passes_briefly", -6.605, 0.068),
        ("leads_home", -1.383, 0.147),
        ("turns_alike", -1.466, 0.504),
        ("riff_elsewhere", -1.151, 0.472),
        ("degree_elsewhere", -0.675, 1.349),
        ("stands_alone", -1.819, 0.016),
        ("tone_in_song", -0.242, 0.358),
        ("in_scale_chance", -3.178, 0.910),
        ("usual_place", -1.666, 0.557),
    ),
)
