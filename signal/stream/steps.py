"""The steps of a coarse converter, learned from the first samples, and the noise they add.

Rounding to steps adds noise of step / sqrt(12) (Widrow & Kollár 2008, Quantization Noise), and hides what is smaller
than a step: at rest an 8 bit sensor may give the same number for seconds. No rest is quieter than that noise, whatever
it looks like, so thresholds that are multiples of the rest do not sink below it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from musclewood.signal.stream.blocks import Samples
from numpy.typing import NDArray

# Our choices: from so many changes of one channel; all must be multiples of the smallest within rounding. Where at
# least half of the samples repeat the one before, as no fine converter's do, nearly every change is one step, and few
# will
# tell.
CHANGES, FEW_CHANGES = 200, 5
OFF_BY = 0.05


@dataclass
class StepState:
    """Per channel: sizes of the first changes, or None once they have told; newest sample, whether coarse; samples so
    far."""

    changes: list[NDArray[np.float64] | None]
    last: NDArray[np.float64]
    coarse: list[bool]
    sample: int = 0
    seen: int = 0  # of them, so many arrived
    untold: int = 0  # channels that have not told


class StepSize:
    """Learns how coarse each channel is, and how much of the noise of rounding lies within the band of the EMG."""

    def __init__(self, channels: int, share_of_band: float) -> None:
        """share_of_band: of the noise's power, which is white up to half the sampling rate, that the filter lets
        through."""
        self._part = math.sqrt(share_of_band / 12.0)
        self._state = StepState(
            [np.zeros(0)] * channels, np.full(channels, np.nan), [False] * channels, untold=channels
        )

    @property
    def learning(self) -> bool:
        """Whether any channel has not told yet."""
        return self._state.untold > 0

    @property
    def samples(self) -> int:
        """Samples so far, lost ones among them."""
        return self._state.sample

    def coarse(self, channel: int) -> bool:
        """Whether what has been told of a channel is that most of its samples repeat the one before."""
        return self._state.coarse[channel]

    def process(self, samples_uv: Samples, lost: int = 0) -> list[tuple[int, int, float]]:
        """Raw samples (n, channels) in µV to channel, sample (from the start) and noise in µV of each that tells."""
        state = self._state
        told = []
        for channel, changes in enumerate(state.changes):
            if changes is None or not len(samples_uv):
                continue
            sizes = np.abs(np.diff(np.concatenate((state.last[channel : channel + 1], samples_uv[:, channel]))))
            at = np.flatnonzero(sizes > 0.0)[: CHANGES - len(changes)]  # what is no number compares as False
            state.changes[channel] = seen = np.concatenate((changes, sizes[at]))
            for count, sample in enumerate(at.tolist(), len(changes) + 1):
                few = count >= FEW_CHANGES and state.seen + sample + 1 >= 2 * count
                step_uv = step_of(seen[:count]) if few or count == CHANGES else None
                if step_uv is not None:
                    state.coarse[channel] = few
                    told.append((channel, state.sample + lost + sample, self._part * step_uv))
                if step_uv is not None or count == CHANGES:
                    state.changes[channel] = None
                    state.untold -= 1
                    break
        if len(samples_uv):
            state.last = samples_uv[-1].copy()
        state.sample += lost + len(samples_uv)
        state.seen += len(samples_uv)
        return told


def step_of(changes: NDArray[np.float64]) -> float | None:
    """The smallest change, if all are multiples of it."""
    step_uv = float(changes.min())
    multiples = changes / step_uv
    return step_uv if np.all(np.abs(multiples - np.round(multiples)) < OFF_BY) else None
