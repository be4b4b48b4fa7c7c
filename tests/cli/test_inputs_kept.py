"""No command writes over what it reads, hangs on a pipe, or loses its code: common practice."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from basslint.api import check
from basslint.batch.discovery import find_songs
from basslint.cli.main import main
from basslint.errors import UsageError

ROOT = Path(__file__).parents[2]
OFF = ROOT / "samples" / "spilled-tea.mid"


@pytest.fixture
def song(tmp_path: Path) -> Path:
    """A song with errors and a settings file, in a folder of their own."""
    folder = tmp_path / "beats"
    folder.mkdir()
    (folder / "basslint.toml").write_text(
        '[facts]\nsound = "kick.wav"\n[[song]]\nfiles = "b.mid"\nfacts = { sound = "other.wav" }\n'
    )
    (folder / "b.mid").write_bytes(OFF.read_bytes())
    (folder / "other.wav").touch()
    (folder / "kick.wav").write_bytes(b"RIFF: no sound, but whole")
    (folder / "a.mid").write_bytes(OFF.read_bytes())
    return folder / "a.mid"


@pytest.mark.parametrize(
    ("words", "output"),
    [
        (("check", "a.mid"), "a.mid"),
        (("check", "a.mid"), "../beats/a.mid"),
        (("check", "."), "a.mid"),
        (("check", "a.mid", "--format", "json"), "basslint.toml"),
        (("check", "a.mid", "--sound", "kick.wav"), "kick.wav"),
        (("check", "a.mid"), "kick.wav"),  # which the settings name
        (("check", "."), "other.wav"),  # which they name for one of the songs
        (("chart", "a.mid"), "a.mid"),
        (("mend", "a.mid"), "a.mid"),
        (("audition", "a.mid"), "a.mid"),
        (("audition", "a.mid"), "kick.wav"),
        (("merge", "report.json"), "report.json"),
    ],
)
def test_an_output_that_is_read_is_refused(
    words: tuple[str, ...],
    output: str,
    song: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(song.parent)
    Path("report.json").write_text("{}")
    before = Path(output).read_bytes()
    assert main([*words, "--output", output]) == 2
    assert "is not written over" in capsys.readouterr().err
    assert Path(output).read_bytes() == before


def test_only_in_place_mends_a_file_over_itself(song: Path) -> None:
    (song.parent / "basslint.toml").unlink()
    before = song.read_bytes()
    assert main(["mend", str(song), "--in-place"]) == 0
    assert song.read_bytes() != before


def test_a_song_of_two_names_is_told_to_keep_the_other_as_it_was(
    song: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (song.parent / "basslint.toml").unlink()
    assert main(["mend", str(song), "--in-place"]) == 0
    assert "hard links" not in capsys.readouterr().err
    song.write_bytes(OFF.read_bytes())
    other = song.parent / "other.mid"
    other.hardlink_to(song)
    assert main(["mend", str(song), "--in-place"]) == 0
    assert "other names (hard links)" in capsys.readouterr().err
    assert other.read_bytes() == OFF.read_bytes() != song.read_bytes()


def test_a_lesson_is_written_again_over_itself(tmp_path: Path) -> None:
    page = tmp_path / "lesson.html"
    for _ in range(2):
        words = ["explain", "off-root", "--format", "html", "--output", str(page)]
        assert main(words) == 0 and page.read_bytes()
        page.write_bytes(b"")


def test_a_mended_copy_that_was_there_is_said_to_be_replaced(
    song: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (song.parent / "basslint.toml").unlink()
    main(["mend", str(song)])
    assert "; wrote" in capsys.readouterr().out
    main(["mend", str(song)])
    assert "; replaced" in capsys.readouterr().out


def test_a_folder_leaves_mended_copies_to_those_who_name_them(tmp_path: Path) -> None:
    for name in ("a.mid", "a.mended.mid", "b.mended.mid"):
        (tmp_path / name).write_bytes(OFF.read_bytes())
    report = check(tmp_path)
    assert [Path(f.path).name for f in report.files] == ["a.mid", "b.mended.mid"]
    assert "a.mended.mid, a mended copy beside its song, was left out" in report.remarks[0]
    named = find_songs([tmp_path, tmp_path / "a.mended.mid"])
    assert tmp_path / "a.mended.mid" in named


@pytest.mark.parametrize(
    "words",
    [
        ("check", "pipe.mid"),
        ("chart", "pipe.mid"),
        ("mend", "pipe.mid"),
        ("check", "a.mid", "--settings", "pipe.mid"),
        ("merge", "pipe.mid"),
    ],
)
def test_a_pipe_is_refused_and_not_waited_for(song: Path, words: tuple[str, ...]) -> None:
    os.mkfifo(song.parent / "pipe.mid")
    done = subprocess.run(
        [sys.executable, "-m", "basslint", *words],
        capture_output=True,
        text=True,
        cwd=song.parent,
        timeout=120,
    )
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 2, done.stderr


def test_find_songs_names_what_is_no_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.mid")
    with pytest.raises(UsageError, match="no ordinary file"):
        find_songs([tmp_path / "pipe.mid"])


def test_explaining_a_rule_on_no_file_is_wrong_use(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "cut.mid").write_bytes(OFF.read_bytes()[:300])
    for name in ("nope.mid", "cut.mid"):
        assert main(["explain", "off-root", str(tmp_path / name)]) == 2
        told = capsys.readouterr()
        assert told.out == ""
        assert f"{name} could not be read" in told.err


def test_debug_shows_a_traceback_and_keeps_the_code(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["check", "--debug", "nope.mid"]) == 2
    told = capsys.readouterr().err
    assert "Traceback" in told
    assert "nope.mid does not exist." in told

    def fail(_words: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("basslint.cli.main.parse", fail)
    assert main(["check", "--debug", "nope.mid"]) == 3
    assert "Traceback" in capsys.readouterr().err


def test_a_reader_that_leaves_early_changes_no_code() -> None:
    done = subprocess.run(
        [
            "bash",
            "-c",
            f"{sys.executable} -m basslint check --no-cache {OFF} --format html | head -c 1"
            ' >/dev/null; echo "${PIPESTATUS[0]}"',
        ],
        capture_output=True,
        text=True,
    )
    assert done.stdout.strip() == "1", done.stderr


def test_hearing_the_bass_alone_wants_a_bass(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import mido

    file = mido.MidiFile()
    file.tracks.append(
        mido.MidiTrack(
            [
                mido.MetaMessage("track_name", name="Drums"),
                mido.Message("note_on", channel=9, note=38, velocity=90),
                mido.Message("note_off", channel=9, note=38, time=480),
            ]
        )
    )
    file.save(tmp_path / "drums.mid")
    assert main(["audition", "--solo", str(tmp_path / "drums.mid")]) == 2
    assert "No bass part was found" in capsys.readouterr().err
    assert not (tmp_path / "drums.audition.wav").exists()
