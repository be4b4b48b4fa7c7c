"""How well are pitch and decay of struck bass sounds measured? Run: python tests/bench/sounds.py

First 600 drawn one-shots and those for which no note may be told (`one_shots.py`; `--seed N` draws
others), and whether the certainty means its share. Then synthesised sounds of known pitch and T60
in every mixture of pitch drop, noise, clipping and overtones, far beyond what is fair:
some have faded before their pitch has settled.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from bench.one_shots import NO_NOTE, RATE, draw

from basslint.sound.one_shot import measure_samples

PITCHES = (32.703, 48.999, 65.406, 110.0)  # Hz, ISO 16
DECAYS = (0.2, 0.4, 0.8, 2.0)  # s
DROPS = ((0.0, 0.03), (1.0, 0.03), (3.0, 0.03), (2.0, 0.05))  # octaves, time constant in s
NOISES = (None, -60.0, -40.0)  # dB below full scale
DRIVES = (0.0, 12.0)  # dB over full scale, then clipped
OVERTONES = (0.0, 0.5)


@dataclass(frozen=True)
class Trial:
    """One sound: what it is, how far off it was measured, and whether it was called settled."""

    t60: float
    drop: float
    noise: float | None
    cents: float
    decay: float
    settled: bool


def trial(
    hz: float,
    t60: float,
    drop: tuple[float, float],
    noise: float | None,
    drive: float,
    overtones: float,
    dice: np.random.Generator,
) -> Trial:
    """Make a sound and measure it."""
    time = np.arange(int(max(1.2 * t60, 0.5) * RATE)) / RATE
    phase = 2 * np.pi * np.cumsum(hz * 2 ** (drop[0] * np.exp(-time / drop[1]))) / RATE
    wave = sum(overtones**k * np.sin((k + 1) * phase) for k in range(5))
    wave = 0.9 * wave / np.abs(wave).max() * 10 ** (-3 * time / t60)
    if noise is not None:
        wave = wave + dice.standard_normal(len(time)) * 10 ** (noise / 20)
    wave = np.round(np.clip(wave * 10 ** (drive / 20), -1, 1) * 32767) / 32767
    heard = measure_samples(wave[:, None], RATE)
    cents = abs(1200 * np.log2(heard.pitch_hz / hz)) if heard.pitch_hz else np.inf
    decay = abs(heard.t60_s / t60 - 1) if heard.t60_s else np.inf
    return Trial(t60, drop[0], noise, cents, decay, heard.settled_s is not None)


def measure(seeds: range, kind: str) -> list[tuple[float, float, bool]]:
    """Cents off (NaN where no note is told), certainty, and whether it is called settled."""
    rows = []
    for seed in seeds:
        wave, shot = draw(seed, kind)
        heard = measure_samples(wave[:, None], RATE)
        truth = shot.hz if kind not in NO_NOTE else RATE
        cents = 1200 * np.log2(heard.pitch_hz / truth) if heard.pitch_hz else np.nan
        rows.append((float(cents), heard.pitch_certainty or 0.0, heard.settled_s is not None))
    return rows


def drawn(seed: int, count: int) -> None:
    """Print what is told of drawn one-shots, and how sure that was."""
    sure_of: list[tuple[float, bool]] = []
    print(
        f"{'':22}{'sounds':>7}{'class':>7}{'note':>7}{'wrong':>7}{'unsure':>8}{'5 c if sure':>17}"
    )
    for kind in ("note", "hard"):
        rows = measure(range(seed, seed + (count if kind == "note" else count // 2)), kind)
        cents = np.array([r[0] for r in rows])
        told, settled = ~np.isnan(cents), np.array([r[2] for r in rows])
        away = np.abs((cents + 600) % 1200 - 600)
        right, note = told & (away <= 50), told & (np.abs(cents) <= 50)
        close = np.mean(np.abs(cents[settled]) <= 5)
        shares = (right.mean(), note.mean(), (told & ~right).mean())
        print(f"{kind:22}{len(rows):7}" + "".join(f"{s:7.3f}" for s in shares)
              + f"{1 - told.mean():8.3f}{close:17.3f}")  # fmt: skip
        sure_of += [(r[1], bool(n)) for r, n, t in zip(rows, note, told, strict=True) if t]
    for kind in NO_NOTE:
        rows = measure(range(seed, seed + count // 6), kind)
        told = np.mean([not np.isnan(r[0]) for r in rows])
        print(f"{kind:22}{len(rows):7}  told all the same {told:.3f}")
    for certainty in sorted({c for c, _ in sure_of}):
        mine = [n for c, n in sure_of if c == certainty]
        print(f"certainty {certainty:.2f}: {len(mine)} sounds, {np.mean(mine):.3f} right")


def main() -> None:
    """Print shares within 3 cents and 5 %, and those of drawn one-shots."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=70_000)
    parser.add_argument("--count", type=int, default=600)
    given = parser.parse_args()
    drawn(given.seed, given.count)
    mixtures_told()


def mixtures_told() -> None:
    """Print shares within 3 cents and 5 % of every mixture."""
    dice = np.random.default_rng(1)
    mixtures = product(PITCHES, DECAYS, DROPS, NOISES, DRIVES, OVERTONES)
    trials = [trial(*mixture, dice) for mixture in mixtures]
    groups: list[tuple[str, Callable[[Trial], bool]]] = [("all", lambda t: True)]
    groups += [(f"T60 {d} s", lambda t, d=d: t.t60 == d) for d in DECAYS]
    groups += [(f"drop of {d[0]:g} octaves", lambda t, d=d: t.drop == d[0]) for d in DROPS]
    groups += [(f"noise {n} dB", lambda t, n=n: t.noise == n) for n in NOISES]
    groups += [("called settled", lambda t: t.settled)]
    print(f"{'':22}{'sounds':>7}{'within 3 cents':>16}{'decay within 5 %':>18}")
    for name, belongs in groups:
        mine = [t for t in trials if belongs(t)]
        cents = np.mean([t.cents <= 3 for t in mine])
        decay = np.mean([t.decay <= 0.05 for t in mine])
        print(f"{name:22}{len(mine):7}{cents:16.3f}{decay:18.3f}")


if __name__ == "__main__":
    main()
