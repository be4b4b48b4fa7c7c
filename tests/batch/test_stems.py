"""A folder of stems that was checked file by file: is it told how to read it as one beat?"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from basslint.cli.main import main
from basslint.report.section import Section, Tally
from basslint.rulebook.notation import compile_beat
from basslint.watch.board import Board
from basslint.watch.follow import Follower
from basslint.watch.orders import Scanned, Source

KEYS = "keys | A3+C4+E4:4 | F3+A3+C4:4 | C3+E3+G3:4 | G3+B3+D4:4 |*4"
SUB = "sub | A1:4 | F#1:4 | C2:4 | G1:4 |*4"


def stems(folder: Path, **lines: str) -> Path:
    folder.mkdir(parents=True)
    for name, line in lines.items():
        (folder / f"{name}.mid").write_bytes(compile_beat(f"tempo 140\n{line}\n").data)
    return folder


def remarks(capfd: pytest.CaptureFixture[str], *words: str) -> list[str]:
    main(["check", "--no-cache", "--format", "json", *words])
    said: list[str] = json.loads(capfd.readouterr().out)["remarks"]
    return said


def test_stems_that_were_checked_one_by_one_are_told(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = stems(tmp_path / "night bus", keys=KEYS, sub=SUB)
    (said,) = remarks(capfd, str(tmp_path))
    assert f"The files of {folder} hold one part each" in said
    assert f"`basslint check --together '{folder}'` reads them as one" in said
    assert remarks(capfd, "--together", str(folder)) == []
    assert remarks(capfd, str(tmp_path), "--chords", "Am F C G") == []


@pytest.mark.parametrize(
    "lines",
    [
        {"one": KEYS + "\n" + SUB, "two": KEYS},  # a song, and a sketch beside it
        {"one": SUB, "two": SUB},  # a folder of bass lines
        {"one": KEYS, "two": KEYS},
    ],
)
def test_songs_and_folders_of_one_kind_of_part_are_left_alone(
    lines: dict[str, str], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert remarks(capfd, str(stems(tmp_path / "a", **lines))) == []


def test_many_folders_are_one_sentence(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    for number in range(5):
        stems(tmp_path / str(number), keys=KEYS, sub=SUB)
    (said,) = remarks(capfd, str(tmp_path))
    assert f"{tmp_path / '2'} and 2 more folders" in said


def test_a_shard_which_sees_some_of_the_files_says_nothing(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = stems(tmp_path / "a", keys=KEYS, sub=SUB, more=KEYS, again=SUB)
    assert remarks(capfd, str(folder), "--shard", "1/2") == []


def test_the_followed_page_tells_them_too() -> None:
    def section(name: str, **said: object) -> tuple[Source, Section]:
        path = Path("beats") / name
        made = Section(path=str(path), text="", tally=Tally(), alone=True, **said)  # type: ignore[arg-type]
        return Source(id=name, path=path, home=path, options=None), made  # type: ignore[arg-type]

    board = Board()
    for source, made in (section("a.mid", rootless="no"), section("b.mid", bassless=25)):
        board.put(source, made, "", "export")
    follower = Follower(Path("beats"), None, board, None)  # type: ignore[arg-type]
    follower._remark(Scanned((), ("so",), ()))
    first, told = board.remarks
    assert first == "so" and "`basslint watch --together beats`" in told
