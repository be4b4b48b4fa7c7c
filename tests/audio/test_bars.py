"""Where bars lie: by what is stated, by the length of the sound, and by where it sets in.

A bar of 4/4 at 120 quarters a minute lasts two seconds, one of 3/4 and of 6/8 one and a half.
"""

from __future__ import annotations

import numpy as np
import pytest

from basslint.audio.bars import Bars, Stated, find_bars, sound_begin, sound_end
from basslint.audio.spectra import RATE_HZ
from basslint.audio.strokes import STROKE_S
from basslint.errors import SoundError

NO_STROKES = np.zeros(1000, np.float32)  # they matter where the tempo is not stated


def noise(seconds: float, before: float = 0.0, after: float = 0.0) -> np.ndarray:
    """A sound of one level, with silence before and after it."""
    rng = np.random.default_rng(5)
    parts = [rng.standard_normal(round(seconds * RATE_HZ)) * 0.1]
    parts = [np.zeros(round(before * RATE_HZ)), *parts, np.zeros(round(after * RATE_HZ))]
    return np.concatenate(parts).astype(np.float32)


def found(sound: np.ndarray, **stated: object) -> Bars:
    return find_bars(sound, NO_STROKES, Stated(**{"bpm": 120.0, **stated}), "a.wav")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("sound", "stated", "bars", "begins_s", "cut"),
    [
        (noise(8.0), {}, 4, 0.0, True),
        (noise(6.0), {"meter": (3, 4)}, 4, 0.0, True),
        (noise(6.0), {"meter": (6, 8)}, 4, 0.0, True),
        (noise(30.0), {}, 15, 0.0, True),  # an odd number, but nothing else is heard
        (noise(8.02), {}, 4, 0.0, True),  # cut a little late
        (noise(8.2), {}, 4, 0.0, False),
        (noise(64.2), {}, 32, 0.0, True),  # a longer one may be later: by 0.4 %
        (noise(4.045), {}, 2, 0.0, False),
        (noise(9.9), {}, 4, 0.0, False),  # almost five, which loops seldom have
        (noise(40.0), {"bpm": 120.6}, 16, 0.0, False),  # 20.1 bars
        (noise(160.0), {"bpm": 120.6}, 80, 0.0, False),  # a song has all of its 80.4
        (noise(8.0, before=1.0), {}, 4, 1.0, False),
        (noise(8.0, before=2.0), {}, 4, 2.0, False),  # five bars, with a silence before
        (noise(8.0, before=0.5, after=9.0), {}, 4, 0.5, False),  # what is silent is no bar
        (noise(7.0, before=1.0), {}, 4, 0.0, True),  # it begins with a rest
        (noise(10.0, before=2.0), {}, 6, 0.0, True),
        (noise(7.2, after=5.0), {}, 4, 0.0, False),  # the last bar rings out before its end
        (noise(8.0), {"bars": 2}, 2, 0.0, True),
        (noise(8.0), {"begins_s": 0.9}, 4, 0.9, True),  # the last bar goes on at the beginning
        (noise(8.0), {"begins_s": 1.5}, 3, 1.5, True),  # hardly: what lies before is no bar
        (noise(8.0), {"begins_beats": -1.0}, 4, 0.5, True),
        (noise(8.0), {"begins_beats": -3.0}, 4, 1.5, True),
        (noise(6.0), {"begins_beats": -1.0, "meter": (6, 8)}, 4, 0.25, True),
        (noise(8.0, before=1.0), {"begins_s": 0.0}, 4, 0.0, False),
    ],
)
def test_bars_at_a_stated_tempo(
    sound: np.ndarray, stated: dict[str, object], bars: int, begins_s: float, cut: bool
) -> None:
    heard = found(sound, **stated)
    assert (heard.bars, heard.cut) == (bars, cut)
    assert heard.begins_s == pytest.approx(begins_s, abs=0.01)
    assert not heard.tempo_heard
    assert heard.bars_heard is ("bars" not in stated)
    assert heard.begins_heard is not bool({"begins_s", "begins_beats"} & set(stated))


@pytest.mark.parametrize(
    ("room", "bars"),
    [
        *((n, n) for n in (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64)),
        *((5, 4), (7, 6), (9, 8), (11, 8), (13, 12), (20, 16), (30, 24), (40, 32), (63, 48)),
        *((65, 65), (90, 90)),  # a song
    ],
)
def test_loops_have_a_usual_number_of_bars(room: int, bars: int) -> None:
    """Fours doubled, then threes (common practice); a bar lasts a second, and a tenth is over."""
    sound = noise(room + 0.1, before=0.45)  # so that it was not cut to bars
    assert found(sound, bpm=240.0).bars == bars


@pytest.mark.parametrize(("room", "bars"), [(3.97, 4), (3.93, 3), (69.97, 70), (69.93, 69)])
def test_the_last_bar_may_end_a_little_early(room: float, bars: int) -> None:
    assert found(noise(room, before=0.45), bpm=240.0).bars == bars


@pytest.mark.parametrize(
    ("before", "seconds", "after", "beat_s", "stated", "bpm", "bars"),
    [
        (0.0, 8.0, 0.0, 0.5, {}, 120.0, 4),
        (0.0, 10.0, 0.0, 0.625, {}, 96.0, 4),
        (0.0, 6.0, 0.0, 0.5, {"meter": (3, 4)}, 120.0, 4),
        (0.37, 8.0, 0.9, 0.5, {}, 120.0, 4),  # nobody cut it: its strokes tell
        (0.0, 8.0, 0.9, 0.5, {}, 120.0, 4),
        (0.0, 8.0, 0.0, 0.5, {"bars": 4}, 120.0, 4),
        (0.0, 8.0, 0.0, 0.5, {"bars": 2}, 60.0, 2),  # as stated, however readily it is tapped
        (0.0, 8.0, 0.0, 0.5, {"bars": 8}, 240.0, 8),
        (0.37, 8.0, 0.9, 0.5, {"bars": 4}, 120.0, 4),
    ],
)
def test_a_tempo_that_nobody_states_is_that_of_the_strokes(
    before: float,
    seconds: float,
    after: float,
    beat_s: float,
    stated: dict[str, object],
    bpm: float,
    bars: int,
) -> None:
    sound = noise(seconds, before, after)
    strength = np.zeros(round(len(sound) / RATE_HZ / STROKE_S) + 1, np.float32)
    for beat in range(round(seconds / beat_s)):
        strength[round((before + beat * beat_s) / STROKE_S)] = 1.0
    heard = find_bars(sound, strength, Stated(**stated))  # type: ignore[arg-type]
    assert heard.bpm == pytest.approx(bpm, rel=0.005) and heard.bars == bars
    assert heard.begins_s == pytest.approx(before, abs=0.01)
    assert heard.tempo_heard and heard.begins_heard
    assert heard.bars_heard is ("bars" not in stated)


@pytest.mark.parametrize(
    ("sound", "stated", "told"),
    [
        (noise(8.0), {"bars": 6}, "is 8.00 s long, 4.00 bars at 120.0 bpm; 6 bars do not fit"),
        (noise(1.0), {"bpm": 60.0}, "1.00 s long, 0.25 bars at 60.0 bpm; 1 bar does not fit"),
        (noise(8.0), {"begins_s": 7.0}, "1 bar after 7.00 s does not fit"),
        (noise(8.0), {"bpm": None, "bars": 64}, "8.00 s: 64 bars of it would run at 1,920 bpm"),
    ],
)
def test_bars_that_no_sound_has_room_for(
    sound: np.ndarray, stated: dict[str, object], told: str
) -> None:
    with pytest.raises(SoundError) as caught:
        found(sound, **stated)
    assert told in caught.value.message and "a.wav" in caught.value.message
    assert caught.value.advice


@pytest.mark.parametrize(
    ("meter", "eighths", "step_s"),
    [((4, 4), 32, 0.25), ((3, 4), 24, 0.25), ((6, 8), 24, 0.25), ((7, 16), 28, 0.125)],
)
def test_the_eighths_of_four_bars(meter: tuple[int, int], eighths: int, step_s: float) -> None:
    bar_s = meter[0] * 2.0 / meter[1]
    heard = found(noise(4 * bar_s + 0.3), meter=meter, begins_s=0.3, bars=4)
    edges = heard.eighths_s()
    assert len(edges) == eighths + 1
    assert np.diff(edges) == pytest.approx(step_s)
    assert (edges[0], edges[-1]) == (pytest.approx(0.3), pytest.approx(heard.end_s))
    assert heard.bar_s == pytest.approx(bar_s)
    assert heard.beat_s == pytest.approx(bar_s / meter[0])


@pytest.mark.parametrize(("before", "begins"), [(0.0, 0.0), (0.02, 0.0), (0.05, 0.05), (1.0, 1.0)])
def test_when_a_sound_sets_in_and_ends(before: float, begins: float) -> None:
    """Up to 30 ms are the slope of a first stroke."""
    sound = noise(4.0, before=before, after=before)
    assert sound_begin(sound) == pytest.approx(begins, abs=0.006)
    assert sound_end(sound) == pytest.approx(len(sound) / RATE_HZ - begins, abs=0.006)
    assert sound_begin(sound + np.float32(0.3)) == sound_begin(sound)  # an offset is no sound


def test_noise_of_the_room_is_no_sound() -> None:
    """60 dB below the music."""
    sound = noise(4.0, before=0.5)
    room = (np.random.default_rng(6).standard_normal(len(sound)) * 1e-4).astype(np.float32)
    assert sound_begin(sound + room) == pytest.approx(0.5, abs=0.006)
