"""Which files paths mean: whole folders, mended copies, links and shares of a run.

What is left out, and why, is what README tells of `check PATH…`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from basslint.batch.discovery import look_for_songs, shard_of, share_of
from basslint.errors import UsageError


def tree(root: Path, *names: str) -> Path:
    for name in names:
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).touch()
    return root


@pytest.mark.parametrize(
    ("there", "given", "songs", "remark"),
    [
        ("b.mid a.MIDI c.txt d/e.mid", ".", "a.MIDI b.mid d/e.mid", ""),
        ("a.mid .x/b.mid x/.y/c.mid", ".", "a.mid", ""),  # hidden folders
        ("a.mid b.mid", "b.mid a.mid b.mid .", "b.mid a.mid", ""),  # each once, as given
        ("a.txt", "a.txt", "a.txt", ""),  # what is named is meant
        ("a.mid a.mended.mid", ".", "a.mid", "a.mended.mid, a mended copy beside its song, was"),
        ("a.mid a.mended.mid b.mid b.mended.mid", ".", "a.mid b.mid", "2 mended copies beside"),
        ("a.mended.mid", ".", "a.mended.mid", ""),  # without its song it is one
        ("a.mid x/a.mended.mid", ".", "a.mid x/a.mended.mid", ""),
        ("a.mid a.mended.mid", ". a.mended.mid", "a.mid a.mended.mid", ""),  # named itself
        ("a.mid a.mended.mid b.mid b.mended.mid", ". b.mended.mid",
         "a.mid b.mid b.mended.mid", "a.mended.mid, a mended copy"),
    ],
)  # fmt: skip
def test_the_songs_that_paths_mean(
    tmp_path: Path, there: str, given: str, songs: str, remark: str
) -> None:
    tree(tmp_path, *there.split())
    found = look_for_songs(tmp_path / name for name in given.split())
    assert found.songs == tuple(tmp_path / name for name in songs.split())
    assert len(found.remarks) == bool(remark)
    assert not remark or remark in found.remarks[0]


def test_a_link_to_nothing_is_told_and_the_lock_of_an_editor_is_not(tmp_path: Path) -> None:
    tree(tmp_path, "a.mid")
    (tmp_path / "b.mid").symlink_to("gone.mid")
    (tmp_path / ".#c.mid").symlink_to("someone@somewhere")
    (tmp_path / "d.mid").mkdir()
    (tmp_path / "e.mid").symlink_to("d.mid")  # to a folder
    assert look_for_songs([tmp_path]).songs == (tmp_path / "a.mid", tmp_path / "b.mid")


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ("gone.mid", "does not exist"),
        ("-", "Standard input is not read"),
        (".", "No MIDI file was found in \\."),
        ("/dev/null", "no ordinary file"),
    ],
)
def test_what_means_no_song(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, given: str, told: str
) -> None:
    monkeypatch.chdir(tree(tmp_path, "a.txt"))
    with pytest.raises(UsageError, match=told) as caught:
        look_for_songs([given])
    assert caught.value.advice


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("1/1", (1, 1)),
        ("2/5", (2, 5)),
        ("5/5", (5, 5)),
        ("6/5", None),
        ("0/5", None),
        ("2/0", None),
        ("2", None),
        ("-1/5", None),
        ("2/5 ", None),
        ("1/1000000", None),
        ("1/999999", (1, 999_999)),
    ],
)
def test_a_share_is_a_number_of_so_many_and_nothing_else(
    text: str, share: tuple[int, int] | None
) -> None:
    assert share_of(text) == share


def test_a_shard_has_every_so_manieth_song() -> None:
    songs = [Path(f"{n}.mid") for n in range(7)]
    assert [path.stem for path in shard_of(songs, "1/3")] == ["0", "3", "6"]
    assert [path.stem for path in shard_of(songs, "3/3")] == ["2", "5"]
    with pytest.raises(UsageError, match="“4/3” is no share"):
        shard_of(songs, "4/3")
