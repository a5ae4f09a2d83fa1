"""A model patient wearing a sensor: an endless, seeded EMG that follows what it is told to aim at."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from musclewood.signal.measures.spectrum import Vector
from musclewood.signal.simulation.disturbances import Disturbance, Disturber, split_at_losses
from musclewood.signal.simulation.model_patient import STEPS_PER_S, Body, ModelPatient
from musclewood.signal.simulation.synthesis import EmgCarrier
from musclewood.signal.sources import SampleClock, SourceKind
from musclewood.signal.stream.blocks import Block, Samples

__all__ = ["Disturbance", "ModelPatient", "SimulatedSource"]

CARRIER_S = 0.25  # our choice: how often the spectrum follows fatigue
ENVELOPE_LAG_S = 0.03  # our choice: the smoothing inside a sensor that sends an envelope
ENVELOPE_FREEDOM = 4  # degrees of freedom in 10 ms of EMG: twice its bandwidth of about 200 Hz times 0.01 s


class SimulatedSource:
    """Raw samples at `rate_hz`, or with `envelope` a smoothed amplitude at 100 Hz (some fifteen times quicker to make).

    The same seed, aims and times of aiming give the same samples for any sizes of poll. The seed also draws today's
    electrode placement, so each session has its own seed and the same person.
    """

    kind: SourceKind = "simulated"
    ended = False

    def __init__(
        self,
        person: ModelPatient | None = None,
        *,
        rate_hz: float = 1000.0,
        channels: int = 2,
        faults: Sequence[Disturbance] = (),
        seed: int = 0,
        envelope: bool = False,
    ) -> None:
        self.person = person or ModelPatient()
        self.envelope = envelope
        self.rate_hz = float(STEPS_PER_S) if envelope else rate_hz
        self.labels = tuple(f"muscle {number}" for number in range(1, channels + 1))
        self.body = Body(self.person, channels, (seed, 1))
        self._clock = SampleClock(self.rate_hz)
        self._random = np.random.default_rng((seed, 2))
        placement = np.exp(math.sqrt(math.log1p(self.person.placement_cv**2)) * self._random.standard_normal(channels))
        fresh = np.array([self.person.of_channel(self.person.mvc_uv, channel) for channel in range(channels)])
        self._gain: list[float] = placement.tolist()
        self._full_uv: list[float] = (fresh * placement * self.person.strength).tolist()
        self._carriers = [EmgCarrier(self.rate_hz, (seed, 3, channel)) for channel in range(channels)]
        self._disturber = Disturber(self.rate_hz, channels, seed, faults)
        self._chunk = max(1, round(CARRIER_S * self.rate_hz))
        self._carrier: Samples = np.empty((0, channels))  # of the running chunk
        self._amplitude = self._amplitude_uv()
        self._amplitude_before = self._amplitude
        self._smoothed = self._amplitude**2
        self._history: list[tuple[float, ...]] = []
        self._lost = 0

    @property
    def true_mvc_uv(self) -> tuple[float, ...]:
        """The EMG amplitude of today's full effort when fresh, per channel, without rest and noise."""
        return tuple(self._full_uv)

    @property
    def time_s(self) -> float:
        """Seconds of signal made so far."""
        return self._clock.count / self.rate_hz

    @property
    def true_activation(self) -> Samples:
        """What a perfect chain would have seen: shape (m, channels), one row per 10 ms, the first at 0.01 s."""
        return np.array(self._history).reshape(len(self._history), len(self.labels))

    def aim(self, effort: tuple[float, ...]) -> None:
        """What the person tries to do from now on: fraction of today's true MVC per channel (missing ones rest)."""
        self.body.aim(effort, self.time_s)

    def disturb(self, *faults: Disturbance) -> None:
        """Replace the disturbances by these; by none to end them."""
        self._disturber.disturbances = list(faults)

    def start(self) -> None:
        """Nothing to open."""

    def stop(self) -> None:
        """Nothing to close."""

    def poll(self, elapsed_s: float) -> list[Block]:
        first = self._clock.count
        count = self._clock.advance(elapsed_s)
        if count == 0:
            return []
        samples = self._envelope(count) if self.envelope else self._raw(first, count)
        if not self._disturber.disturbances and not self._lost:
            return [Block(samples, first / self.rate_hz)]
        samples = self._disturber.disturb(samples, first)
        arrived = self._disturber.arrived(first, count)
        blocks, self._lost = split_at_losses(samples, arrived, first, self.rate_hz, self._lost)
        return blocks

    def _raw(self, first: int, count: int) -> Samples:
        """Carriers times amplitudes plus sensor noise; carriers are made in chunks that no poll can shift."""
        parts = []
        while count > 0:
            offset = first % self._chunk
            if offset == 0:
                self._carrier = np.column_stack(
                    [
                        each.make(self._chunk, self.body.compression(channel))
                        for channel, each in enumerate(self._carriers)
                    ]
                )
            here = min(count, self._chunk - offset)
            parts.append(self._amplitudes(first, here) * self._carrier[offset : offset + here])
            first, count = first + here, count - here
        mixed = parts[0] if len(parts) == 1 else np.concatenate(parts)
        if self.person.crosstalk:
            mixed = mixed + self.person.crosstalk * (np.sum(mixed, axis=1, keepdims=True) - mixed)
        return mixed + self.person.sensor_noise_uv * self._random.standard_normal(mixed.shape)

    def _amplitudes(self, first: int, count: int) -> Samples:
        """Amplitude of each sample: a straight line between the last two steps of the body that had begun by then."""
        position = np.arange(first, first + count) * (STEPS_PER_S / self.rate_hz)
        step = (position + 1e-9).astype(np.int64)
        knots = [self._amplitude_before, self._amplitude]
        begun = len(self._history)
        while len(self._history) <= step[-1]:
            self._step()
            knots.append(self._amplitude)
        known = np.array(knots)
        index = step - begun + 1
        share = (position - step)[:, np.newaxis]
        return known[index] + share * (known[index + 1] - known[index])

    def _envelope(self, count: int) -> Samples:
        """An RMS amplitude with the randomness that 10 ms of EMG leave in it, smoothed in power."""
        keep = math.exp(-1.0 / (ENVELOPE_LAG_S * STEPS_PER_S))
        samples: Samples = np.empty((count, len(self.labels)))
        for row in range(count):
            self._step()
            power = self._amplitude**2 * self._random.chisquare(ENVELOPE_FREEDOM, len(self.labels)) / ENVELOPE_FREEDOM
            self._smoothed = keep * self._smoothed + (1.0 - keep) * (power + self.person.sensor_noise_uv**2)
            samples[row] = np.sqrt(self._smoothed)
        return samples

    def _step(self) -> None:
        self.body.step()
        self._history.append(tuple(muscle.drive for muscle in self.body.muscles))
        self._amplitude_before, self._amplitude = self._amplitude, self._amplitude_uv()

    def _amplitude_uv(self) -> Vector:
        """Drive and resting tone add in power, as independent signals do."""
        return np.array(
            [
                math.hypot(muscle.drive * self._full_uv[channel], self.body.tone_uv(channel) * self._gain[channel])
                for channel, muscle in enumerate(self.body.muscles)
            ]
        )
