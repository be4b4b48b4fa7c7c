"""What a run does not use costs it nothing: what a whole check imports, and what it leaves."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "samples"
SLOW = ("numpy.ma", "multiprocessing", "difflib", "rich", "mido", "pretty_midi", "soundfile")
RUN = """
import sys
from basslint.cli.main import main
code = main(["check", *sys.argv[1:]])
print("imported:", *(name for name in %r if name in sys.modules))
sys.exit(code)
"""


def test_a_check_of_songs_imports_nothing_that_it_does_not_use(tmp_path: Path) -> None:
    songs = [str(SAMPLES / f"{name}.mid") for name in ("night-bus", "spilled-tea", "wet-roofs")]
    for _ in ("anew", "from the cache"):
        done = subprocess.run(
            [sys.executable, "-c", RUN % (SLOW,), *songs],
            env=os.environ | {"XDG_CACHE_HOME": str(tmp_path)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode in (0, 1), done.stderr
        assert done.stdout.splitlines()[-1] == "imported:"
