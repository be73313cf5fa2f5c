"""Weight of a span's samples that lets nothing leak from outside a band into it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def flat_taper(count: int, *, edge: float) -> NDArray[np.float64]:
    """Return a weight of 1 that falls to 0 as a cosine over `edge` samples at either end.

    >>> flat_taper(4, edge=1).round(3).tolist()
    [0.5, 1.0, 1.0, 0.5]
    """
    place = np.arange(count) + 0.5
    nearest = np.minimum(place, count - place)
    return np.asarray(np.where(nearest < edge, 0.5 - 0.5 * np.cos(np.pi * np.minimum(nearest / edge, 1)), 1.0))
