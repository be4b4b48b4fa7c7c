"""How are columns of small whole numbers put in order? Quicker than by comparing them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_TWO_BYTES = 1 << 16


def order_of(key: NDArray[np.integer]) -> NDArray[np.intp]:
    """Rows of whole numbers from 0 up, [n], in rising order, equal ones in the order they stand.

    Numbers that fit two bytes are sorted by counting, many times as fast as by comparing.
    """
    small = len(key) > 0 and int(key.max()) < _TWO_BYTES
    return np.argsort(key.astype(np.uint16) if small else key, kind="stable")
