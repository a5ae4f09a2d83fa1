"""Activation: amplitude above rest, as a fraction of the reference MVC."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from musclewood.signal.stream.blocks import Samples
from numpy.typing import NDArray

Flags = NDArray[np.bool_]


_SET = np.ones(1024, bool)  # what nearly all flags of the stream are, so that nobody need look at each
_SET.flags.writeable = False
KEPT_SHAPES = 64  # a stream comes in blocks of few lengths


@lru_cache(KEPT_SHAPES)
def set_flags(*shape: int) -> Flags:
    """Flags, all set and not to be changed."""
    size = math.prod(shape)
    return (_SET[:size] if size <= len(_SET) else _constant(shape, True)).reshape(shape)


@lru_cache(KEPT_SHAPES)
def clear_flags(*shape: int) -> Flags:
    """Flags, none set and not to be changed."""
    return _constant(shape, False)


def all_set(flags: Flags) -> bool:
    """Whether all of some flags are set."""
    return flags.base is _SET or np.count_nonzero(flags) == flags.size


class Activation(NamedTuple):
    """One batch of ticks; every array has the shape (ticks, channels), ticks may be 0.

    start_s: time of the first tick's first sample, counted in samples of the sensor.
    step_s: spacing of the ticks, about 4 ms.
    amplitude_uv: smoothed size of the EMG, µV, rest included.
    settled: shape (ticks,), False for a while after hum came or went: what is faint then may be what is left of it.
    activation: 1.0 = 100 %MVC; never negative, may exceed 1; NaN until a reference is known.
    contracting: whether a contraction is going on.
    readable: False while the sensor is silent, flat or not a number, and until the chain has settled again.
    """

    start_s: float
    step_s: float
    amplitude_uv: Samples
    activation: Samples
    contracting: Flags
    readable: Flags
    settled: Flags


@dataclass(frozen=True, slots=True)
class Reference:
    """What activation is measured against, one value per channel, µV: amplitude at rest and in the reference MVC."""

    rest_uv: tuple[float, ...]
    mvc_uv: tuple[float, ...]

    def __post_init__(self) -> None:
        """Raise ValueError where no fraction could be formed."""
        if len(self.rest_uv) != len(self.mvc_uv):
            raise ValueError(f"{len(self.rest_uv)} resting levels for {len(self.mvc_uv)} maxima")
        for rest, mvc in zip(self.rest_uv, self.mvc_uv, strict=True):
            if not 0.0 <= rest < mvc < float("inf"):
                raise ValueError(f"a reference needs 0 <= rest < MVC, not rest {rest} and MVC {mvc} µV")


def relative_activation(amplitude_uv: Samples, reference: Reference | None) -> Samples:
    """Fraction of the reference MVC for amplitudes (ticks, channels) in µV; all NaN without a reference.

    Rest is removed in power, since EMG and noise are independent and their powers add (Clancy & Hogan 1999, IEEE
    Trans Biomed Eng 46:730, treat noise so). Above 1 is kept: muscles exceed their isometric MVC in moving tasks.
    """
    if reference is None:
        return _unknown(*amplitude_uv.shape)
    rest_power, span = _powers(reference)
    power: Samples = np.square(amplitude_uv)
    power -= rest_power
    np.maximum(0.0, power, out=power)
    power /= span
    np.sqrt(power, out=power)
    return power


@lru_cache(KEPT_SHAPES)
def _unknown(*shape: int) -> Samples:
    return _constant(shape, np.nan)


def _constant(shape: tuple[int, ...], value: Any) -> NDArray[Any]:
    """An array of one value throughout, of no size and not to be changed."""
    return np.broadcast_to(np.array(value), shape)


@lru_cache(maxsize=8)
def _powers(reference: Reference) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Power at rest, and what the maximum has above it."""
    rest_power: NDArray[np.float64] = np.square(reference.rest_uv)
    return rest_power, np.square(reference.mvc_uv) - rest_power
