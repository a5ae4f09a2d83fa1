"""A block: the unit in which samples travel from a source to the chain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Block:
    """Samples of all channels over one stretch of time.

    samples_uv: shape (n, channels), in µV; n may be 0.
    start_s: time of the first sample since the stream began, counted in samples of the sensor, not by a wall clock.
    lost: samples the sensor made just before this block that never arrived.
    """

    samples_uv: Samples
    start_s: float
    lost: int = 0
