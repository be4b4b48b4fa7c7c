"""`basslint chart LOOP.wav`: what is stated of a loop, what is printed, what is refused."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from loop_sounds import PROGRESSION, RATE, chords, hits, write

from basslint.cli.main import main
from basslint.rulebook.notation import compile_beat

ROOT = Path(__file__).parents[2]


@pytest.fixture
def loop(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "loop.wav", chords(100.0))
    return tmp_path


def test_a_loop_is_charted_as_text_and_json(loop, capsys):
    assert main(["chart", "loop.wav", "--bpm", "100"]) == 0
    text = capsys.readouterr().out
    assert "4 of 4/4 at 100 bpm" in text and "Am" in text and "C major" in text
    assert main(["chart", "loop.wav", "--bpm", "100", "--format", "json"]) == 0
    value = json.loads(capsys.readouterr().out)
    assert value["bars"] == 4 and [r["root"] for r in value["roots"]] == ["C", "A", "F", "G"]
    assert value["roots"][1]["start_beat"] == 5.0


def test_a_root_over_the_end_of_a_file_with_a_pickup_has_its_whole_length(loop, capsys):
    write(loop / "pickup.wav", np.roll(chords(100.0), round(0.6 * RATE)))
    assert main(["chart", "pickup.wav", "--bpm", "100", "--begins", "-1 beat"]) == 0
    assert "bar 4 beat 1, 4 beats  G " in capsys.readouterr().out


def test_a_guide_and_an_output_file_are_written(loop, capsys):
    words = ["chart", "loop.wav", "--bpm", "100", "--guide", "g.mid", "--output", "o.txt"]
    assert main(words) == 0
    assert capsys.readouterr().out == ""
    assert (loop / "g.mid").read_bytes()[:4] == b"MThd"
    assert "roots" in (loop / "o.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (["loop.wav", "--bpm", "3"], "no tempo of a loop"),
        (["loop.wav", "--bars", "0"], "no length in bars"),
        (["loop.wav", "--meter", "4/5"], "no meter"),
        (["loop.wav", "--begins", "2 beats"], "no pickup"),
        (["loop.wav", "--begins", "soon"], "soon"),
        (["loop.wav", "--bpm", "100", "--bars", "64"], "64 bars do not fit"),
        (["gone.wav"], "does not exist"),
        (["loop.wav", "--key", "C major"], "--key is for songs"),
        (["loop.wav", "--begins", "-35ms"], "no length of time"),
        (["loop.wav", "--bars", "64"], "would run at 1,600 bpm"),
        (["beat.mid", "--loop", ""], "A path is empty"),
        (["beat.mid", "--bpm", "100"], "for loops of sound"),
        (["loop.wav", "--guide", "loop.wav"], "not written over"),
    ],
)
def test_mistakes_are_told_in_two_lines(loop, capsys, words, what):
    assert main(["chart", *words]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert 1 <= len(lines) <= 2 and what in lines[0]


def test_a_check_hears_the_loop_and_forgets_it_when_its_bytes_change(loop, capsys, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(loop / "cache"))
    beat = "tempo 100\nsub | C2:4 | A1:4 | F1:4 | G1:4 |*2\n"
    (loop / "b.mid").write_bytes(compile_beat(beat).data)
    words = ["check", "b.mid", "--loop", "loop.wav", "--only", "off-root", "--format", "json"]

    def found() -> tuple[int, list[int], str]:
        main(words)
        (file,) = json.loads(capsys.readouterr().out)["files"]
        assert file["problem"] is None
        bars = [f["where"]["bar"] for f in file["findings"]]
        return len(bars), bars, file["chart"]["roots"][0]["source"]

    assert found() == (0, [], "loop")
    assert found() == (0, [], "loop")  # as the cache has it
    write(loop / "loop.wav", chords(100.0, ((49, 56, 61, 65), *PROGRESSION[1:])))
    count, bars, _ = found()  # C under C sharp
    assert count and 1 in bars


def test_a_pickup_needs_no_quotes_and_a_sound_no_ending(loop, capsys):
    (loop / "loop").write_bytes((loop / "loop.wav").read_bytes())
    assert main(["chart", "loop", "--bpm", "100", "--begins", "-1beat"]) == 0
    assert "the first at 600 ms" in capsys.readouterr().out
    soundfile.write(loop / "loop.mp3", chords(100.0), RATE)
    assert main(["chart", "loop.mp3", "--bpm", "100", "--output", "o.txt"]) == 0


def test_a_sound_in_place_of_a_song_is_told_where_it_belongs(loop, capsys):
    assert main(["mend", "loop.wav"]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "This is a sound" in said and "--loop" in said and "--sound" in said


def test_a_loop_that_cannot_be_taken_is_told_by_the_name_of_its_table(loop, capsys):
    (loop / "b.mid").write_bytes(compile_beat("tempo 100\nsub | C2:4 |*4\n").data)
    (loop / "basslint.toml").write_text('[[loop]]\nfile = "loop.wav"\nbars = 64\n')
    assert main(["chart", "b.mid"]) == 2
    assert "basslint.toml: [[loop]]: The loop" in capsys.readouterr().err


def test_a_chord_that_moves_is_no_silence(capsys):
    main(["check", str(ROOT / "samples" / "tape-box" / "cellar.mid"), "--no-cache"])
    said = " ".join(capsys.readouterr().out.split())
    assert "bars 3, 7, 11 and 15: the chord of the loop moves here" in said
    assert "no harmony sounds here" not in said and "--harmony" not in said
    assert "loop Dm Bb Gm ~ A" in said  # in the strip above the bass
    main(["chart", str(ROOT / "samples" / "tape-box" / "cellar.mid")])
    assert "Gm moves to A (~ below): bars 3, 7, 11 and 15, beat 4" in capsys.readouterr().out


def test_roots_that_are_heard_over_a_song_are_told_with_those_that_are_not(loop, capsys):
    beat = "tempo 100\nkeys | C4+E4+G4:4 | E4:4 | F3+A3+C4:4 | G3+B3+D4:4 |\nsub | C2:4 |*4\n"
    (loop / "b.mid").write_bytes(compile_beat(beat).data)
    assert main(["audition", "b.mid", "--roots", "--output", "o.wav"]) == 0
    said = capsys.readouterr().out
    assert (
        "roots held; not sure enough and left out: bar 1, beat 1 (C" in said
    )  # one tone alone follows


@pytest.mark.parametrize("command", ["check", "chart"])
def test_a_loop_without_harmony_is_not_asked_for_again(loop, capsys, command):
    (loop / "b.mid").write_bytes(compile_beat("tempo 100\nsub | C2:4 |*4\n").data)
    write(loop / "drums.wav", hits(100.0, 16))
    main([command, "b.mid", "--loop", "drums.wav"])
    said = " ".join(capsys.readouterr().out.split())
    assert "no root told in the loop: roots not judged; state them with --chords" in said
    assert "drums.wav: No harmony is heard" in said and "--loop" not in said


def test_a_check_without_loops_pays_nothing_for_them(tmp_path):
    (tmp_path / "b.mid").write_bytes(compile_beat("tempo 100\nsub | C2:4 |*4\n").data)
    code = (
        "import sys; from basslint.cli.main import main; main(['check', 'b.mid', '--no-cache']); "
        "print([m for m in sys.modules if m.startswith('basslint.audio')], "
        "'soundfile' in sys.modules)"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.splitlines()[-1] == "[] False"
