"""Real songs of a folder that is never copied here: which there are, and what is heard in them."""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterator
from pathlib import Path

from basslint.errors import BasslintError
from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.smf.scan import scan
from basslint.song.arrangement import build

FOLDS = 5  # of a cross-validation by song


def songs(folder: Path) -> Iterator[tuple[Path, int]]:
    """The files and the fold of each; copies of one song share a fold."""
    listed = folder / "songs.csv"
    if listed.exists():
        with listed.open(encoding="utf-8") as lines:
            named = [(folder / row["path"], row["song"]) for row in csv.DictReader(lines)]
    else:
        named = [(path, path.stem) for path in sorted(folder.rglob("*.mid"))]
    for path, song in named:
        yield path, hashlib.sha256(song.encode()).digest()[0] % FOLDS


def heard(path: Path) -> Chart | None:
    """The chart of a song; None where it cannot be read or no bass is heard."""
    try:
        chart = Chart(build(scan(path.read_bytes())), Facts(), str(path))
        return chart if chart.parts.bass and len(chart.bass) else None
    except (OSError, BasslintError):
        return None


def heard_songs(folder: Path, step: int = 1) -> Iterator[tuple[Path, int, Chart]]:
    """Every ``step``-th song that can be read and has a bass, with its fold and its chart."""
    for path, fold in list(songs(folder))[::step]:
        if (chart := heard(path)) is not None:
            yield path, fold, chart
