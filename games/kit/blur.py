"""Gaussian blur with numpy alone: the first screen needs it before anything else is loaded."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

REACH = 4.0  # standard deviations to either side; what lies beyond is below 1/15,000 of the whole


def blurred(field: NDArray[np.float32], spread_px: float) -> NDArray[np.float32]:
    """A field (rows, columns) blurred along both axes; beyond an edge goes on what lies at it."""
    return _along(_along(field, spread_px, 0), spread_px, 1)


def blurred_tile(field: NDArray[np.float32], *spreads_px: tuple[float, float]) -> list[NDArray[np.float32]]:
    """A seamless tile (rows, columns) blurred with each of these spreads along its axes; beyond an edge comes what lies
    at the opposite one."""
    whole = np.fft.rfft2(field)
    rows, columns = field.shape
    found = []
    for down_px, across_px in spreads_px:
        response = np.fft.fft(_ring(down_px, rows))[:, None] * np.fft.rfft(_ring(across_px, columns))[None, :]
        found.append(np.fft.irfft2(whole * response.real.astype(np.float32), field.shape).astype(np.float32))
    return found


def _ring(spread_px: float, length: int) -> NDArray[np.float64]:
    """The kernel laid round a ring of so many pixels, its middle at the first: even, so its transform is real."""
    steps, kernel = _kernel(spread_px)
    ring = np.zeros(length)
    np.add.at(ring, steps % length, kernel)
    return ring


def _kernel(spread_px: float) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Steps in pixels, and how much of the whole lies at each."""
    reach = math.ceil(REACH * spread_px)
    steps = np.arange(-reach, reach + 1)
    kernel = np.exp(-0.5 * (steps / max(spread_px, 1e-9)) ** 2)
    return steps, kernel / kernel.sum()


def _along(field: NDArray[np.float32], spread_px: float, axis: int) -> NDArray[np.float32]:
    """Step by step away from the middle: a shadow's blur is a few pixels, for which a transform would take longer."""
    steps, kernel = _kernel(spread_px)
    reach, length = int(steps[-1]), field.shape[axis]
    first, last = (field.take([place], axis) for place in (0, -1))
    padded = np.concatenate((*(first,) * reach, field, *(last,) * reach), axis)
    along = padded.swapaxes(0, axis)
    weights = kernel.astype(np.float32)
    soft = along[reach : reach + length] * weights[reach]
    for step in range(1, reach + 1):
        both = along[reach - step : reach - step + length] + along[reach + step : reach + step + length]
        both *= weights[reach + step]
        soft += both
    return np.ascontiguousarray(soft.swapaxes(0, axis))
