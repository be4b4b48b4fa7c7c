"""Only ordinary files are read: nothing else is waited for or read without an end."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from basslint.util.files import NotOrdinary, read_at_most


def test_no_more_is_read_than_asked_for(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"abcdef")
    assert read_at_most(tmp_path / "a", 4) == b"abcd"
    assert read_at_most(tmp_path / "a", 40) == b"abcdef"


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
