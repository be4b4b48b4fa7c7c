"""What is stated for a whole run wins over what the settings say of each file."""

from __future__ import annotations

from pathlib import Path

import pytest
from settled import settled

from basslint.errors import UsageError
from basslint.rulebook.loader import read_book
from basslint.settings.model import Settings
from basslint.settings.run_options import RunOptions

BOOK = read_book()
SLIDES = {rule.name for rule in BOOK if rule.family == "slides"}
ALL = {rule.name for rule in BOOK}


def chosen(options: RunOptions, settings: Settings) -> dict[str, str]:
    return {rule.name: rule.level for rule in options.choose(settings, BOOK)}


@pytest.mark.parametrize(
    ("only", "without", "names"),
    [
        ((), (), ALL - {"too-low"}),
        (("off-root",), (), {"off-root"}),
        (("slides", "off-root"), (), SLIDES | {"off-root"}),
        (("slides",), ("slide-off-scale",), SLIDES - {"slide-off-scale"}),
        ((), ("slides",), ALL - SLIDES - {"too-low"}),
        (("too-low", "off-root"), (), {"too-low", "off-root"}),  # though the settings turn it off
        (("too-low",), ("low-end",), set()),
    ],
)
def test_the_rules_of_a_run_are_narrowed_by_name_and_family(
    tmp_path: Path, only: tuple[str, ...], without: tuple[str, ...], names: set[str]
) -> None:
    held = settled(tmp_path, '[rules]\ntoo-low = false\noff-root = "note"\n')
    found = chosen(RunOptions(only=only, without=without), held)
    assert set(found) == names
    assert found.get("off-root", "note") == "note"  # at the level of the settings all the same


@pytest.mark.parametrize("options", [{"only": ("off-rot",)}, {"without": ("off-rot",)}])
def test_a_rule_that_nobody_knows_is_refused(options: dict[str, tuple[str, ...]]) -> None:
    with pytest.raises(UsageError, match="off-rot") as caught:
        RunOptions(**options).choose(Settings(), BOOK)
    assert "off-root" in caught.value.advice


@pytest.mark.parametrize(
    ("options", "name", "value"),
    [
        ({}, "bass", ("Keys",)),
        ({"bass": ("Sub",)}, "bass", ("Sub",)),
        ({"harmony": ("#3",)}, "harmony", ("#3",)),
        ({"decay_s": 0.5}, "decay_s", 0.5),
        ({}, "decay_s", 3.0),
        ({"glide_time_s": 0.2}, "glide_time_s", 0.2),
        ({"bend_range": 12.0}, "bend_range", 12.0),
        ({"root_key": "C3"}, "root_key", 60.0),  # by the middle C of the settings
        ({}, "root_key", 48.0),
    ],
)
def test_facts_of_the_run_win(
    tmp_path: Path, options: dict[str, object], name: str, value: object
) -> None:
    (tmp_path / "basslint.toml").write_text(
        'middle_c = "C3"\n[facts]\nbass = "Keys"\ndecay = "3s"\nroot_key = "C2"\n'
    )
    held = RunOptions(**options).settings_of(tmp_path / "a.mid")  # type: ignore[arg-type]
    assert getattr(held.facts, name) == value


def test_files_that_the_run_reads_as_one_stand_for_their_folder_alone(tmp_path: Path) -> None:
    for name in ("low.mid", "keys.mid"):
        (tmp_path / name).touch()
    (tmp_path / "basslint.toml").write_text('[[song]]\nfiles = "low.mid"\ngate = "note"\n')
    members = (tmp_path / "keys.mid",)
    options = RunOptions(members=members)
    folder, song = options.settings_of(tmp_path), options.settings_of(tmp_path / "low.mid")
    assert (folder.members, folder.gate) == (members, "error")
    assert (song.members, song.gate) == ((), "note")
    assert RunOptions().settings_of(tmp_path).gate == "note"


@pytest.mark.parametrize(
    ("options", "together"),
    [(RunOptions(), ("x/*.mid",)), (RunOptions(together=True), ("*",))],
)
def test_a_run_may_read_every_folder_as_one(
    tmp_path: Path, options: RunOptions, together: tuple[str, ...]
) -> None:
    (tmp_path / "basslint.toml").write_text('together = "x/*.mid"\n')
    assert options.settings_of(tmp_path / "a.mid").together == together
