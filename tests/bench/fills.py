"""How well are rolls and fills heard?

Run as ``python tests/bench/fills.py [SONGS] [DATA]``: figures on generated songs whose rolls are
known (400 by default), by grid and by tempo, then the time it takes; with DATA, the folder of data
sets beside the checkout, every fill heard in its ``game-parts``, for a person to look at.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter

from rolls import GRIDS, Score, song

from basslint.hear.chart import Chart
from basslint.hear.facts import Facts
from basslint.hear.fills.fills import Fills, hear_fills
from basslint.hear.parts.parts import hear_parts
from basslint.smf.scan import scan
from basslint.song.arrangement import Song, build

TARGETS = "targets: found ≥ .98, grid ≥ .97, false ≤ 1 in 200 bars"


def generated(songs: int) -> None:
    """Figures on known rolls: all together, by grid, by tempo, by jitter."""
    total = Score()
    cells: dict[str, Score] = {}
    for seed in range(songs):
        known = song(seed)
        heard = build(scan(known.data))
        fills = hear_fills(heard, hear_parts(heard, None, None))
        total.add(known, fills)
        thirds = f"{60 + 40 * ((known.tempo - 60) // 40)} bpm and more"
        for cell in (thirds, f"jitter up to {2 * int(known.jitter_ms // 2) + 2} ms"):
            cells.setdefault(cell, Score()).add(known, fills)
        for grid in (*GRIDS, "mixed"):
            rolls = tuple(r for r in known.rolls if r.grid == grid)
            part = type(known)(known.data, rolls, known.bars, known.tempo, known.jitter_ms)
            cells.setdefault(grid, Score()).add(part, fills)
    print(f"{songs} songs, {total.bars} bars, {total.rolls} rolls; {TARGETS}")
    show("all", total)
    print(f"  false in 200 bars: {200 * total.false / total.bars:.3f}")
    for name in sorted(cells):
        show(name, cells[name])
    print(*total.wrong, sep="\n")


def show(name: str, score: Score) -> None:
    """One line of rates."""
    found = score.found / max(score.rolls, 1)
    grid = score.grid_right / max(score.found, 1)
    hits = score.hits_right / max(score.found, 1)
    print(f"  {name:24} {score.rolls:5} rolls  found {found:.4f}  grid {grid:.4f}  hits {hits:.4f}")


def listing(folder: Path) -> None:
    """Every fill that is heard in real songs, and how long hearing takes."""
    places: dict[str, int] = {}
    count = bars = 0
    slowest = 0.0
    for path in sorted((folder / "game-parts").glob("*.mid")):
        chart = Chart(build(scan(path.read_bytes())), Facts(), path.name)
        parts = chart.parts
        seconds = min(_timed(chart.song, parts) for _ in range(3))
        slowest = max(slowest, seconds)
        fills = chart.fills
        print(f"{path.name}: {len(fills)} in {chart.song.grid.bars} bars, {1000 * seconds:.1f} ms")
        bars += chart.song.grid.bars
        count += len(fills)
        for row in range(len(fills)):
            print("   ", _line(chart.song, fills, row))
            last = int(chart.song.grid.bar_of(fills.end[row] - 1)) % 4 + 1
            places[f"bar {last} of 4"] = places.get(f"bar {last} of 4", 0) + 1
    print(f"{count} fills in {bars} bars; slowest song {1000 * slowest:.1f} ms")
    print("where they end, counted from the file's first bar:", dict(sorted(places.items())))


def _timed(heard: Song, parts: object) -> float:
    start = perf_counter()
    hear_fills(heard, parts)  # type: ignore[arg-type]
    return perf_counter() - start


def _line(heard: Song, fills: Fills, row: int) -> str:
    grid = heard.grid
    start, end = fills.start[row], fills.end[row]
    return (
        f"{heard.parts[int(fills.part[row])].name[:16]:16} "
        f"bar {int(grid.bar_of(start)) + 1} beat {float(grid.beat_of(start)):.2f}"
        f" – bar {int(grid.bar_of(end)) + 1} beat {float(grid.beat_of(end)):.2f}: "
        f"{fills.hits[row]} hits, {fills.grid[row]} ({fills.steps[row]}), {fills.velocity[row]}, "
        f"{fills.movement[row]}, certainty {fills.certainty[row]:.2f}"
    )


if __name__ == "__main__":
    generated(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
    if len(sys.argv) > 2:
        listing(Path(sys.argv[2]))
