"""What does the ear make of a signal's lows and highs? The K-weighting, as loudness is measured.

Source: ITU-R BS.1770-4, annex 1, given there at 48 kHz; other rates by the analogue filters that
those coefficients are the bilinear transforms of.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]

# The analogue filters of BS.1770: corner (Hz), gain (dB), Q of the shelf; corner and Q of the RLB
_SHELF = (1681.974450955533, 3.999843853973347, 0.7071752369554196)
_HIGH_PASS = (38.13547087602444, 0.5003270373238773)
_SHELF_POWER = 0.4996667741545416
_BLOCK = 64  # samples that a matrix filters at once
_FORGOTTEN = 1e-18  # of what a filter remembers: below the last bit of a float64


def weighted(samples: Samples, rate: int, most: int) -> Iterator[Samples]:
    """The signal after both filters, by pieces of about ``most`` samples.

    numpy has no recursive filter. What a block of samples gives by itself, and what it leaves to
    the next ones, are products with a matrix; what all blocks before left is added up by spans
    that double. A Fourier transform of each piece took twenty times as long.
    """
    own, left, answer, later = _in_blocks(rate)
    state = np.zeros(len(later))
    size = max(most // _BLOCK, 1) * _BLOCK
    for begin in range(0, len(samples), size):
        piece = samples[begin : begin + size]
        blocks = np.zeros((-(-len(piece) // _BLOCK), _BLOCK))
        blocks.ravel()[: len(piece)] = piece
        states = blocks @ left
        states[0] += state @ later
        span, step = 1, later
        while span < len(states) and np.abs(step).max() > _FORGOTTEN:
            states[span:] += states[:-span] @ step
            span, step = 2 * span, step @ step
        result = blocks @ own
        result[0] += state @ answer
        result[1:] += states[:-1] @ answer
        state = states[-1]
        yield result.ravel()[: len(piece)]


@cache
def _in_blocks(rate: int) -> tuple[Samples, Samples, Samples, Samples]:
    """Matrices that rows are multiplied with: a block of samples to what it gives by itself
    [`_BLOCK`, `_BLOCK`] and to the state that it leaves [`_BLOCK`, 4]; a state to what follows of
    it in a block [4, `_BLOCK`] and to what is left of it after one [4, 4]."""
    gives, out, enters, turn = _in_steps(rate)
    answer = np.zeros((len(out), _BLOCK))
    reached = np.eye(len(out))
    left = np.zeros((_BLOCK, len(out)))
    for i in range(_BLOCK):
        answer[:, i] = reached @ out
        left[_BLOCK - 1 - i] = enters @ reached
        reached = reached @ turn
    response = np.append(gives, enters @ answer[:, :-1])
    own = np.zeros((_BLOCK, _BLOCK))
    for i in range(_BLOCK):
        own[i, i:] = response[: _BLOCK - i]
    return own, left, answer, reached


def _in_steps(rate: int) -> tuple[float, Samples, Samples, Samples]:
    """One sample: what it gives at once; what the state adds to that [4], what it adds to the
    state [4], and what becomes of the state [4, 4], a row before it to a row after.

    The state is that of four integrators by the trapezoid rule. The filters' coefficients would do
    as well on paper, but with both poles of the lower one so near to 1 they lose seven digits.
    """
    forms = np.eye(5)  # each quantity as what it has of the sample and of the four states
    corner, gain, q = _SHELF
    high = 10.0 ** (gain / 20.0)
    highs, middles, lows, of_shelf = _parted(forms[0], forms[1:3], np.tan(np.pi * corner / rate), q)
    raised = high * highs + high**_SHELF_POWER / q * middles + lows
    corner, q = _HIGH_PASS
    k = np.tan(np.pi * corner / rate)
    highs, _, _, of_high_pass = _parted(raised, forms[3:], k, q)
    result = (1.0 + k / q + k * k) * highs  # at full level far above the corner, as annex 1 has it
    state = np.concatenate((of_shelf, of_high_pass))
    return float(result[0]), result[1:], state[:, 0], state[:, 1:].T


def _parted(
    signal: Samples, state: Samples, k: float, q: float
) -> tuple[Samples, Samples, Samples, Samples]:
    """What lies above, around and below a corner in a sample, and the two integrators after it."""
    highs = (signal - (1.0 / q + k) * state[0] - state[1]) / (1.0 + k / q + k * k)
    middles = state[0] + k * highs
    lows = state[1] + k * middles
    return highs, middles, lows, np.array((middles + k * highs, lows + k * middles))
