"""What the commands say of odd and hostile files: a report, a code, and never a traceback.

Several of these names and metas at once are in test_hostile_names.py, sizes in test_limits.py.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from odd_files import ACCEPTED, REFUSED, WHOLE

from basslint.cli.main import main
from basslint.errors import MidiError

COMMANDS = (("chart",), ("mend",), ("audition",), ("check", "--no-cache"))


def told(capsys: pytest.CaptureFixture[str]) -> tuple[str, str]:
    """Standard output and error, each on one line."""
    out, err = capsys.readouterr()
    return re.sub(r"\s+", " ", out), re.sub(r"\s+", " ", err)


@pytest.mark.parametrize(
    ("data", "kind", "words", "byte"), [r[1:] for r in REFUSED], ids=[r[0] for r in REFUSED]
)
def test_a_file_that_is_refused_is_told_with_reason_place_and_advice(
    data: bytes,
    kind: type[MidiError],
    words: str,
    byte: int | None,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "beat.mid"
    path.write_bytes(data)
    for command, *options in COMMANDS:
        assert main([command, str(path), *options]) == 2, command
        out, err = told(capsys)
        text = out if command == "check" else err
        assert words in text, command
        assert byte is None or f"(At byte {byte:,}.)" in text, command
        assert "Traceback" not in out + err
        assert re.search(r"(Export|Give|Check|raise) ", text), "what to do next"
    assert [p.name for p in tmp_path.iterdir()] == ["beat.mid"], "nothing is written"
    assert main(["check", str(path), "--no-cache", "--format", "json"]) == 2
    problem = json.loads(capsys.readouterr().out)["files"][0]["problem"]
    assert problem["kind"] == kind.kind


@pytest.mark.parametrize(
    ("data", "warning"), [a[1:3] for a in ACCEPTED], ids=[a[0] for a in ACCEPTED]
)
def test_a_file_that_is_read_shows_what_the_reader_put_up_with(
    data: bytes, warning: str | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "beat.mid"
    path.write_bytes(data)
    assert main(["check", str(path), "--no-cache"]) in (0, 1)
    out, err = told(capsys)
    assert ("reader: " in out) == (warning is not None)
    assert warning is None or warning in out
    assert not err
    for command, *options in COMMANDS[:3]:
        assert main([command, str(path), *options]) == 0, command
        assert "Traceback" not in "".join(told(capsys))
    assert path.read_bytes() == data


def test_one_bad_file_stops_no_other(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number, (_, data, *_) in enumerate(REFUSED):
        (tmp_path / f"{number}.mid").write_bytes(data)
    (tmp_path / "good.mid").write_bytes(WHOLE)
    assert main(["check", str(tmp_path), "--no-cache"]) == 2
    out, err = told(capsys)
    assert f"1 file checked, {len(REFUSED)} not readable" in out
    assert not err
