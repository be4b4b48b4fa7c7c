"""What a bar holds and which bars are alike. Expectations: common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from phrase_songs import Note, bass, drums, keys, song_of, tune

from basslint.hear.form.bars import Bars, describe_bars
from basslint.hear.form.similarity import Similarity

ALL = ("lead", "harmony", "bass", "drums")
ROLES = {"Keys": "harmony", "Drums": "drums", "Bass": "bass", "Lead": "melody"}


def described(lines: Mapping[str, list[Note]]) -> Bars:
    song = song_of(lines)
    roles = [ROLES[name] for name in lines]
    seconds = np.diff(song.tempo.seconds(song.grid.start))
    bars = describe_bars(song.notes, roles, song.grid, seconds)
    assert bars is not None
    return bars


def test_no_note_no_bars() -> None:
    song = song_of({})
    assert describe_bars(song.notes, [], song.grid, np.zeros(song.grid.bars)) is None


@pytest.mark.parametrize(
    ("second", "low", "high"),
    [
        (
            [(4, 1, 60), (5, 1, 64), (6.5, 1, 67)],
            0.97,
            1.001,
        ),  # the same, but for what comes before
        ([(4, 1, 72), (5, 1, 76), (6.5, 1, 79)], 0.97, 1.001),  # an octave up
        ([(4, 1, 61), (5, 1, 65), (6.5, 1, 68)], -0.001, 0.001),  # a semitone up
        ([(4.02, 1, 60), (4.99, 1, 64), (6.51, 1, 67)], 0.97, 1.001),  # played loosely
        ([(4.25, 1, 60), (5.25, 1, 64), (6.75, 1, 67)], 0.5, 0.9),  # a sixteenth late
        ([(4, 1, 60), (5, 1, 64), (6.5, 1, 65)], 0.6, 0.7),  # one of three notes differs
    ],
    ids=["same", "octave", "semitone", "loose", "late", "one note"],
)
def test_likeness_of_two_bars_of_a_tune(second: list[Note], low: float, high: float) -> None:
    alike = Similarity.of(
        described({"Lead": [(0, 1, 60), (1, 1, 64), (2.5, 1, 67), *second]}), ALL
    ).matrices(0, 2)[0]
    assert alike[0, 0] == pytest.approx(1.0, abs=1e-4)
    assert low <= alike[0, 1] <= high
    np.testing.assert_allclose(alike, alike.T)


def test_silence_is_like_silence_and_unlike_sound() -> None:
    # bars: bass, drums, drums, bass and drums
    bars = described({"Bass": [*bass(0, 1), *bass(3, 1, (57,))], "Drums": drums(1, 3)})
    alike = Similarity.of(bars, ("bass",)).matrices(0, 4)[0]
    assert alike[1, 2] == pytest.approx(1.0, abs=1e-4)
    assert alike[0, 1] == pytest.approx(0.0, abs=1e-4)
    assert alike[0, 3] == pytest.approx(1.0, abs=1e-4)


def test_bars_are_alike_in_all_and_in_all_but_the_lead() -> None:
    tune = [(0, 1, 72), (1, 1, 76), (4.5, 1, 79), (5.5, 1, 74)]
    chord: list[Note] = [(at, 4, pitch) for at in (0, 4) for pitch in (48, 52, 55)]
    backing = {"Keys": chord, "Bass": bass(0, 2, (57,)), "Drums": drums(0, 2)}
    whole, others = Similarity.of(described({"Lead": tune, **backing}), ALL).matrices(0, 2)
    assert whole[0, 1] < 0.6
    assert others[0, 1] > 0.98  # but for what the bar lines blur
    no_lead = {"Bass": bass(0, 2), "Drums": drums(0, 2)}
    whole, others = Similarity.of(described(no_lead), ALL).matrices(0, 2)
    assert whole.tolist() == others.tolist()


def test_a_bar_is_as_busy_as_the_second_half_before_it() -> None:
    bars = described({"Lead": [(0, 1, 60), (2, 0.5, 62), (3, 0.5, 64), (4, 1, 65), (8, 1, 60)]})
    assert bars.busy.tolist() == [0.0, 2 / 8, 0.0]


def test_layers_are_told_apart_by_role() -> None:
    bars = described({"Keys": keys(0, 4), "Drums": drums(0, 4), "Bass": bass(0, 4)})
    assert {layer.role for layer in bars.layers} == {"lead", "harmony", "drums", "bass"}
    assert Similarity.of(bars, ("drums",)).matrices(0, 4)[0].min() > 0.98
    assert Similarity.of(bars, ("harmony",)).matrices(0, 4)[0][0, 1] < 0.9


@pytest.mark.parametrize(
    ("hits", "plays"),
    [
        ([(0, 4, 60), (20, 4, 60)], [1, 0, 0, 0, 0, 1]),  # four bars of rest are a change
        ([(0, 4, 60), (12, 4, 60)], [1, 1, 1, 1]),  # two bars are a rest of the line
        ([(0, 4, 60), (19, 1, 60), (20, 4, 60)], [1, 0, 0, 0, 0, 1]),  # a pickup comes before
        ([(0, 16.05, 60), (28, 4, 60)], [1, 1, 1, 1, 0, 0, 0, 1]),  # an end rings over
    ],
    ids=["gone", "rest", "pickup", "rings over"],
)
def test_where_a_line_plays(hits: list[Note], plays: list[int]) -> None:
    assert described({"Bass": hits}).backing[:, 0].tolist() == [bool(p) for p in plays]


def test_what_plays_in_one_bar_alone_does_not_play_before() -> None:
    bars = described({"Drums": drums(0, 2), "Bass": bass(1, 1)})
    assert bars.backing.tolist() == [[False, True], [True, True]]


def test_the_lead_breathes_before_its_phrases() -> None:
    bars = described({"Keys": keys(0, 16), "Lead": tune(0, 16)})
    assert bars.lead is not None and bars.lead.all()
    # the tune rests from beat 2 of each fourth bar to its pickup a beat before the next phrase
    assert bars.gap[[4, 8, 12]].min() > bars.gap[[1, 2, 3, 5, 6, 7]].max()


def test_bars_before_the_first_and_after_the_last_note_do_not_count() -> None:
    bars = described({"Bass": bass(3, 4)})
    assert (bars.first, len(bars), bars.struck) == (3, 4, 3)


def test_meters_do_not_matter_to_likeness() -> None:
    song = song_of({"Keys": keys(0, 8, beats=3)}, ((0, 3, 4),))
    bars = describe_bars(song.notes, ["harmony"], song.grid, np.ones(song.grid.bars))
    assert bars is not None
    alike = Similarity.of(bars, ALL).matrices(0, 8)[0]
    assert np.diagonal(alike, 4).min() > 0.94
    assert np.diagonal(alike, 1).max() < 0.9
