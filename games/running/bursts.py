"""Keeps the newest seconds of EMG, so that a contraction just judged can be looked at for fatigue."""

from __future__ import annotations

import numpy as np
from musclewood.signal.measures.fatigue import Burst, measure_burst
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.conditioning import Conditioning
from musclewood.signal.stream.mains import MainsRemoval

KEPT_S = 90.0  # our choice: longer than any attempt may last but a relaxed one, which has no spectrum to speak of


class BurstKeeper:
    """Conditioned samples by time since the first one.  Not for a sensor that sends an
    envelope: that has no spectrum."""

    def __init__(self, rate_hz: float, channels: int) -> None:
        self._rate_hz, self._channels = rate_hz, channels
        self._conditioning = Conditioning(rate_hz, channels)
        self._mains = MainsRemoval(rate_hz, channels)
        self._kept: list[Samples] = []
        self._count = 0  # of the samples kept
        self._total = 0  # of all samples so far, lost ones too

    def take(self, block: Block) -> None:
        """Take in a block; what was lost before it is kept as silence, so that time stays in step."""
        emg, readable = self._conditioning.process(block.samples_uv, block.lost)
        clean = self._mains.process(emg, readable, block.lost)
        self._total += block.lost + len(clean)
        gap = min(block.lost, round(KEPT_S * self._rate_hz))
        for samples in (np.zeros((gap, self._channels)), clean):
            if len(samples):
                self._keep(samples)

    def burst(self, channel: int, onset_s: float, offset_s: float) -> Burst | None:
        """The contraction between two moments; None if it is too short or no longer kept."""
        start_s = (self._total - self._count) / self._rate_hz
        if onset_s < start_s or not self._kept:
            return None
        samples = np.concatenate([part[:, channel] for part in self._kept])
        found = measure_burst(samples, self._rate_hz, onset_s - start_s, offset_s - start_s)
        return None if found is None else Burst(found.time_s + start_s, found.median_frequency_hz, found.amplitude_uv)

    def _keep(self, samples: Samples) -> None:
        self._kept.append(samples)
        self._count += len(samples)
        while self._count - len(self._kept[0]) > KEPT_S * self._rate_hz:
            self._count -= len(self._kept.pop(0))
