"""Only ordinary files are read: nothing else is waited for or read without an end."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import numpy as np
import pytest
import soundfile

from basslint.errors import MendError
from basslint.util import files
from basslint.util.files import (
    NotOrdinary,
    is_sound,
    read_at_most,
    write_all,
    write_atomically,
)


def test_no_more_is_read_than_asked_for(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"abcdef")
    assert read_at_most(tmp_path / "a", 4) == b"abcd"
    assert read_at_most(tmp_path / "a", 40) == b"abcdef"


def test_a_file_longer_than_what_is_read_at_once_is_read_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "_LEAST_PIECE", 2)
    monkeypatch.setattr(files, "_MOST_PIECE", 4)
    (tmp_path / "a").write_bytes(b"abcdefghijk")
    assert read_at_most(tmp_path / "a", 40) == b"abcdefghijk"
    assert read_at_most(tmp_path / "a", 9) == b"abcdefghi"


@pytest.mark.skipif(os.name != "posix", reason="pipes and devices of POSIX")
def test_a_pipe_a_device_and_a_folder_are_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", Path("/dev/zero"), tmp_path):
        with pytest.raises(NotOrdinary):
            read_at_most(path, 10)


def test_a_link_is_followed_only_where_it_may_be(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"abc")
    (tmp_path / "link").symlink_to("a")
    assert read_at_most(tmp_path / "link", 10) == b"abc"
    with pytest.raises(OSError, match="link"):
        read_at_most(tmp_path / "link", 10, follow=False)


def test_of_files_written_together_none_takes_its_name_before_all_are_on_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps: list[str] = []
    flush, replace = os.fsync, os.replace
    monkeypatch.setattr(os, "fsync", lambda d: (steps.append("flush"), flush(d))[1])
    monkeypatch.setattr(os, "replace", lambda a, b: (steps.append("name"), replace(a, b))[1])
    write_all((tmp_path / name, name.encode()) for name in "abc")
    assert steps == ["flush"] * 3 + ["name"] * 3 + ["flush"]  # of the folder, once
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == {"a": b"a", "b": b"b", "c": b"c"}


def test_where_one_file_cannot_be_written_the_others_stay_as_they_were(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"old")
    (tmp_path / "b").mkdir()
    with pytest.raises(MendError, match="b is no ordinary file"):
        write_all([(tmp_path / "a", b"new"), (tmp_path / "b", b"new")])
    assert (tmp_path / "a").read_bytes() == b"old"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a", "b"]


def test_a_full_disk_is_told_with_what_holds_for_page_and_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(MendError) as told:
        write_atomically(tmp_path / "a", b"new")
    said = f"{told.value.message} {told.value.advice}"
    assert "No space left" in said and "Free some space" in said
    assert "--" not in said  # a page has no options
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("kind", ["WAV", "RF64", "W64", "AIFF", "CAF", "AU", "FLAC", "OGG"])
def test_a_sound_is_known_by_how_it_begins(kind: str, tmp_path: Path) -> None:
    """As libsndfile writes them, whatever their names say; a song begins as none of them does."""
    soundfile.write(tmp_path / "loop", np.zeros(64), 44_100, format=kind)
    assert is_sound((tmp_path / "loop").read_bytes()[:12])
    assert not is_sound(b"MThd\0\0\0\x06\0\1\0\1")
