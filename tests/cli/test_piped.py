"""A dash in place of a file's name is standard output, as in other tools: common practice."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
import soundfile

from basslint.cli.main import main

OFF = Path(__file__).parents[2] / "samples" / "spilled-tea.mid"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a song; nothing else may be in it at the end."""
    folder = tmp_path / "beats"
    folder.mkdir()
    (folder / "a.mid").write_bytes(OFF.read_bytes())
    monkeypatch.chdir(folder)
    return folder


@pytest.mark.parametrize(
    "words",
    [
        ["check", "a.mid", "--format", "json"],
        ["check", "a.mid"],
        ["chart", "a.mid"],
        ["explain", "off-root"],
        ["rules"],
    ],
)
def test_a_report_goes_where_it_would_go_unasked(
    words: list[str], here: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    code, told = main(words), capfdbinary.readouterr().out
    assert main([*words, "--output", "-"]) == code
    assert capfdbinary.readouterr().out == told != b""
    assert [p.name for p in here.iterdir()] == ["a.mid"]


def test_a_mended_song_goes_there_and_its_account_beside_it(
    here: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert main(["mend", "a.mid", "--output", "-"]) == 0
    out, err = capfdbinary.readouterr()
    assert "1 fix applied; the song went to standard output." in err.decode()
    assert [p.name for p in here.iterdir()] == ["a.mid"]
    assert main(["mend", "a.mid"]) == 0
    assert out == (here / "a.mended.mid").read_bytes() != OFF.read_bytes()


def test_an_audition_goes_there_with_its_caution_beside_it(
    here: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert main(["audition", "a.mid", "--bars", "1", "--output", "-"]) == 0
    out, err = capfdbinary.readouterr()
    assert "Start low" in err.decode() and [p.name for p in here.iterdir()] == ["a.mid"]
    samples, rate = soundfile.read(io.BytesIO(out))
    assert len(samples) > rate


@pytest.mark.parametrize("command", ["mend", "audition"])
def test_a_terminal_is_sent_no_bytes_of_a_song_or_sound(
    command: str, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    assert main([command, "a.mid", "--output", "-"]) == 2
    out, err = capfd.readouterr()
    assert out == "" and "is a terminal" in err and "--output" in err
