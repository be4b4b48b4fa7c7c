"""The roots handed back as a MIDI file that holds them, tempo, meter and markers, tick by tick."""

from __future__ import annotations

import io
from pathlib import Path

import mido
import numpy as np
import pytest
from beats import heard
from loop_sounds import ROOTS, chords, gliding, write

from basslint.audio.bars import Stated
from basslint.audio.loop import TICKS, hear_loop
from basslint.audio.placed import place_loops
from basslint.audition.guide import Guide, guide, loop_guide
from basslint.cli.main import main
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts, StatedLoop
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import build

BEAT = (
    "tempo 140\ntempo 5 150\nmeter 4/4\nmarker 5 Drop\n"
    "keys | A3+C4+E4:4 | F3+A3+C4:2 G3+B3+D4:2 | C4+E4+G4:4 | E3+G3+B3:4 |*2\n"
    "sub | A1:3.5 .:.5 | F1:2 G1:1.5 .:.5 | C2:3.5 .:.5 | E1:3.5 .:.5 |*2\n"
)


def read_back(made: Guide) -> Chart:
    return Chart(build(scan(made.data)), Facts(harmony=("#1",)))


def roots_by_tick(chart: Chart, ticks: np.ndarray) -> list[int]:
    row = chart.root_at(ticks)
    return [int(chart.roots.root[r]) if r >= 0 else -1 for r in row.tolist()]


@pytest.mark.parametrize("chords", ["", "chords Am F G*2\n", "chords 3 Bb*1/2 Dm*3/2\n"])
def test_read_back_as_harmony_the_guide_gives_the_same_roots(chords: str) -> None:
    chart = heard(chords + BEAT)
    again = read_back(guide(chart))
    ticks = np.arange(0, chart.song.end_tick, 60) + 30
    assert roots_by_tick(again, ticks) == roots_by_tick(chart, ticks)


def test_what_the_song_states_is_kept_at_its_ticks() -> None:
    song = heard(BEAT).song
    kept = read_back(guide(heard(BEAT))).song
    assert kept.division == song.division
    assert kept.end_tick == song.end_tick
    assert kept.tempo.tick.tolist() == song.tempo.tick.tolist()
    assert kept.tempo.usec.tolist() == song.tempo.usec.tolist()
    assert kept.grid.start.tolist() == song.grid.start.tolist()
    assert kept.markers == song.markers


def test_it_is_one_track_of_held_notes_in_the_register_of_a_bass() -> None:
    chart = heard(BEAT)
    midi = mido.MidiFile(file=io.BytesIO(guide(chart).data))
    assert len(midi.tracks) == 1
    song = read_back(guide(chart)).song
    assert len(song.parts) == 1
    assert song.notes.start.tolist() == chart.roots.start.tolist()
    assert song.notes.end.tolist() == chart.roots.end.tolist()
    assert song.notes.pitch[:5].tolist() == [33, 29, 31, 36, 40]  # A1 F1 G1 C2 E2
    loud = np.rint(127 * chart.roots.certainty).astype(int)
    assert song.notes.velocity.tolist() == loud.tolist()


def test_another_octave_is_whole_octaves_away() -> None:
    usual, high = (read_back(guide(heard(BEAT), octave)).song.notes.pitch for octave in (1, 3))
    assert (high - usual).tolist() == [24] * len(usual)


def test_every_root_has_one_place_from_f_up_to_e() -> None:
    chart = heard("tempo 140\nchords C C# D D# E F F# G G# A A# B\nkick | C2:1x4 |*12\n")
    pitches = read_back(guide(chart)).song.notes.pitch
    assert sorted(pitches.tolist()) == list(range(29, 41))


def test_what_is_not_sure_enough_is_left_out_and_listed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    unsure = "tempo 140\nlead | E5:1 D5:.5 C5:1.5 B4:1 | A4:2 C5:1 B4:1 | G4:1.5 A4:.5 B4:2 |*3\n"
    chart = heard(unsure)
    made = guide(chart)
    told = chart.roots.root >= 0
    assert made.left_out == tuple(np.flatnonzero(told & (chart.roots.certainty < 0.87)).tolist())
    assert made.left_out
    assert made.notes + len(made.left_out) == told.sum()
    song, out = tmp_path / "tune.mid", tmp_path / "guide.mid"
    song.write_bytes(compile_beat(unsure).data)
    assert main(["chart", str(song), "--guide", str(out)]) == 0
    said = capsys.readouterr().err
    assert f"Wrote {out}: " in said
    assert "not sure enough and left out: bar 1, beat 1 (" in said
    assert out.read_bytes() == made.data


def test_the_song_is_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    song = tmp_path / "a.mid"
    data = compile_beat(BEAT).data
    song.write_bytes(data)
    assert main(["chart", str(song), "--guide", str(song)]) == 2
    assert "is read by this command" in capsys.readouterr().err
    assert song.read_bytes() == data


def test_the_guide_of_a_loop_plays_its_roots_at_its_tempo(tmp_path):
    loop = hear_loop(write(tmp_path / "loop.wav", chords(100.0)), Stated(bpm=100.0))
    song = read_back(loop_guide(loop)).song
    assert [int(p) % 12 for p in song.notes.pitch] == list(ROOTS)
    assert all(29 <= p <= 40 for p in song.notes.pitch.tolist())
    assert song.tempo.bpm_at(0) == pytest.approx(100.0, abs=0.01) and song.grid.bars == 4
    high = read_back(loop_guide(loop, octave=2)).song.notes.pitch
    assert (high - song.notes.pitch).tolist() == [12] * len(high)


def test_a_glide_is_handed_back_as_both_of_its_roots_one_after_the_other(tmp_path):
    loop = hear_loop(write(tmp_path / "slide.wav", gliding()), Stated(bpm=100.0))
    notes = read_back(loop_guide(loop)).song.notes
    assert [int(p) % 12 for p in notes.pitch] == [9, 2]
    middle = 15.5 * TICKS  # of the sixteenth beat
    assert notes.end[0] == notes.start[1] == pytest.approx(middle, abs=TICKS / 2)


def test_a_song_over_a_gliding_loop_gets_both_roots_too(tmp_path):
    file = write(tmp_path / "slide.wav", gliding())
    song = build(scan(compile_beat("tempo 100\nkick | C2:1x4 |*8\n").data))
    loops = place_loops(song, (StatedLoop(file=str(file)),), 600.0)
    notes = read_back(guide(Chart(song, Facts(), "", loops))).song.notes
    assert [int(p) % 12 for p in notes.pitch] == [9, 2]
    assert notes.end[0] == notes.start[1]
