"""Loops of sound in an audition: at their turns, as high as stated, silent where alone is asked."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import soundfile
from loop_sounds import RATE, tone, write

from basslint.audio.placed import place_loops
from basslint.audition.embedded import carried
from basslint.audition.loops import LEVEL, loop_sounds
from basslint.audition.mix import render
from basslint.audition.sounds import Wish
from basslint.errors import SoundError
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts, StatedLoop
from basslint.rulebook.notation import compile_beat
from basslint.smf.scan import scan
from basslint.song.arrangement import build

BEAT = "tempo 100\nsub | A1:4 |*4\n"


@pytest.fixture
def chart(tmp_path):
    sound = np.concatenate([tone(69, 2.4, 9.0)] * 2)  # A4, two bars at 100 bpm
    path = write(tmp_path / "a.wav", np.concatenate((np.zeros(RATE // 10), sound * 0.2)))
    stated = StatedLoop(file=str(path), bars=2, begins_s=0.1, at=((2, 4),), semitones=12.0)
    song = build(scan(compile_beat(BEAT).data))
    return Chart(song, Facts(loops=(stated,)), "", place_loops(song, [stated], 600))


def test_turns_begin_on_their_bars_and_sound_higher(chart):
    pieces = list(loop_sounds(chart, 0, int(chart.song.grid.start[-1]), 44_100))
    assert [at / 44_100 for at, _ in pieces] == pytest.approx([2.4, 7.2], abs=0.001)
    first = pieces[0][1]
    assert np.abs(first).max() <= LEVEL + 1e-9
    spectrum = np.abs(np.fft.rfft(first[:44_100]))
    assert int(spectrum.argmax()) == pytest.approx(880, abs=2)
    assert not first[-44_100:].any()  # an octave up it is over in half of its bars


def test_alone_means_without_the_loop(chart):
    with_loop, alone = render(chart, Wish()), render(chart, Wish(solo=True))
    assert len(with_loop) == len(alone)
    plain = Chart(chart.song, Facts())
    assert np.array_equal(render(plain, Wish(solo=True)), alone)
    assert not np.array_equal(render(plain, Wish()), with_loop)


def test_a_turn_late_in_a_long_file_sounds_what_lies_there(tmp_path):
    """Only what sounds of a file is looked at, from its first bar line on."""
    sound = np.concatenate((tone(57, 3.0, 9.0), tone(69, 4.8, 9.0), tone(57, 3.0, 9.0)))
    path = write(tmp_path / "long.wav", sound * 0.2)
    stated = StatedLoop(file=str(path), bars=2, begins_s=3.0)
    song = build(scan(compile_beat(BEAT).data))
    chart = Chart(song, Facts(loops=(stated,)), "", place_loops(song, [stated], 600))
    pieces = list(loop_sounds(chart, 0, int(chart.song.grid.start[-1]), RATE))
    assert [len(turn) / RATE for _, turn in pieces] == pytest.approx([4.8, 4.8], abs=0.001)
    for _, turn in pieces:
        assert int(np.abs(np.fft.rfft(turn[:RATE])).argmax()) == pytest.approx(440, abs=2)
        assert int(np.abs(np.fft.rfft(turn[-RATE:])).argmax()) == pytest.approx(440, abs=2)


def test_a_pickup_sounds_before_each_repeat(tmp_path):
    """Of a file that is cut to bars, what stands before the bar line comes after its end."""
    beat = 0.6
    sound = np.concatenate((tone(69, beat, 9.0), np.tile(tone(57, beat, 9.0), 7)))  # A4, then A3
    path = write(tmp_path / "a.wav", sound * 0.2)
    stated = StatedLoop(file=str(path), bars=2, begins_beats=-1.0)
    song = build(scan(compile_beat(BEAT).data))
    chart = Chart(song, Facts(loops=(stated,)), "", place_loops(song, [stated], 600))
    turns = [turn for _, turn in loop_sounds(chart, 0, int(chart.song.grid.start[-1]), RATE)]
    assert len(turns) == 2
    for turn in turns:
        beats = turn[: 8 * round(beat * RATE)].reshape(8, -1)
        loudest = np.abs(np.fft.rfft(beats)).argmax(axis=1) / beat
        assert loudest == pytest.approx([220] * 7 + [440], abs=2)
    ((data, rate),) = carried(chart).sounds  # and on the page
    page = soundfile.read(io.BytesIO(data))[0]
    assert int(np.abs(np.fft.rfft(page[-round(beat * rate) :])).argmax()) / beat == pytest.approx(
        440, abs=2
    )


def test_a_file_that_is_damaged_by_then_is_told(chart):
    """The ear may have heard it while it was whole, or where it is: a reader in parts fails."""
    name = chart.facts.loops[0].file
    Path(name).write_bytes(b"fLaC" + bytes(400))
    with pytest.raises(SoundError, match=r"a\.wav cannot be read as a sound"):
        list(loop_sounds(chart, 0, int(chart.song.grid.start[-1]), 44_100))
    own = carried(chart)
    assert not own.sounds and not own.loops
    assert own.left_out[0].startswith("a.wav is not heard here: ")
    assert "cannot be read as a sound" in own.left_out[0]
