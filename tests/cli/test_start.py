"""What a run does not use costs it nothing: what a whole check imports, and what it leaves."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from bench.arrangements import arrangement

SAMPLES = Path(__file__).parents[2] / "samples"
SLOW = ("numpy.ma", "multiprocessing", "difflib", "rich", "mido", "pretty_midi", "soundfile")
# what a check from the cache does without: hearing, its rules read, and what writes
HEARING = (
    "numpy", "inspect", "dataclasses", "tempfile", "shutil", "tomllib", "basslint.hear.chart",
    "basslint.readings.base", "basslint.fixes.base", "basslint.rulebook.page",
    "basslint.checking.one_file", "basslint.report.drawing.strip",
)  # fmt: skip
# what a check without findings does without, the book and the hearing being made anew
MENDING = ("basslint.fixes.harmony", "basslint.fixes.fills", "basslint.fixes.slides")
WORDS = (
    "basslint.judging.messages", "basslint.judging.fingerprint", "basslint.report.grouping",
    "basslint.report.formats.text_findings",
)  # fmt: skip
# … and the readings that are asked where something is nearly off, once its book was read
NEARLY = tuple(
    f"basslint.readings.{name}"
    for name in (
        "slip",
        "slip_words",
        "turns",
        "approach",
        "copies",
        "rubs",
        "root_habit",
        "over_loop",
    )
)
# … and what is for other commands, a cache, odd bytes, moved basses
OTHERS = (
    "basslint.cli.learning", "basslint.cli.one_song", "basslint.cli.waiving",
    "basslint.cli.watching", "basslint.batch.cache", "basslint.rulebook.lookup",
    "basslint.smf.careful", "basslint.hear.bassline.one_move", "basslint.hear.bassline.line_fit",
    "basslint.hear.bassline.which_is_off",
)  # fmt: skip
# what argparse imports by itself does not count: from Python 3.14 on `dataclasses`, for colours
RUN = """
import argparse, functools, sys
wide = functools.partial(argparse.HelpFormatter, width=80)
parser = argparse.ArgumentParser("p", formatter_class=wide)
parser.add_argument("--option")
unasked = set(sys.modules)
from basslint.cli.main import main
code = main(["check", *sys.argv[1:]])
sys.stdout.flush()
print("imported:", *(name for name in %r if name in sys.modules.keys() - unasked))
sys.exit(code)
"""


def imported(unwanted: tuple[str, ...], *words: str, home: Path) -> str:
    """Which of some modules a check has imported, in its last line."""
    done = subprocess.run(
        [sys.executable, "-c", RUN % (unwanted,), *words],
        env=os.environ | {"XDG_CACHE_HOME": str(home)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    return done.stdout.splitlines()[-1]


def test_a_check_of_songs_imports_nothing_that_it_does_not_use(tmp_path: Path) -> None:
    songs = [str(SAMPLES / f"{name}.mid") for name in ("night-bus", "spilled-tea", "wet-roofs")]
    assert imported(SLOW, *songs, home=tmp_path) == "imported:"


@pytest.mark.parametrize("name", ["text", "json", "sarif", "junit", "markdown"])
def test_a_check_from_the_cache_hears_nothing(name: str, tmp_path: Path) -> None:
    words = (str(SAMPLES / "spilled-tea.mid"), "--format", name)
    assert "numpy" in imported(("numpy",), *words, home=tmp_path)
    assert imported(SLOW + HEARING, *words, home=tmp_path) == "imported:"


def test_a_check_without_findings_imports_no_words_and_no_fix(tmp_path: Path) -> None:
    song = str(SAMPLES / "night-bus.mid")
    unwanted = MENDING + WORDS + OTHERS
    assert imported(unwanted, song, "--no-cache", home=tmp_path) == "imported:"


def test_a_song_in_which_nothing_is_nearly_off_imports_few_readings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    song = tmp_path / "even.mid"
    song.write_bytes(arrangement(500))
    monkeypatch.setenv("PYTHONPYCACHEPREFIX", str(tmp_path / "compiled"))
    monkeypatch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
    words = (str(song), "--no-cache")
    assert "turns" in imported(NEARLY, *words, home=tmp_path)  # its pages name every reading
    assert imported(NEARLY, *words, home=tmp_path) == "imported:"


def test_a_check_without_a_cache_makes_no_hashes(tmp_path: Path) -> None:
    words = (str(SAMPLES / "night-bus.mid"), "--no-cache")
    assert imported(("hashlib", "json"), *words, home=tmp_path) == "imported:"


def test_readings_are_listed_alike_whichever_are_imported_first() -> None:
    """A check imports what it asks; the list of readings does not hang on what came before."""
    shown = "[r.name for r in in_order('bass-note')], named('bass-note', 'slip_words').name"
    listed = "from basslint.readings.base import in_order, named; print(%s)"
    first = "import basslint.readings.slip_words, basslint.readings.rubs; "
    runs = [
        subprocess.run(
            [sys.executable, "-c", before + listed % shown],
            capture_output=True, text=True, check=True,
        ).stdout
        for before in ("", first)
    ]  # fmt: skip
    assert runs[0] == runs[1] and "'explained'" in runs[0]
