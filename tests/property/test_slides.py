"""Laws of hearing slides, on songs drawn with what is true of them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pytest
from drawn_songs import song_within_limits
from hypothesis import given
from hypothesis import strategies as st
from midi_bytes import files
from slide_songs import DIVISION, bend_range, control, note, ramp, song_of

from basslint.hear.slides.slides import Slides, hear_slides, needed_ring_s
from basslint.song.arrangement import Song
from basslint.song.export import to_pretty_midi

tempos = st.integers(300_000, 1_000_000)  # 60 to 200 bpm
reaches = st.sampled_from((2.0, 5.0, 7.5, 12.0, 24.0, 36.0, 48.0))
everies = st.sampled_from((1, 5, 10, 15, 20, 30))  # ticks of 480: up to a 1/64 note apart


@dataclass(frozen=True)
class Musical:
    """A slide as music: from one note to another at a tick, in a stretch of seconds."""

    origin: int
    target: int
    struck: int
    start: int
    end: int
    glide_s: float
    tempo: int

    @property
    def glide(self) -> int:
        """The glide in ticks (SMF: microseconds per quarter over ticks per quarter)."""
        return round(self.glide_s * 1e6 / self.tempo * DIVISION)


@st.composite
def musicals(draw: st.DrawFn) -> Musical:
    origin = draw(st.integers(28, 45))
    interval = draw(st.integers(1, 12)) * draw(st.sampled_from((-1, 1)))
    struck = draw(st.integers(0, 2000))
    start = struck + draw(st.integers(200, 1500))
    tempo = draw(tempos)
    glide_s = draw(st.floats(0.04, 0.4))
    end = start + round(glide_s * 1e6 / tempo * DIVISION) + draw(st.integers(60, 1000))
    return Musical(origin, origin + interval, struck, start, end, glide_s, tempo)


def by_overlap(m: Musical, meet: int = 60) -> Song:
    held = min(m.start + meet, m.end)
    return song_of(note(m.struck, held, m.origin), note(m.start, m.end, m.target), tempo=m.tempo)


def by_bend(m: Musical, reach: float, every: int, shape: float = 1.0) -> Song:
    height = float(m.target - m.origin)
    if shape == 1.0:
        moves = ramp([(m.start, 0.0), (m.start + m.glide, height)], reach, every)
    else:
        points = [(m.start + t, height * (t / m.glide) ** shape)
                  for t in [*range(0, m.glide, every), m.glide]]  # fmt: skip
        moves = ramp(points, reach, 10**9)
    return song_of(bend_range(0, reach), moves, note(m.struck, m.end, m.origin), tempo=m.tempo)


def by_portamento(m: Musical, named: bool) -> Song:
    told = control(m.start, 84, m.origin) if named else control(m.struck, 65, 127)
    held = min(m.start + 60, m.end)
    return song_of(
        told, note(m.struck, held, m.origin), note(m.start, m.end, m.target), tempo=m.tempo
    )


def heard(song: Song, m: Musical, decay: float | None = 0.8) -> Slides:
    return hear_slides(song, (0,), m.glide_s, None, decay, False, True)


def reaching(m: Musical, reach: float) -> float:
    """A range that holds the interval."""
    return max(reach, float(abs(m.target - m.origin)) + 1)


@given(musicals())
def test_an_overlap_is_heard_to_the_tick(m: Musical) -> None:
    slides = heard(by_overlap(m), m)
    assert slides.how == ("overlap",)
    assert slides.start[0] == m.start
    assert abs(int(slides.land[0]) - (m.start + m.glide)) <= 1
    assert (slides.origin[0], slides.target[0]) == (m.origin, m.target)
    assert slides.onset[0] == m.struck


@given(musicals(), reaches, everies, st.sampled_from((0.5, 1.0, 2.0, 3.0)))
def test_a_bend_is_heard_within_its_own_resolution(
    m: Musical, reach: float, every: int, shape: float
) -> None:
    slides = heard(by_bend(m, reaching(m, reach), every, shape), m)
    assert slides.how == ("bend",)
    # the wheel's own resolution: its event spacing, and how long it takes to leave its first step
    step = reaching(m, reach) / 8192
    first = m.glide * (step / abs(m.target - m.origin)) ** (1 / shape)
    last = m.glide * (1 - (1 - step / abs(m.target - m.origin)) ** (1 / shape))
    assert abs(int(slides.start[0]) - m.start) <= every + math.ceil(first)
    assert abs(int(slides.land[0]) - (m.start + m.glide)) <= every + math.ceil(last)
    assert abs(float(slides.target[0]) - m.target) <= 0.02
    assert abs(float(slides.origin[0]) - m.origin) <= 0.02


@given(musicals(), reaches, st.booleans())
def test_one_slide_written_three_ways_is_one_slide(m: Musical, reach: float, named: bool) -> None:
    ways = [by_overlap(m), by_bend(m, reaching(m, reach), 1), by_portamento(m, named)]
    first, *others = [heard(song, m) for song in ways]
    for other in others:
        assert len(other) == len(first) == 1
        assert abs(int(other.start[0]) - int(first.start[0])) <= 2
        assert abs(int(other.land[0]) - int(first.land[0])) <= 2
        assert abs(float(other.target[0] - first.target[0])) <= 0.02
        assert abs(float(other.origin[0] - first.origin[0])) <= 0.02
        assert other.onset[0] == first.onset[0]
        assert other.lands[0] == first.lands[0]
        assert other.level_db[0] == pytest.approx(first.level_db[0], abs=0.3)


@given(musicals(), reaches, st.floats(0.2, 0.9))
def test_a_slide_cut_short_never_lands_in_any_way(m: Musical, reach: float, share: float) -> None:
    cut = m.start + max(1, int(m.glide * share))
    short = Musical(m.origin, m.target, m.struck, m.start, cut, m.glide_s, m.tempo)
    for song in (
        by_overlap(short), by_bend(short, reaching(m, reach), 1), by_portamento(short, True)
    ):  # fmt: skip
        slides = heard(song, short)
        if not len(slides):  # a bend of a few cents, or in the last 10 ms, is not heard
            assert abs(m.target - m.origin) * share < 1 or m.glide_s * share <= 0.015
            continue
        assert not slides.lands[0]
        assert math.isnan(slides.level_db[0])
        assert slides.target[0] == pytest.approx(m.target, abs=0.02)


@given(st.lists(st.tuples(st.integers(20, 50), st.integers(100, 400)), min_size=2, max_size=12))
def test_a_legato_chain_is_struck_once(line: list[tuple[int, int]]) -> None:
    """Each note overlaps the next: every slide rings from the first note of the chain."""
    events, tick = [], 0
    for pitch, length in line:
        events.append(note(tick, tick + length + 110, pitch))
        tick += length + 40
    slides = hear_slides(song_of(*events), (0,), 0.3, None, None, False, True)
    forward = [i for i in range(len(slides)) if slides.note[i] > slides.source_note[i]]
    moves = sum(a[0] != b[0] for a, b in pairwise(line))
    assert all(slides.onset[i] == 0 for i in range(len(slides)))
    assert len(forward) <= len(line) - 1
    assert forward or not moves  # a glide that passes a pitch may meet the next in mid-flight


@given(
    files(calm=True),
    st.sampled_from((0.0, 0.05, 0.1, 1.0)),
    st.sampled_from((None, 0.5)),
    st.booleans(),
)
def test_any_file_is_heard_and_what_is_heard_holds_together(
    raw: bytes, glide_s: float, decay: float | None, one_shot: bool
) -> None:
    song = song_within_limits(raw)
    parts = tuple(range(len(song.parts)))
    slides = hear_slides(song, parts, glide_s, None, decay, one_shot, True)
    assert (slides.start <= slides.land).all()
    assert (slides.onset <= slides.start).all()
    assert (slides.level_db[slides.lands] <= 0).all() or decay is None
    assert np.isnan(slides.level_db[~slides.lands]).all()
    assert (song.notes.part[slides.note] == slides.part).all()
    assert (song.notes.part[slides.source_note] == slides.part).all()
    bends = np.array([h == "bend" for h in slides.how], dtype=bool)
    assert (slides.target[~bends] != slides.origin[~bends]).all()
    ring = needed_ring_s(slides, song, -24.0)
    assert (ring is None) == (not slides.lands.any())
    if ring is not None and ring[0] > 0:
        heard_all = hear_slides(song, parts, glide_s, None, ring[0], one_shot, True)
        assert np.nanmin(heard_all.level_db) >= -24.0 - 1e-6


@given(files(calm=True))
def test_any_song_can_be_handed_to_pretty_midi(raw: bytes) -> None:
    song = song_within_limits(raw)
    pm = to_pretty_midi(song)
    assert [len(i.notes) for i in pm.instruments] == [p.notes for p in song.parts]
    ticks = [pm.time_to_tick(n.start) for i in pm.instruments for n in i.notes]
    rows = [song.notes_of(i).start.tolist() for i in range(len(song.parts))]
    assert ticks == [tick for row in rows for tick in row]
