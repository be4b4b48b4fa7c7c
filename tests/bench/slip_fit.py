"""Fit a logistic model of slips, and say what its scores reach and how true its chances are."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

PRIOR = 1.0  # slips per 100 bars that the chances assume: a beat before export, not a finished one
BINS = (0.05, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)  # chances that are held against what came true
RIDGE = 1.0  # keeps weights small where evidence overlaps


def fitted(meant: Floats, faults: Floats, share: float) -> tuple[float, Floats]:
    """Intercept and weights of a ridge-penalised logistic regression (Newton's method)."""
    x = np.concatenate((meant, faults))
    y = np.concatenate((np.zeros(len(meant)), np.ones(len(faults))))
    size = np.concatenate(
        (np.ones(len(meant)), np.full(len(faults), share * len(meant) / len(faults)))
    )
    middle, spread = meant.mean(axis=0), meant.std(axis=0) + 1e-9
    z = np.column_stack((np.ones(len(x)), (x - middle) / spread))
    w = np.zeros(z.shape[1])
    penalty = RIDGE * np.diag([0.0, *np.ones(x.shape[1])])
    for _ in range(30):
        p = 1 / (1 + np.exp(-np.clip(z @ w, -30, 30)))
        slope = z.T @ (size * (y - p)) - penalty @ w
        bend = (z * (size * p * (1 - p))[:, None]).T @ z + penalty
        step = np.linalg.solve(bend, slope)
        w += step
        if np.abs(step).max() < 1e-6:
            break
    weights = w[1:] / spread
    return float(w[0] - weights @ middle), weights


@dataclass(frozen=True, slots=True)
class Told:
    """Cross-validated scores: of alarms as written, and of the faults of each kind."""

    bars: int
    alarms: Floats
    faults: dict[str, Floats]

    def recall(self, rate: float) -> dict[str, float]:
        """Share of each kind of fault that scores above ``rate`` false alarms per 100 bars."""
        least = np.sort(self.alarms)[::-1][min(int(rate * self.bars / 100), len(self.alarms) - 1)]
        return {kind: float((score > least).mean()) for kind, score in self.faults.items()}


def calibrated(told: Told) -> tuple[float, float]:
    """Factor and shift of a score that make of it log odds at `PRIOR` slips per 100 bars."""
    faults = np.concatenate([x[np.isfinite(x)] for x in told.faults.values()])
    x = np.concatenate((told.alarms, faults))
    y = np.concatenate((np.zeros(len(told.alarms)), np.ones(len(faults))))
    size = np.where(y > 0, PRIOR * told.bars / 100 / len(faults), 1.0)
    near = x > np.quantile(told.alarms, 0.9)  # the tail is what rules act on
    x, y, size = x[near], y[near], size[near]
    w = np.zeros(2)
    z = np.column_stack((np.ones(len(x)), x - x.mean()))
    for _ in range(200):
        p = 1 / (1 + np.exp(-np.clip(z @ w, -30, 30)))
        bend = (z * (size * p * (1 - p))[:, None]).T @ z + 1e-6 * np.eye(2)
        step = np.linalg.solve(bend, z.T @ (size * (y - p)))
        w += step * min(1.0, 1.0 / np.abs(step).max())  # damped: far from the answer it overshoots
    return float(w[1]), float(w[0] - w[1] * x.mean())


def chance_at(told: Told, rate: float, factor: float, shift: float) -> float:
    """The calibrated chance at so many false alarms per 100 bars."""
    least = np.sort(told.alarms)[::-1][int(rate * told.bars / 100)]
    return float(1 / (1 + np.exp(-(factor * least + shift))))


def borne_out(told: Told, factor: float, shift: float) -> list[str]:
    """How often chances come true: those said, and the share of slips among them, at `PRIOR`."""
    faults = np.concatenate([x[np.isfinite(x)] for x in told.faults.values()])
    score = np.concatenate((told.alarms, faults))
    slip_is = np.concatenate((np.zeros(len(told.alarms)), np.ones(len(faults))))
    size = np.where(slip_is > 0, PRIOR * told.bars / 100 / len(faults), 1.0)
    chance = 1 / (1 + np.exp(-(factor * score + shift)))
    lines = []
    for low, high in pairwise(BINS):
        inside = (chance >= low) & (chance < high)
        said = np.average(chance[inside], weights=size[inside])
        true = np.average(slip_is[inside], weights=size[inside])
        lines.append(f"chances of {low} to {high}, {said:.2f} on average, came true in {true:.2f}")
    return lines
