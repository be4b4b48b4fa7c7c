"""Phrases. Where no source is named, the expected place is common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from phrase_songs import LONG_LOOP, Note, bass, drums, full, keys, song_of, tune

from basslint.hear.form.phrases import Phrases, hear_phrases
from basslint.hear.parts.parts import hear_parts
from basslint.song.arrangement import Song


def heard(song: Song) -> Phrases:
    return hear_phrases(song, hear_parts(song))


def with_intro(intro: Mapping[str, list[Note]], first: int, bars: int) -> dict[str, list[Note]]:
    lines = full(first, bars)
    return {name: [*intro.get(name, []), *notes] for name, notes in lines.items()}


INTROS = {
    "keys alone": lambda bars: {"Keys": keys(0, bars, (57,))},
    "drums alone": lambda bars: {"Drums": drums(0, bars)},
}


@pytest.mark.parametrize(
    "lines",
    [
        full(0, 32),
        full(0, 16),
        full(0, 32, LONG_LOOP),
        {"Keys": keys(0, 32)},
        {"Bass": bass(0, 16)},
    ],
    ids=["loop of four", "short", "loop of eight", "keys alone", "bass alone"],
)
def test_plain_loops_go_in_fours_and_eights(lines: dict[str, list[Note]]) -> None:
    phrases = heard(song_of(lines))
    assert len(phrases) >= 2
    assert set((phrases.end_bar - phrases.start_bar).tolist()) <= {4, 8}
    assert (phrases.chance[1:-1][np.arange(1, len(phrases.chance) - 1) % 4 > 0] < 0.1).all()


@pytest.mark.parametrize("bars", [1, 2, 3, 4, 5, 7, 8])
@pytest.mark.parametrize("intro", INTROS)
def test_phrases_count_from_the_end_of_an_intro_of_any_length(intro: str, bars: int) -> None:
    phrases = heard(song_of(with_intro(INTROS[intro](bars), bars, 16)))
    assert phrases.start_bar[0] == 0
    body = phrases.start_bar >= bars
    assert bars in phrases.start_bar
    assert ((phrases.start_bar[body] - bars) % 4 == 0).all()
    assert set((phrases.end_bar - phrases.start_bar)[body].tolist()) <= {4, 8}


def test_pickup_before_the_first_downbeat() -> None:
    lines = full(1, 16)
    lines["Bass"] = [(3, 0.5, 31), (3.5, 0.5, 32), *lines["Bass"]]
    starts = heard(song_of(lines)).start_bar
    assert starts[:2].tolist() == [0, 1]
    assert ((starts[1:] - 1) % 4 == 0).all()


@pytest.mark.parametrize("at", [2, 3, 5])
def test_a_roll_in_the_bass_moves_no_phrase(at: int) -> None:
    plain = full(0, 32)
    rolled = dict(plain)
    roll = [(at * 4 + 2 + i / 12, 1 / 12, 33) for i in range(24)]
    rolled["Bass"] = [*(n for n in plain["Bass"] if not at * 4 + 2 <= n[0] < at * 4 + 4), *roll]
    assert heard(song_of(rolled)).start_bar.tolist() == heard(song_of(plain)).start_bar.tolist()


@pytest.mark.parametrize(
    ("meters", "beats"),
    [(((0, 3, 4),), 3), (((0, 6, 8),), 3), (((0, 5, 4),), 5)],
    ids=["3/4", "6/8", "5/4"],
)
def test_phrases_begin_on_fours_of_bars_in_other_meters_too(
    meters: tuple[tuple[float, int, int], ...], beats: int
) -> None:
    lines = {
        "Keys": keys(0, 16, beats=beats),
        "Drums": drums(0, 16, beats),
        "Bass": bass(0, 16, beats=beats),
    }
    starts = heard(song_of(lines, meters)).start_bar
    assert len(starts) >= 2
    assert (starts % 4 == 0).all()


def test_meter_change_on_the_way() -> None:
    # eight bars of 4/4, then eight of 3/4 from quarter 32 on
    early, late = full(0, 8), {"Keys": keys(0, 8, beats=3), "Drums": drums(0, 8, 3)}
    late["Bass"] = bass(0, 8, beats=3)
    lines = {
        name: [*early[name], *((s + 32, length, p) for s, length, p in late[name])]
        for name in early
    }
    starts = heard(song_of(lines, ((0, 4, 4), (32, 3, 4)))).start_bar
    assert 8 in starts
    assert (starts % 4 == 0).all()


def test_sections_begin_where_parts_come_and_go() -> None:
    lines = full(0, 32)
    lines["Drums"] = [*drums(0, 10), *drums(18, 14)]  # ten bars, eight without, fourteen
    phrases = heard(song_of(lines))
    assert {10, 18} <= set(phrases.start_bar.tolist())
    row = phrases.start_bar.tolist().index(10)
    assert phrases.why[row] == "entry"


def test_a_tune_tells_phrases_of_odd_length() -> None:
    # the tune's second time comes a bar late, as where a bar was put in
    lines = {"Keys": keys(0, 21, (57, 57)), "Lead": [*tune(0, 8), *tune(9, 12)]}
    starts = heard(song_of(lines)).start_bar.tolist()
    assert 9 in starts
    assert 8 not in starts


def test_letters_name_the_material() -> None:
    other = (50, 58, 57, 52)
    lines = {"Keys": [*keys(0, 8), *keys(8, 8, other), *keys(16, 8)], "Drums": drums(0, 24)}
    phrases = heard(song_of(lines))
    at = dict(zip(phrases.start_bar.tolist(), phrases.label, strict=True))
    assert at[0] == at[16] != at[8]
    assert at[0] == "A"


def test_silent_phrases_have_one_letter() -> None:
    """They hold the same: nothing. Each had a letter of its own."""
    lines = {"Keys": [*keys(0, 8), *keys(64, 8)], "Drums": drums(0, 8)}
    phrases = heard(song_of(lines))
    silent = [
        label
        for begin, end, label in zip(phrases.start_bar, phrases.end_bar, phrases.label, strict=True)
        if begin >= 12 and end <= 60
    ]
    assert len(silent) > 2 and len(set(silent)) == 1


@pytest.mark.parametrize("bars", [6, 7, 10])
def test_a_phrase_begins_where_the_tune_comes_in(bars: int) -> None:
    lines = {"Keys": keys(0, bars + 16, (57,)), "Lead": tune(bars, 16)}
    assert bars in heard(song_of(lines)).start_bar


def test_two_bars_without_drums_are_a_break_and_no_phrase() -> None:
    lines = full(0, 32)
    lines["Drums"] = [*drums(0, 13), *drums(15, 17)]
    starts = heard(song_of(lines)).start_bar.tolist()
    assert not {13, 15} & set(starts)


def test_intro_and_outro_are_called_so_where_the_tune_is_yet_to_come_or_gone() -> None:
    lines = {"Keys": keys(0, 24), "Drums": drums(4, 16), "Lead": tune(4, 16)}
    phrases = heard(song_of(lines))
    assert phrases.label[0] == "intro"
    assert phrases.end_bar[0] == 4
    assert phrases.label[-1] == "outro"
    assert phrases.start_bar[-1] == 20


@pytest.mark.parametrize("track", [0, 1, 3])
def test_markers_of_any_track_come_first(track: int) -> None:
    markers = ((0, "Intro"), (24, "Verse"), (52, "Hook"))  # bars 0, 6, 13: no fours or eights
    phrases = heard(song_of(full(0, 24), markers=markers, marker_track=track))
    rows = zip(phrases.start_bar.tolist(), phrases.label, phrases.why, strict=True)
    told = {bar: (label, why) for bar, label, why in rows}
    for quarter, text in markers:
        assert told[int(quarter // 4)] == (text, "marker")
    assert (phrases.certainty[np.array(phrases.why) == "marker"] > 0.9).all()


@pytest.mark.parametrize(
    "markers",
    [
        tuple((i * 4, name) for i, name in enumerate(["Am", "F", "C", "G"] * 4)),
        ((8, "loopStart"), (56, "loopEnd")),
        ((9.5, "here"), (22.5, "there"), (30.5, "and there")),
        ((8, "  "), (12, "")),
        ((10_000, "after the end"),),
        ((0, "Title of the beat"),),
    ],
    ids=["chord names", "loop points", "inside bars", "blank", "too late", "title"],
)
def test_markers_without_sense_are_left_alone(markers: tuple[tuple[float, str], ...]) -> None:
    lines = full(0, 16)
    plain, marked = heard(song_of(lines)), heard(song_of(lines, markers=markers))
    assert marked.start_bar.tolist() == plain.start_bar.tolist()
    assert marked.why == plain.why


def test_a_song_without_notes_has_no_phrases() -> None:
    phrases = heard(song_of({}))
    assert len(phrases) == 0
    assert not phrases.chance.any()


def test_a_single_bar_is_one_phrase() -> None:
    phrases = heard(song_of({"Bass": bass(0, 1)}))
    assert (phrases.start_bar.tolist(), phrases.end_bar.tolist()) == ([0], [1])
    assert phrases.certainty.tolist() == [1.0]


def test_what_rings_on_begins_no_phrase() -> None:
    lines = full(0, 8)
    lines["Keys"] = [*keys(0, 8), (32, 120, 57)]  # a chord left ringing for thirty bars
    phrases = heard(song_of(lines))
    assert phrases.start_bar[-1] <= 8
    assert phrases.end_bar[-1] >= 30


def test_no_phrase_is_longer_than_sixteen_bars_however_unclear() -> None:
    dice = np.random.default_rng(1)
    noise = [(n / 2, 0.5, int(p)) for n, p in enumerate(dice.integers(60, 84, 8 * 120))]
    phrases = heard(song_of({"Keys": noise}))
    assert (phrases.end_bar - phrases.start_bar).max() <= 16


def test_thousands_of_bars_stay_affordable() -> None:
    phrases = heard(song_of({"Keys": [(i * 4, 4, 57 + i % 4) for i in range(2_400)]}))
    assert phrases.end_bar[-1] == 2_400
    assert (phrases.end_bar - phrases.start_bar).max() <= 16


def song_lines(seed: int) -> dict[str, list[Note]]:
    """A song by dice: intro, sections with and without tune, loops of four or eight."""
    dice = np.random.default_rng(seed)
    at = int(dice.integers(1, 6))
    lines: dict[str, list[Note]] = {"Keys": keys(0, at), "Drums": [], "Bass": [], "Lead": []}
    for _ in range(int(dice.integers(1, 4))):
        bars = int(dice.choice((4, 6, 8, 16)))
        loop = tuple(int(p) for p in dice.integers(48, 60, 4))
        lines["Keys"] += keys(at, bars, loop)
        lines["Bass"] += bass(at, bars, loop)
        if dice.random() < 0.7:
            lines["Drums"] += drums(at, bars)
        if dice.random() < 0.6:
            lines["Lead"] += tune(at, bars - bars % 4)
        at += bars
    return {name: notes for name, notes in lines.items() if notes}


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.integers(-5, 5))
def test_transposition_changes_nothing(seed: int, by: int) -> None:
    lines = song_lines(seed)
    moved = {
        name: [(s, length, p + by * (name != "Drums")) for s, length, p in notes]
        for name, notes in lines.items()
    }
    song, other = song_of(lines), song_of(moved)
    parts = hear_parts(song)  # roles may depend on register, phrases must not
    one, two = hear_phrases(song, parts), hear_phrases(other, parts)
    assert one.start_bar.tolist() == two.start_bar.tolist()
    assert (one.label, one.why) == (two.label, two.why)
    np.testing.assert_allclose(one.chance, two.chance, atol=1e-6)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from((1, 3, 4, 8, 12)))
def test_silent_bars_in_front_shift_the_phrases_and_nothing_else(seed: int, bars: int) -> None:
    lines = song_lines(seed)
    late = {
        name: [(s + 4 * bars, length, p) for s, length, p in notes] for name, notes in lines.items()
    }
    song = song_of(lines)
    parts = hear_parts(song)
    one, two = hear_phrases(song, parts), hear_phrases(song_of(late), parts)
    assert (one.start_bar + bars).tolist() == two.start_bar.tolist()
    assert (one.end_bar + bars).tolist() == two.end_bar.tolist()
    assert (one.label, one.why) == (two.label, two.why)
    np.testing.assert_allclose(one.certainty, two.certainty, atol=1e-6)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_phrases_tile_the_sounding_bars(seed: int) -> None:
    song = song_of(song_lines(seed))
    phrases = heard(song)
    assert phrases.start_bar[0] == 0
    assert phrases.start_bar[1:].tolist() == phrases.end_bar[:-1].tolist()
    assert phrases.end_bar[-1] == song.grid.bars
    assert (phrases.end_bar > phrases.start_bar).all()
    assert ((phrases.chance >= 0) & (phrases.chance <= 1)).all()
    assert phrases.chance[phrases.start_bar].tolist() == phrases.certainty.tolist()


@pytest.mark.parametrize(
    ("bars", "kept"),
    [
        ((0, 1, 8), True),  # one of two gaps is a bar: an upbeat before a section
        ((0, 1, 2, 8), False),  # two of three are: chord names
    ],
)
def test_markers_are_sections_while_no_more_than_half_stand_a_bar_apart(
    bars: tuple[int, ...], kept: bool
) -> None:
    markers = tuple((4 * bar, f"part {bar}") for bar in bars)
    phrases = heard(song_of(full(0, 16), markers=markers))
    assert ("marker" in phrases.why) == kept


@pytest.mark.parametrize(("inside", "kept"), [(2, True), (3, False)])
def test_markers_are_sections_while_no_more_than_half_stand_inside_bars(
    inside: int, kept: bool
) -> None:
    on = [(0, "here"), (24, "there")]
    off = [(4 * bar + 1.5, f"word {bar}") for bar in (2, 8, 12)[:inside]]
    phrases = heard(song_of(full(0, 16), markers=[*on, *off]))
    assert ("marker" in phrases.why) == kept
