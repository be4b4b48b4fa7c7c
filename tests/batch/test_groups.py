"""Which files ``--together`` means, and which the settings read as one."""

from __future__ import annotations

from pathlib import Path

import pytest

from basslint.batch.groups import Groups, groups_of, with_groups
from basslint.errors import UsageError
from basslint.settings.discovery import settings_for


@pytest.fixture
def beats(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("a/low.mid", "a/keys.mid", "b/low.mid", "b/old/keys.mid"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    monkeypatch.chdir(tmp_path)
    return tmp_path


def paths(text: str) -> tuple[Path, ...]:
    return tuple(map(Path, text.split()))


@pytest.mark.parametrize(
    ("given", "songs", "groups"),
    [
        ("a", "a/keys.mid a/low.mid", Groups(paths("a"))),
        ("a b/old", "a/keys.mid b/old/keys.mid", Groups(paths("a b/old"))),
        ("b/low.mid", "b/low.mid", Groups(paths("b"), paths("b/low.mid"))),
        (
            "b/low.mid a/keys.mid",  # of two folders: the first one's stands for them
            "b/low.mid a/keys.mid",
            Groups(paths("b"), paths("b/low.mid a/keys.mid")),
        ),
    ],
)
@pytest.mark.usefixtures("beats")
def test_files_that_are_named_are_one_and_so_are_those_of_each_folder(
    given: str, songs: str, groups: Groups
) -> None:
    assert groups_of(given.split(), paths(songs)) == groups


@pytest.mark.parametrize(
    ("given", "songs", "told"),
    [
        ("a b/low.mid", "a/low.mid b/low.mid", "files and folders cannot be named in one"),
        ("b", "b/low.mid b/old/keys.mid", "b/old lies within a folder that is named"),
    ],
)
@pytest.mark.usefixtures("beats")
def test_what_cannot_be_read_as_one_is_refused(given: str, songs: str, told: str) -> None:
    with pytest.raises(UsageError) as caught:
        groups_of(given.split(), paths(songs))
    assert told in caught.value.message and caught.value.advice


@pytest.mark.parametrize(
    ("together", "songs"),
    [
        ("", "a/keys.mid a/low.mid b/low.mid b/old/keys.mid"),
        ('together = "a/*.mid"', "a b/low.mid b/old/keys.mid"),
        ('together = ["*/low.mid"]', "a/keys.mid a b b/old/keys.mid"),
        ('together = ["*.mid"]', "a b b/old"),
        ('together = ["c/*.mid"]', "a/keys.mid a/low.mid b/low.mid b/old/keys.mid"),
    ],
)
def test_a_folder_stands_once_where_the_first_of_its_files_stood(
    beats: Path, together: str, songs: str
) -> None:
    (beats / "basslint.toml").write_text(together)
    inside = paths("a/keys.mid a/low.mid b/low.mid b/old/keys.mid")
    assert with_groups(inside, settings_for) == list(paths(songs))
