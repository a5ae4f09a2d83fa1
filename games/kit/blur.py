"""Gaussian blur with numpy alone: the first screen needs it before anything else is loaded."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

REACH = 4.0  # standard deviations to either side; what lies beyond is below 1/15,000 of the whole
Edge = Literal["nearest", "wrap"]


def blurred(field: NDArray[Any], spread_px: float | Sequence[float], edge: Edge) -> NDArray[np.float32]:
    """A field (rows, columns) blurred along each axis with its own spread.

    `nearest` goes on beyond an edge with what lies at it; `wrap` comes in again on the other side.
    """
    spreads = (spread_px, spread_px) if isinstance(spread_px, (int, float)) else tuple(spread_px)
    soft = np.asarray(field, dtype=np.float32)
    for axis, spread in enumerate(spreads):
        soft = _along(soft, float(spread), axis, edge)
    return soft


def _along(field: NDArray[np.float32], spread_px: float, axis: int, edge: Edge) -> NDArray[np.float32]:
    length = field.shape[axis]
    reach = math.ceil(REACH * spread_px)
    steps = np.arange(-reach, reach + 1) / max(spread_px, 1e-9)
    kernel = np.exp(-0.5 * steps**2)
    beyond = [(reach, reach) if number == axis else (0, 0) for number in range(field.ndim)]
    padded = np.pad(field, beyond, mode="edge" if edge == "nearest" else "wrap")
    # Only what lies within the field is taken, so the transform may go round at its end.
    size = _quick_size(padded.shape[axis])
    shape = [1] * field.ndim
    shape[axis] = -1
    response = np.fft.rfft((kernel / kernel.sum()), size).astype(np.complex64).reshape(shape)
    soft = np.fft.irfft(np.fft.rfft(padded, size, axis=axis) * response, size, axis=axis)
    within = [slice(None)] * field.ndim
    within[axis] = slice(2 * reach, 2 * reach + length)
    return np.ascontiguousarray(soft[tuple(within)], dtype=np.float32)


def _quick_size(least: int) -> int:
    """The next length of which a Fourier transform is quick: a product of twos, threes and fives."""
    while True:
        rest = least
        for factor in (2, 3, 5):
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return least
        least += 1
