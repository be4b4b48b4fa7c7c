"""What is told of a heard loop: no root where it glides or no harmony sounds, both readings near a
quarter tone, and stretches in the seconds of the file.

One loop of four bars is heard (C, Am, F, G, struck on each beat at 100 a minute); then what was
heard of it is changed.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from loop_sounds import ROOTS, chords, write

from basslint.audio.answers import glide_roots, loop_keys, loop_roots
from basslint.audio.bars import Bars, Stated
from basslint.audio.glides import Glides
from basslint.audio.left_over import LeftOver
from basslint.audio.loop import TICKS, HeardLoop, hear_loop
from basslint.audio.roots import mix_readings
from basslint.audio.tonal import Tonality
from basslint.audio.tuning import Tuning
from basslint.hear.harmony.sources import LOOP
from basslint.report.formats.loop_rows import Span, spans
from basslint.report.formats.loop_rows import glides as glide_rows
from basslint.util.records import replace

EIGHTH = TICKS // 2


@pytest.fixture(scope="module")
def loop(tmp_path_factory: pytest.TempPathFactory) -> HeardLoop:
    path = write(tmp_path_factory.mktemp("loop") / "loop.wav", chords(100.0))
    return hear_loop(path, Stated(bpm=100.0))


def by_eighth(heard: HeardLoop) -> list[int]:
    """The root of each eighth."""
    roots = loop_roots(heard)
    assert roots.start.tolist() == [0, *roots.end.tolist()[:-1]]  # no gap, and none twice
    assert (roots.source == LOOP).all() and (roots.since >= roots.start).all()
    unknown = roots.root < 0
    assert (roots.certainty[unknown] == 0.0).all() and not roots.tones[unknown].any()
    assert (roots.certainty[~unknown] > 0.5).all() and roots.tones[~unknown].any(axis=1).all()
    return np.repeat(roots.root, (roots.end - roots.start) // EIGHTH).tolist()


PLAIN = [root for root in ROOTS for _ in range(8)]


def without(*places: range) -> list[int]:
    gone = {place for stretch in places for place in stretch}
    return [-1 if n in gone else root for n, root in enumerate(PLAIN)]


def test_a_root_is_told_for_each_chord(loop: HeardLoop) -> None:
    assert loop.fits and by_eighth(loop) == PLAIN
    keys = loop_keys(loop, loop_roots(loop))
    assert (keys.tonic.tolist(), keys.mode) == ([0], ("major",))
    assert (keys.start.tolist(), keys.end.tolist()) == ([0], [32 * EIGHTH])


def glides(*stretches: tuple[int, int]) -> Glides:
    start, end = (np.array(column, dtype=np.int64) for column in zip(*stretches, strict=True))
    return Glides(start, end, np.ones(len(start)))


def test_no_root_is_told_where_the_chord_moves(loop: HeardLoop) -> None:
    moving = replace(loop, glides=glides((6, 8), (31, 32)))
    assert by_eighth(moving) == without(range(6, 8), range(31, 32))


@pytest.mark.parametrize(("weight", "told"), [(0.49, False), (0.5, True)])
def test_no_root_is_told_where_no_harmony_is_heard(
    loop: HeardLoop, weight: float, told: bool
) -> None:
    """Notes are heard as one held note or as drums are: half of the evidence counts, or less."""
    chord = np.ones(32)
    chord[10:14] = weight
    heard = replace(loop, tonality=Tonality(np.ones(32), chord))
    assert by_eighth(heard) == (PLAIN if told else without(range(10, 14)))


@pytest.mark.parametrize("change", [{"off_s": 0.1}, {"left": LeftOver(2.0, None, None)}])
def test_no_root_is_told_where_bars_do_not_lie(loop: HeardLoop, change: dict[str, object]) -> None:
    assert by_eighth(replace(loop, **change)) == [-1] * 32  # type: ignore[arg-type]


def chances(*rows: dict[int, float]) -> np.ndarray:
    table = np.zeros((len(rows), 12), np.float32)
    for row, chance in enumerate(rows):
        for root, value in chance.items():
            table[row, root] = value
    return table


@pytest.mark.parametrize(
    ("by_root", "glide", "told"),
    [
        (chances({9: 0.9}, {}, {2: 0.8}), (1, 2), (9, 2)),
        (chances({9: 0.9}, {}, {2: 0.4, 5: 0.3}), (1, 2), (9, -1)),  # less likely than not
        (chances({9: 0.4}, {}, {2: 0.5}), (1, 2), (-1, 2)),
        (chances({9: 0.9, 4: 0.1}, {}, {9: 0.7, 2: 0.3}), (1, 2), (9, -1)),  # never to itself
        (chances({0: 1.0}, {}, {9: 1.0}), (2, 3), (-1, 0)),  # on, over the end
        (chances({}, {0: 1.0}, {9: 1.0}), (0, 1), (9, 0)),  # and from before the beginning
    ],
)
def test_between_which_roots_a_chord_moves(
    loop: HeardLoop, by_root: np.ndarray, glide: tuple[int, int], told: tuple[int, int]
) -> None:
    heard = replace(loop, by_root=by_root, glides=glides(glide))
    assert glide_roots(heard) == [told]
    (row,) = glide_rows(heard)
    assert [row.from_pc, row.to_pc] == [root if root >= 0 else None for root in told]
    eighth_s = 0.3
    ends = row.span.start_s, row.span.end_s
    assert ends == pytest.approx([place * eighth_s for place in glide])


@pytest.mark.parametrize(
    ("cents", "roots"),
    [
        (0.0, {9: 1.0}),
        (50.0, {9: 0.5, 10: 0.5}),  # sharp by a quarter tone: as likely flat of the next one
        (-50.0, {9: 0.5, 8: 0.5}),
        (-47.0, {9: 0.731, 8: 0.269}),  # 1 / (1 + e), a doubt of 3 cents away
    ],
)
def test_near_a_quarter_tone_two_roots_share_the_chance(
    cents: float, roots: dict[int, float]
) -> None:
    mixed = mix_readings(chances({9: 1.0}), Tuning(cents, 1.0))
    assert mixed == pytest.approx(chances(roots), abs=0.001)


def cut(begins_s: float, is_cut: bool = True) -> SimpleNamespace:
    """Two bars of 4/4 at 120 a minute: a beat lasts half a second, the file four."""
    bars = Bars(
        bpm=120.0, bars=2, meter=(4, 4), begins_s=begins_s, cut=is_cut, tempo_heard=False,
        bars_heard=True, begins_heard=False,
    )  # fmt: skip
    return SimpleNamespace(bars=bars, sound=SimpleNamespace(duration_s=4.0))


@pytest.mark.parametrize(
    ("loop_of", "beats", "told"),
    [
        (cut(0.0), (0, 4), [Span(0.0, 2.0, 1.0, 5.0)]),
        (cut(0.0), (4, 8), [Span(2.0, 4.0, 5.0, 9.0)]),
        (cut(0.5), (0, 4), [Span(0.5, 2.5, 1.0, 5.0)]),
        (cut(0.5), (4, 8), [Span(2.5, 4.0, 5.0, 8.0), Span(0.0, 0.5, 8.0, 9.0)]),
        (cut(0.5), (7, 8), [Span(0.0, 0.5, 8.0, 9.0)]),  # all of it before the bar line
        (cut(0.5, False), (4, 8), [Span(2.5, 4.5, 5.0, 9.0)]),  # nothing comes round
    ],
)
def test_stretches_in_the_seconds_of_the_file(
    loop_of: SimpleNamespace, beats: tuple[int, int], told: list[Span]
) -> None:
    found = spans(loop_of, *(TICKS * beat for beat in beats))  # type: ignore[arg-type]
    assert found == told
