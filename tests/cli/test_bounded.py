"""Every command is bounded in time and memory, not `check` alone."""

from __future__ import annotations

import contextlib
import time
from pathlib import Path

import pytest
from midi_bytes import meta, midi, track

import basslint.batch.accept
import basslint.batch.bounds
import basslint.batch.merge
import basslint.cli.bounded
from basslint.batch.bounds import TookTooLong, in_memory, in_time
from basslint.checking import one_file
from basslint.cli.main import main

SAMPLE = Path(__file__).parents[2] / "samples" / "spilled-tea.mid"

COMMANDS = {
    "chart": ["chart", "a.mid"],
    "mend": ["mend", "a.mid", "--dry-run"],
    "explain": ["explain", "off-root", "a.mid"],
    "audition": ["audition", "a.mid", "--bars", "1-2", "--output", "o.wav"],
    "waive": ["waive", "a.mid", "off-root", "--reason", "x"],
}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "here"
    folder.mkdir()
    (folder / "a.mid").write_bytes(SAMPLE.read_bytes())
    (folder / "basslint.toml").write_text("[limits]\nmax_seconds = 60\n")
    monkeypatch.chdir(folder)
    return folder


@pytest.mark.parametrize("command", COMMANDS)
def test_the_time_for_a_file_holds(
    command: str, here: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def endless(*_: object) -> None:
        time.sleep(30)

    real = basslint.cli.bounded.in_time
    for module in (basslint.cli.bounded, basslint.batch.accept):
        monkeypatch.setattr(module, "in_time", lambda seconds: real(seconds / 1200))
    monkeypatch.setattr(one_file, "build", endless)
    before = sorted(p.name for p in here.iterdir())
    assert main(COMMANDS[command]) == 2
    err = capfd.readouterr().err
    assert "longer than 0.05 s (limit `max_seconds`)" in err and len(err.splitlines()) == 2
    assert sorted(p.name for p in here.iterdir()) == before


def test_merge_has_that_time_for_each_report(
    here: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    real, given = basslint.batch.bounds.in_time, []

    def in_time(seconds: float) -> contextlib.AbstractContextManager[None]:
        given.append(seconds)
        return real(seconds / 3600)

    assert main(["check", "a.mid", "--format", "json", "--output", "a.json"]) == 1
    (here / "basslint.toml").write_text("[limits]\nmax_seconds = 90\n")
    monkeypatch.setattr(basslint.batch.merge, "_read", lambda path: time.sleep(30))
    monkeypatch.setattr(basslint.batch.bounds, "in_time", in_time)
    assert main(["merge", "a.json", "b.json", "--output", "c.json"]) == 2
    assert given == [180]
    said = capfd.readouterr().err.splitlines()
    assert len(said) == 2
    assert "The reports were given up: it took longer than 0.05 s" in said[0]
    assert "(limit `max_seconds`), 90 s for each of them." in said[0]
    assert not (here / "c.json").exists()


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_an_alarm_that_was_swallowed_rings_again(monkeypatch: pytest.MonkeyPatch) -> None:
    class Swallowing:
        def __del__(self) -> None:
            time.sleep(10)  # the first alarm ends it, and what it raises goes no further

    monkeypatch.setattr(basslint.batch.bounds, "AGAIN_S", 0.1)
    with pytest.raises(TookTooLong), in_time(0.05):
        Swallowing()
        time.sleep(10)


@pytest.mark.parametrize("command", COMMANDS)
def test_memory_is_bounded(
    command: str, here: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    pytest.importorskip("resource")

    def hungry(*_: object) -> None:
        bytearray(6 * 1024**3)

    monkeypatch.setattr(one_file, "build", hungry)
    assert main(COMMANDS[command]) == 2
    assert "more memory than is allowed (4 GB)" in capfd.readouterr().err
    with in_memory(64 * 1024**3):  # what held before holds again
        bytearray(1024**2)


def test_an_audition_of_very_much_is_refused(here: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """2,000 notes that are held through two bars of a very slow song."""
    slow = meta(0x51, b"\xff\xff\xff")
    held = [(0, bytes((0x91, 60 + n % 40, 90))) for n in range(2000)]
    ends = [(1, bytes((0x81, 60 + n % 40, 0))) for n in range(2000)]
    bass = track((0, bytes((0x90, 36, 90))), (3840, bytes((0x80, 36, 0))))
    (here / "b.mid").write_bytes(midi(track((0, slow)), track(*held, *ends), bass))
    assert main(["audition", "b.mid", "--output", "o.wav", "--bass", "#2"]) == 2
    err = capfd.readouterr().err
    assert "s together; an audition takes up to 6,000 s" in err
    slower = midi(
        track((0, slow)), track((0, bytes((0x90, 36, 90))), (30_000, bytes((0x80, 36, 0))))
    )
    (here / "b.mid").write_bytes(slower)
    assert main(["audition", "b.mid", "--output", "o.wav"]) == 2
    assert "an audition lasts up to 420 s" in capfd.readouterr().err
