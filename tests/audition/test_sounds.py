"""A mended song is the written one with what differs: heard as if it had been made by itself."""

from __future__ import annotations

import numpy as np
import pytest
from beats import heard

from basslint.audition import loudness, mix, sounds, voices
from basslint.audition.mix import render
from basslint.audition.sounds import RATE, Wish, changes, sounds_of
from basslint.hear.chart import Chart
from basslint.util.records import replace

BEAT = (
    "tempo {tempo}\ndecay 4s\nglide 100ms\nkeys | {keys} | F3+A3+C4:4 | A3+C4+E4:4 |*4\n"
    "sub | {bass} | F1:4~.5 | E2:2 A1:2 |*4\nsnare | . D2:2 D2:1 | . D2:2 {drum} |*6"
)
AS_IS = {"tempo": "120", "keys": "A3+C4+E4:4", "bass": "A1:2 C2:2", "drum": "D2:1"}
CHANGED = {
    "nothing": {},
    "bass": {"bass": "A1:2 B1:2"},
    "louder": {"bass": "A1:2 C2:2@127"},
    "slide": {"bass": "A1:2~.5 C2:2"},
    "keys": {"keys": "A3+C4+F4:4"},
    "drum": {"drum": ".:.5 D2:.5"},
    "all three": {"bass": "A1:1 D2:3", "keys": "A3+D4+E4:4", "drum": "E2:1"},
    "all": {"tempo": "121"},
}
WISHES = [
    Wish(),
    Wish(bars=(2, 3)),
    Wish(solo=True, small_speakers=True),
    Wish(octaves_up=1, roots=True),
]


def beat(**other: str) -> Chart:
    return heard(BEAT.format(**AS_IS | other))


def parted(one: Chart, other: Chart) -> sounds.Sounds | None:
    last = int(one.song.grid.start[-1])
    return changes(*(sounds_of(chart, Wish(), 0, last) for chart in (one, other)))


@pytest.mark.parametrize("wish", WISHES, ids=["whole", "bars", "small", "roots"])
@pytest.mark.parametrize("change", CHANGED)
def test_it_sounds_as_if_it_had_been_made_by_itself(
    change: str, wish: Wish, monkeypatch: pytest.MonkeyPatch
) -> None:
    written, mended = beat(), beat(**CHANGED[change])
    found = render(mended, wish, written)
    monkeypatch.setattr(mix, "changes", lambda one, other: None)
    alone = render(mended, wish, written)
    assert len(found) == len(alone)
    assert np.abs(found - alone).max() < 1e-9
    if change != "nothing" and wish == Wish():
        assert np.abs(alone - render(written, wish)[: len(alone)]).max() > 0.01


def test_a_song_in_which_nothing_differs_is_made_and_weighed_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = weighed = 0

    def counted(tone: voices.Tone, time: np.ndarray, *rest: object) -> np.ndarray:
        nonlocal made
        made += len(time)
        return np.zeros(len(time)) + 0.1

    def powers(samples: np.ndarray, rate: int) -> np.ndarray:
        nonlocal weighed
        weighed += len(samples)
        return loudness.powers(samples, rate)

    monkeypatch.setattr(sounds, "chord_tone", counted)
    monkeypatch.setattr(mix, "powers", powers)
    render(beat(), Wish())
    once, made = made, 0
    assert weighed == 0, "alone it is brought to its peak"
    render(beat(), Wish(), beat())
    assert made == once
    assert weighed == round((12 * 2.0 + 0.5) * RATE), "twelve bars and the tail"


def test_what_differs_is_taken_out_and_put_in() -> None:
    differ = parted(beat(), beat(bass="A1:2 B1:2", drum="E2:1"))
    assert differ is not None
    told = [(t.start, float(t.pitches[0]), np.sign(t.level)) for t in differ.bass]
    turns = [1.0, 7.0, 13.0, 19.0]  # seconds of beat 3 of bars 1, 4, 7, 10
    assert told == [(t, 36.0, -1.0) for t in turns] + [(t, 35.0, 1.0) for t in turns]
    keys, levels = differ.hits.pitch, differ.hits.level
    assert sorted(keys.tolist()) == [38.0] * 6 + [40.0] * 6
    assert (levels[keys == 38] < 0).all() and (levels[keys == 40] > 0).all()
    assert not len(differ.held.start) and not differ.loops


def test_what_differs_in_time_or_voice_is_made_by_itself() -> None:
    assert parted(beat(), beat(tempo="121")) is None
    longer = heard(BEAT.format(**AS_IS).replace("decay 4s", "decay 2s"))
    assert parted(beat(), longer) is None
    song = beat()
    one = sounds_of(song, Wish(), 0, int(song.song.grid.start[-1]))
    for other in ({"zero": 1.0}, {"stop": 1.0}, {"small_speakers": True}):
        assert changes(one, replace(one, **other)) is None
    assert changes(one, one) is not None
    assert parted(heard("keys | A3:4 |*4"), heard("keys | B3:4 |*4")) is None, "all of it differs"
