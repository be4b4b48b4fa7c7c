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
# LONE at 0.05 per 100 bars (chance 0.80): clear 0.74, loose 0.54, wide 0.32
# LONE at 0.1 per 100 bars (chance 0.60): clear 0.86, loose 0.68, wide 0.48
# LONE at 0.15 per 100 bars (chance 0.46): clear 0.90, loose 0.74, wide 0.58
# LONE at 0.2 per 100 bars (chance 0.37): clear 0.93, loose 0.78, wide 0.63
# LONE at 0.3 per 100 bars (chance 0.26): clear 0.95, loose 0.83, wide 0.69
# LONE at 0.5 per 100 bars (chance 0.14): clear 0.97, loose 0.89, wide 0.75
# LONE chances of 0.05 to 0.1, 0.07 on average, came true in 0.09
# LONE chances of 0.1 to 0.3, 0.17 on average, came true in 0.17
# LONE chances of 0.3 to 0.5, 0.39 on average, came true in 0.38
# LONE chances of 0.5 to 0.7, 0.60 on average, came true in 0.60
# LONE chances of 0.7 to 0.9, 0.81 on average, came true in 0.82
# LONE chances of 0.9 to 1.0, 0.96 on average, came true in 0.96
# FIGURE at 0.05 per 100 bars (chance 0.71): pasted 0.78
# FIGURE at 0.1 per 100 bars (chance 0.45): pasted 0.84
# FIGURE at 0.15 per 100 bars (chance 0.32): pasted 0.86
# FIGURE at 0.2 per 100 bars (chance 0.19): pasted 0.88
# FIGURE at 0.3 per 100 bars (chance 0.10): pasted 0.90
# FIGURE at 0.5 per 100 bars (chance 0.05): pasted 0.91
# FIGURE chances of 0.05 to 0.1, 0.07 on average, came true in 0.06
# FIGURE chances of 0.1 to 0.3, 0.17 on average, came true in 0.20
# FIGURE chances of 0.3 to 0.5, 0.39 on average, came true in 0.30
# FIGURE chances of 0.5 to 0.7, 0.59 on average, came true in 0.67
# FIGURE chances of 0.7 to 0.9, 0.81 on average, came true in 0.82
# FIGURE chances of 0.9 to 1.0, 0.98 on average, came true in 0.97
LONE = Model(
    -2.854,
    (
        ("supported", -7.908, 0.782),
        ("copies_alike", -1.388, 3.411),
        ("riff_elsewhere", -2.689, 0.567),
        ("degree_elsewhere", -0.413, 1.572),
        ("turns_alike", -0.898, 0.390),
        ("semitone_in_copies", 2.185, 0.087),
        ("rub_share", 3.023, 0.116),
        ("stand", 1.112, 0.232),
        ("leads_on", -0.113, 0.153),
        ("passes_through", -2.020, 0.117),
        ("rubs_elsewhere", -0.666, 1.414),
        ("rubs_on_place", -0.143, -6.400),
        ("stands_alone", -4.570, 0.032),
        ("tone_in_song", -0.215, 0.742),
        ("in_scale_chance", -2.020, 0.948),
    ),
)

FIGURE = Model(
    -3.251,
    (
        ("supported", -5.046, 0.725),
        ("rub_share", 4.938, 0.156),
        ("stand", 1.059, 0.415),
        ("accent", 0.671, 1.087),
        ("reached_by_step", 0.222, 0.304),
        ("leads_on", 0.066, 0.260),
        ("passes_through", -2.879, 0.165),
        ("led_alike", -0.095, 0.089),
        ("turns_alike", -1.385, 0.504),
        ("degree_elsewhere", -0.625, 1.379),
        ("rubs_on_place", -0.041, -6.230),
        ("stands_alone", -1.443, 0.016),
        ("tone_in_song", -0.310, 0.358),
        ("in_scale_chance", -2.956, 0.910),
        ("usual_place", -1.517, 0.557),
    ),
)
