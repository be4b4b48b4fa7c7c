"""What may a rule judge, and what may a reading answer of one row of it?"""

from __future__ import annotations

from typing import Literal, get_args

Subject = Literal[
    "bass-note",
    "note",
    "slide",
    "fill",
    "chord",
    "stretch",
    "lag",
    "displacement",
    "part-key",
    "high-part",
    "song",
]
SUBJECTS: tuple[Subject, ...] = get_args(Subject)

Value = bool | int | float | str | None  # of one row, as messages and reports carry it
