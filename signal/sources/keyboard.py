"""Practice without a sensor: a held key becomes a smooth effort."""

from __future__ import annotations

import math

import numpy as np
from musclewood.signal.sources import SampleClock, SourceKind
from musclewood.signal.stream.blocks import Block, Samples

RATE_HZ = 100.0
FULL_UV = 500.0  # our choice: what full effort reads, within the range of surface EMG on a limb muscle
REST_UV = 4.0  # our choice: a resting level like that of a good electrode
HIGHEST_LEVEL = 1.25  # our choice: a little above full effort, so that `over` can be practised too
RISE_S = 0.18  # our choice: about the time constant of a brisk voluntary rise
RELEASE_S = 0.10  # our choice: letting go is quicker than rising, as in muscle


class KeyboardSource:
    """An envelope at 100 Hz, one channel per key. The screen says what is pressed and when time passes.

    Effort follows the key through two equal first-order lags (critically damped), so that it starts gently, never
    overshoots, and can be held anywhere by tapping.
    """

    kind: SourceKind = "keyboard"
    envelope = True
    ended = False
    rate_hz = RATE_HZ

    def __init__(self, channels: int = 2) -> None:
        self.labels = tuple(f"key {number}" for number in range(1, channels + 1))
        self._held = np.zeros(channels, dtype=bool)
        self._level = np.ones(channels)
        self._lagged = np.zeros(channels)
        self._effort = np.zeros(channels)
        self._clock = SampleClock(RATE_HZ)

    @property
    def effort(self) -> tuple[float, ...]:
        """The effort now, as a fraction of full, per channel."""
        return tuple(float(value) for value in self._effort)

    @property
    def level(self) -> tuple[float, ...]:
        """What a held key rises to, as a fraction of full, per channel."""
        return tuple(float(value) for value in self._level)

    def start(self) -> None:
        self._release()

    def stop(self) -> None:
        self._release()

    def press(self, channel: int, held: bool) -> None:
        """Say whether the key of a channel is down. Keys of channels that do not exist are ignored."""
        if 0 <= channel < len(self._held):
            self._held[channel] = held

    def adjust(self, level: float, channel: int | None = None) -> None:
        """Set what a held key rises to, as a fraction of full effort; of one channel, or of all."""
        if not math.isfinite(level):
            raise ValueError(f"level must be a finite number, got {level}")
        chosen = slice(None) if channel is None else channel
        self._level[chosen] = min(max(level, 0.0), HIGHEST_LEVEL)

    def poll(self, elapsed_s: float) -> list[Block]:
        start = self._clock.count
        fresh = self._clock.advance(elapsed_s)
        if fresh == 0:
            return []
        return [Block(self._samples(fresh), start / RATE_HZ)]

    def _samples(self, count: int) -> Samples:
        target = np.where(self._held, self._level, 0.0)
        follow = np.where(self._held, -math.expm1(-1.0 / (RISE_S * RATE_HZ)), -math.expm1(-1.0 / (RELEASE_S * RATE_HZ)))
        samples: Samples = np.empty((count, len(self.labels)))
        for tick in range(count):
            self._lagged += follow * (target - self._lagged)
            self._effort += follow * (self._lagged - self._effort)
            # Rest and effort add in power, as independent signals do.
            samples[tick] = np.hypot(REST_UV, FULL_UV * self._effort)
        return samples

    def _release(self) -> None:
        self._held[:] = False
