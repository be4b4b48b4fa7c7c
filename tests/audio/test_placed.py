"""Loops in a song: where their roots land, how they are taken, and what is judged over them."""

from __future__ import annotations

import re
from pathlib import Path

import mido
import numpy as np
import pytest
from loop_sounds import RATE, ROOTS, chords, hits, write

from basslint.audio.placed import place_loops
from basslint.checking.one_file import check_bytes
from basslint.errors import SoundError
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts, StatedLoop
from basslint.hear.harmony.roots import CERTAIN
from basslint.hear.harmony.sources import LOOP
from basslint.judging.coverage import coverage
from basslint.readings.over_loop import over_loop
from basslint.rulebook.loader import read_book
from basslint.settings.model import Settings
from basslint.smf.scan import scan
from basslint.song.arrangement import build
from basslint.util.records import replace

BPM = 100


def beat(path: Path, pitches, division: int = 96) -> bytes:
    """One bass note for each bar of 4/4."""
    midi = mido.MidiFile(type=1, ticks_per_beat=division)
    tempo = mido.MetaMessage("set_tempo", tempo=round(60e6 / BPM))
    meter = mido.MetaMessage("time_signature", numerator=4, denominator=4)
    track = mido.MidiTrack([mido.MetaMessage("track_name", name="Sub")])
    for pitch in pitches:
        track.append(mido.Message("note_on", note=pitch, velocity=100))
        track.append(mido.Message("note_off", note=pitch, time=4 * division))
    midi.tracks += [mido.MidiTrack([tempo, meter]), track]
    midi.save(path)
    return path.read_bytes()


@pytest.fixture
def song(tmp_path):
    return build(scan(beat(tmp_path / "b.mid", (36, 33, 29, 31) * 3)))


@pytest.fixture
def loop(tmp_path):
    return str(write(tmp_path / "loop.wav", chords(BPM)))


def per_bar(song, loops) -> list[int]:
    """Root in the middle of each bar of the song, −1 where none is told, −2 outside."""
    roots, found = loops.roots, []
    for tick in (song.grid.start[:-1] + song.grid.start[1:]) // 2:
        row = np.flatnonzero((roots.start <= tick) & (roots.end > tick))
        found.append(int(roots.root[row[0]]) if len(row) else -2)
    return found


def test_a_loop_fills_the_song_and_says_how_it_was_taken(song, loop):
    placed = place_loops(song, [StatedLoop(file=loop)], 600)
    assert per_bar(song, placed) == list(ROOTS) * 3
    assert (placed.roots.source == LOOP).all()
    assert placed.remarks == ("loop.wav is taken as 4 bars, by its length and the song's tempo.",)
    assert place_loops(song, [StatedLoop(file=loop, bars=4)], 600).remarks == ()


def test_it_plays_only_in_its_bars_and_as_the_sampler_plays_it(song, loop):
    stated = StatedLoop(file=loop, at=((3, 4), (9, 40)), bars=4, semitones=-3.0)
    placed = place_loops(song, [stated], 600)
    want = [-2, -2, 9, 6, -2, -2, -2, -2, 9, 6, 2, 4]
    assert per_bar(song, placed) == want
    assert placed.start.tolist() == [song.grid.start[2], song.grid.start[8]]


def test_a_loop_that_plays_in_no_bar_of_the_song_is_told(song, loop):
    late = StatedLoop(file=loop, at=((20, 24), (17, 18)), bars=4)
    placed = place_loops(song, [late], 600)
    assert placed.remarks == (
        "loop.wav plays nowhere: `at` begins with bar 17, the song has 12 bars.",
    )
    assert not len(placed.roots) and not len(placed.start)
    assert len(place_loops(song, [late, StatedLoop(file=loop, bars=4)], 600).roots)


def test_how_a_file_is_taken_is_told_once(song, loop):
    twice = [StatedLoop(file=loop, at=((1, 4),)), StatedLoop(file=loop, at=((5, 8),))]
    assert len(place_loops(song, twice, 600).remarks) == 1


@pytest.mark.parametrize(("sure", "judged"), [(0.88, 12), (0.8, 0)])
def test_the_head_counts_the_bars_in_which_roots_are_judged(song, loop, sure, judged):
    """As surely as the rule of roots asks of a loop: .87 (`CERTAIN`)."""
    stated = StatedLoop(file=loop)
    placed = place_loops(song, [stated], 600)
    roots = replace(placed.roots, certainty=np.full(len(placed.roots), sure))
    chart = Chart(song, Facts(loops=(stated,)), "", replace(placed, roots=roots))
    assert (coverage(chart).judged, coverage(chart).bars) == (judged, 12)


@pytest.mark.parametrize(("cents", "higher", "off"), [(-60.0, 0, -15), (15.0, 1, -40)])
def test_its_tuning_counts_for_the_notes_that_the_sampler_plays(song, tmp_path, cents, higher, off):
    """A loop 45 cents sharp that is played 60 down stands 15 flat of the same notes."""
    sharp = str(write(tmp_path / "sharp.wav", chords(BPM, cents=45.0)))
    placed = place_loops(song, [StatedLoop(file=sharp, bars=4, cents=cents)], 600)
    assert per_bar(song, placed) == [(root + higher) % 12 for root in ROOTS] * 3
    assert placed.cents == pytest.approx(off, abs=4)


def test_what_is_stated_later_lies_on_top(song, loop, tmp_path):
    other = str(write(tmp_path / "other.wav", chords(BPM, ((50, 57, 62, 65),) * 4)))
    placed = place_loops(
        song, [StatedLoop(file=loop), StatedLoop(file=other, at=((1, 4),), bars=4)], 600
    )
    assert per_bar(song, placed) == [2] * 4 + list(ROOTS) * 2


def test_a_loop_at_another_tempo_keeps_its_bars(song, tmp_path):
    slow = str(write(tmp_path / "slow.wav", chords(90.0)))
    placed = place_loops(song, [StatedLoop(file=slow, bars=4)], 600)
    assert per_bar(song, placed) == list(ROOTS) * 3
    assert "plays at 90.0 bpm, the song at 100.0" in placed.remarks[0]


@pytest.mark.parametrize(("bpm", "told"), [(100.0, ["84.1"]), (100.0 * 2 ** (3 / 12), [])])
def test_a_loop_that_its_pitch_makes_slower_than_the_song_is_told(song, tmp_path, bpm, told):
    """Three semitones down it takes 1.19 times as long: it fits if it was that much too fast."""
    path = str(write(tmp_path / "a.wav", chords(bpm)))
    placed = place_loops(song, [StatedLoop(file=path, bars=4, semitones=-3.0)], 600)
    assert per_bar(song, placed) == [(root - 3) % 12 for root in ROOTS] * 3
    assert [re.findall(r"plays at (\S+) bpm", said)[0] for said in placed.remarks] == told


def test_a_loop_of_another_tempo_is_told_and_not_cut(song, tmp_path):
    """At 69 bpm its four bars last 5.8 of the song's: five bars and a part would be left."""
    other = str(write(tmp_path / "other.wav", chords(69.0)))
    placed = place_loops(song, [StatedLoop(file=other)], 600)
    assert set(per_bar(song, placed)) == {-2} and placed.sounds == ()
    (said,) = placed.remarks
    assert "at 100.0 bpm: after 4 bars its music goes on for 4.3" in said and "no roots" in said
    fit = re.search(r"fits (\S+) bpm, with bars = (\d+)", said)  # half or double time fits too
    assert fit and float(fit[1]) / int(fit[2]) == pytest.approx(69.0 / 4, rel=0.005)
    # what is stated is obeyed, and so is a sampler that plays it 6.4 semitones faster
    for stated in (StatedLoop(file=other, bars=4), StatedLoop(file=other, semitones=6, cents=42)):
        placed = place_loops(song, [stated], 600)
        higher = round(stated.semitones + stated.cents / 100.0)
        roots = [(root + higher) % 12 for root in ROOTS]
        assert per_bar(song, placed) == roots * 3 and placed.sounds


@pytest.mark.parametrize("t60_s", [0.6, 2.0, 6.0])
@pytest.mark.parametrize("silence_s", [0.0, 0.35])
def test_a_tail_and_silence_are_no_music_that_is_cut_off(song, tmp_path, t60_s, silence_s):
    """The last chord rings on for 1.5 s, and 0.5 s of silence follow."""
    time = np.arange(round(1.5 * RATE)) / RATE
    hertz = 440.0 * 2.0 ** ((np.array([[43], [55], [59], [62]]) - 69.0) / 12.0)
    tail = 0.1 * np.sin(2 * np.pi * hertz * time).sum(axis=0) * 10 ** (-3 * time / t60_s)
    before, after = np.zeros(round(silence_s * RATE)), np.zeros(RATE // 2)
    sound = np.concatenate((before, chords(BPM), tail, after))
    path = str(write(tmp_path / "tail.wav", sound))
    placed = place_loops(song, [StatedLoop(file=path)], 600)
    assert per_bar(song, placed) == list(ROOTS) * 3
    assert any("taken as 4 bars" in remark for remark in placed.remarks)


def test_drums_bring_no_harmony(song, tmp_path):
    drums = str(write(tmp_path / "drums.wav", hits(BPM, 16)))
    placed = place_loops(song, [StatedLoop(file=drums)], 600)
    assert not (placed.roots.certainty >= 0.87).any()
    assert any("No harmony is heard" in r for r in placed.remarks)


def test_a_missing_loop_is_told(song, tmp_path):
    with pytest.raises(SoundError, match="does not exist"):
        place_loops(song, [StatedLoop(file=str(tmp_path / "gone.wav"))], 600)


def test_a_wrong_root_over_a_loop_is_found_and_mended_notes_are_silent(tmp_path, loop):
    book = [rule for rule in read_book() if rule.name == "off-root"]
    settings = Settings(facts=Facts(loops=(StatedLoop(file=loop),)))
    pitches = [36, 33, 29, 31] * 3
    right = check_bytes(beat(tmp_path / "b.mid", pitches), "b.mid", settings, book)
    assert right.problem is None and right.findings == ()
    pitches[6] = 30
    wrong = check_bytes(beat(tmp_path / "b.mid", pitches), "b.mid", settings, book)
    (finding,) = wrong.findings
    assert finding.rule == "off-root" and "F#" in finding.message
    assert any("taken as 4 bars" in warning for warning in wrong.warnings)


@pytest.mark.parametrize(("bars", "judged"), [((6,), True), ((2, 6, 10), False)])
def test_under_a_doubtful_chord_other_copies_let_a_note_be_judged(tmp_path, bars, judged):
    """D over F, A, C: it does not sound, no neighbour rubs; the other turns have F there."""
    doubtful = str(write(tmp_path / "q.wav", chords(BPM, cents=49.0)))
    pitches = [36, 33, 29, 31] * 3
    for bar in bars:
        pitches[bar] = 38
    settings = Settings(facts=Facts(loops=(StatedLoop(file=doubtful),)))
    data = beat(tmp_path / "b.mid", pitches)
    chart = check_bytes(data, "b.mid", settings, []).chart
    assert chart is not None and chart.roots.certainty.max() < CERTAIN
    unclear, moving, _ = over_loop(chart)
    assert bool(unclear[6]) is not judged and not moving[6]


def test_near_a_quarter_tone_no_note_of_either_reading_is_wrong(tmp_path):
    """F sounds 49 cents sharp, or F# 51 cents flat: no telling which the bass should play."""
    between = str(write(tmp_path / "q.wav", chords(BPM, cents=49.0)))
    pitches = [36, 33, 30, 31] * 3
    said = findings(tmp_path, "off-root", beat(tmp_path / "b.mid", pitches), between)
    assert said == ()
    pitches[2] = 35
    assert findings(tmp_path, "off-root", beat(tmp_path / "b.mid", pitches), between)


def findings(tmp_path, name: str, data: bytes, loop_path: str) -> tuple[str, ...]:
    """What one rule says of a beat over a loop."""
    book = [rule for rule in read_book() if rule.name == name]
    settings = Settings(facts=Facts(loops=(StatedLoop(file=loop_path),)))
    report = check_bytes(data, "b.mid", settings, book)
    assert report.problem is None
    return tuple(found.message for found in report.findings)


def test_a_bass_apart_from_a_loop_in_tuning_is_told(tmp_path, loop):
    data = beat(tmp_path / "b.mid", (36, 33, 29, 31) * 2)
    off = str(write(tmp_path / "off.wav", chords(BPM, cents=35.0)))
    (message,) = findings(tmp_path, "bass-off-loop", data, off)
    assert "flat of off.wav" in message
    assert findings(tmp_path, "bass-off-loop", data, loop) == ()
    drums = str(write(tmp_path / "drums.wav", hits(BPM, 16)))
    assert findings(tmp_path, "bass-off-loop", data, drums) == ()


def test_a_bass_apart_from_a_loop_by_semitones_is_told_with_what_the_loop_is_stated_as(
    tmp_path, loop
):
    data = beat(tmp_path / "b.mid", (39, 36, 32, 34) * 4)
    (message,) = findings(tmp_path, "bass-shifted", data, loop)
    assert "a minor third above" in message and "state its `semitones`" in message


def test_parts_that_play_other_chords_than_the_loop_are_told(tmp_path, loop):
    keys = mido.MidiTrack([mido.MetaMessage("track_name", name="Keys")])
    for chord in ((60, 64, 67), (57, 60, 64), (54, 58, 61), (55, 59, 62)) * 3:
        keys += [mido.Message("note_on", note=p, velocity=90, channel=1) for p in chord]
        keys += [
            mido.Message("note_off", note=p, channel=1, time=0 if i else 4 * 96)
            for i, p in enumerate(chord)
        ]
    beat(tmp_path / "b.mid", (36, 33, 29, 31) * 3)
    midi = mido.MidiFile(tmp_path / "b.mid")
    midi.tracks.append(keys)
    midi.save(tmp_path / "keys.mid")
    told = findings(tmp_path, "chords-disagree", (tmp_path / "keys.mid").read_bytes(), loop)
    assert told and all("The loop sounds F" in m and "Keys: a semitone" in m for m in told)
