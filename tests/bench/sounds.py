"""How well are pitch and decay of struck bass sounds measured? Run: python tests/bench/sounds.py

Synthesised sounds of known pitch and T60 in every mixture of pitch drop, noise, clipping and
overtones, far beyond what is fair: some have faded before their pitch has settled.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np

from basslint.sound.one_shot import measure_samples

RATE = 44_100
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


def main() -> None:
    """Print shares within 3 cents and 5 %."""
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
