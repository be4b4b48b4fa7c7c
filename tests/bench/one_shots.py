"""Bass one-shots of known pitch, as beat makers have them: what does each hold, and what is true?

Drawn, not listed: pitch from 30 to 110 Hz, overtones below and above the fundamental, a drop at the
start, distortion, noise, vibrato, wobble of the tone, decays from .2 to 8 s. Apart from them stand
sounds for which no note may be told: two notes in one file, a pitch that moves to the end, noise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

RATE = 44_100
LOWEST_HZ, HIGHEST_HZ = 30.0, 110.0  # of the fundamental, as the mark asks
SHORTEST_T60_S, LONGEST_T60_S = 0.2, 8.0
LONGEST_S = 4.0  # of the file: a longer ring is cut off
PARTIALS = 12
NO_NOTE = ("two notes", "moves to the end", "noise")


@dataclass(frozen=True, kw_only=True, slots=True)
class OneShot:
    """What a drawn sound is made of; ``hz`` where it settles, NaN where no note may be told.

    ``drop`` octaves above that at its start, over ``drop_s``. ``tone``: how its partials lie.
    ``drive_db`` into tanh, ``noise_db`` against the peak (−inf for none), ``vibrato`` cents either
    way, ``t60`` seconds.
    """

    hz: float
    kind: str
    tone: str
    t60: float
    drop: float
    drop_s: float
    drive_db: float
    noise_db: float
    vibrato: float


def draw(seed: int, kind: str = "note") -> tuple[NDArray[np.float64], OneShot]:
    """The samples [n] of a drawn sound, full scale at 1, and what is true of it."""
    dice = np.random.default_rng(seed)
    t60 = float(np.exp(dice.uniform(np.log(SHORTEST_T60_S), np.log(LONGEST_T60_S))))
    hz = float(np.exp(dice.uniform(np.log(LOWEST_HZ), np.log(HIGHEST_HZ))))
    shot = OneShot(
        hz=hz,
        kind=kind,
        tone=str(dice.choice(["sine", "soft", "near", "above", "far above", "odd"])),
        t60=t60,
        drop=float(dice.uniform(0.2, 2.0)) if dice.random() < 0.6 else 0.0,
        drop_s=float(dice.uniform(0.03, 0.3)),
        drive_db=float(dice.uniform(3.0, 24.0)) if dice.random() < 0.4 else 0.0,
        noise_db=float(dice.choice([-np.inf, -60.0, -45.0, -30.0])),
        vibrato=float(dice.uniform(5.0, 40.0)) if dice.random() < 0.25 else 0.0,
    )
    if kind == "hard":  # worse than the mark asks, so that certainty has errors to be measured by
        shot = replace(shot, noise_db=float(dice.choice([-24.0, -18.0, -12.0])), tone="beyond")
    if kind in NO_NOTE:
        shot = replace(shot, hz=float("nan"), t60=max(t60, 1.5))
        shot = replace(shot, noise_db=min(shot.noise_db, -45.0))  # the second note must be heard
        t60 = shot.t60
    seconds = min(max(1.1 * t60, 0.35), LONGEST_S)
    time = np.arange(int(seconds * RATE)) / RATE
    if kind == "noise":
        wave = dice.standard_normal(len(time)) * 10 ** (-3 * time / t60)
        return 0.9 * wave / np.abs(wave).max(), shot
    octaves = _curve(shot, hz, time, dice)
    if kind == "two notes":
        apart = float(dice.choice([-7, -5, -2, -1, 1, 2, 3, 5, 7]))
        octaves = octaves + np.where(time > dice.uniform(0.35, 0.65) * seconds, apart / 12, 0.0)
    elif kind == "moves to the end":
        far = float(dice.choice([-1, 1])) * dice.uniform(0.2, 1.0)
        octaves = octaves + far * time / seconds
    wave = _tones(shot, time, octaves, dice)
    if shot.noise_db > -np.inf:
        wave = wave + dice.standard_normal(len(time)) * 10 ** (shot.noise_db / 20)
    wave = 0.9 * wave / np.abs(wave).max()
    return np.round(wave * 32767) / 32767, shot


def _curve(
    shot: OneShot, hz: float, time: NDArray[np.float64], dice: np.random.Generator
) -> NDArray[np.float64]:
    """Octaves above 55 Hz over time: the drop (straight or exponential) and the vibrato."""
    left = np.clip(1 - time / shot.drop_s, 0.0, 1.0)
    if dice.random() < 0.6:
        left = np.exp(-time * dice.uniform(3.0, 5.0) / shot.drop_s)
    sway = np.sin(2 * np.pi * (dice.uniform(3.0, 7.0) * time + dice.random()))
    onset = np.clip(time / 0.3, 0.0, 1.0) if dice.random() < 0.5 else 1.0
    return np.log2(hz / 55.0) + shot.drop * left + shot.vibrato / 1200 * sway * onset


def _tones(
    shot: OneShot,
    time: NDArray[np.float64],
    octaves: NDArray[np.float64],
    dice: np.random.Generator,
) -> NDArray[np.float64]:
    """The partials, each with its level and decay, driven and shaped."""
    levels = _levels(shot.tone, dice)
    phase = 2 * np.pi * np.cumsum(55.0 * 2**octaves) / RATE
    fall = dice.uniform(1.0, 2.5)  # the last partial dies so many times as fast as the first
    wobble = dice.uniform(1.0, 4.0) if dice.random() < 0.15 else 0.0
    wave = np.zeros(len(time))
    for k, level in enumerate(levels):
        ring = shot.t60 / (1 + (fall - 1) * k / PARTIALS)
        loud = level * 10 ** (-3 * time / ring)
        if wobble and k:
            loud = loud * (0.5 + 0.5 * np.sin(2 * np.pi * wobble * time))
        wave += loud * np.sin((k + 1) * phase + dice.uniform(0, 2 * np.pi))
    wave /= np.abs(wave).max()
    if shot.drive_db:
        drive = 10 ** (shot.drive_db / 20)
        wave = np.tanh(drive * wave) / np.tanh(drive)
    rise = dice.choice([0.001, 0.005, 0.02])
    if dice.random() < 0.25:  # a click on top
        wave[: int(0.005 * RATE)] += 0.5 * dice.standard_normal(int(0.005 * RATE))
    return np.asarray(wave * np.clip(time / rise, 0, 1) * np.clip((time[-1] - time) / 0.005, 0, 1))


def _levels(tone: str, dice: np.random.Generator) -> NDArray[np.float64]:
    """Amplitude of each partial, the fundamental at 1."""
    k = np.arange(PARTIALS)
    decibels = {
        "sine": np.full(PARTIALS, -120.0),
        "soft": -dice.uniform(9, 18) * k,
        "near": -6.0 - dice.uniform(2, 6) * np.maximum(k - 1, 0),
        "above": dice.uniform(0, 6) - 3.0 * np.maximum(k - 1, 0),
        "far above": dice.uniform(6, 12) - 4.0 * np.maximum(k - 1, 0),
        "beyond": dice.uniform(6, 24) - 3.0 * np.maximum(k - 1, 0),
        "odd": np.where(k % 2 == 0, -dice.uniform(0, 6) - 3.0 * k, -60.0),
    }[tone]
    decibels = decibels + dice.uniform(-3, 3, PARTIALS) * (k > 0)
    decibels[0] = 0.0
    return np.asarray(10 ** (decibels / 20))
