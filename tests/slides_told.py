"""The slides that are heard in a song, in numbers to compare."""

from __future__ import annotations

from basslint.hear.slides.slides import Slides, hear_slides
from basslint.song.arrangement import Song

# 500,000 µs per quarter of 480 ticks: a tick is 1.0417 ms, a glide of 100 ms is 96 ticks.
GLIDE = 96


def slides_of(
    song: Song,
    reach: float | None = None,
    decay: float | None = None,
    one_shot: bool = False,
    parts: tuple[int, ...] = (0,),
    glide: float = 0.1,
) -> Slides:
    return hear_slides(song, parts, glide, reach, decay, one_shot, glides=True)


def told(slides: Slides) -> list[tuple[str, int, int, float, float]]:
    return [
        (slides.how[i], int(slides.start[i]), int(slides.land[i]),
         round(float(slides.origin[i]), 2), round(float(slides.target[i]), 2))
        for i in range(len(slides))
    ]  # fmt: skip
