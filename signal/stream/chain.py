"""The chain: blocks of samples in, activation and contractions out. The one way from electrode to game."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from musclewood.signal.stream.activation import Activation, Flags, Reference, relative_activation
from musclewood.signal.stream.amplitude import (
    Amplitude,
    BayesAmplitude,
    EnvelopeAmplitude,
    RmsAmplitude,
    samples_per_tick,
)
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.conditioning import Conditioning, band_hz
from musclewood.signal.stream.contractions import Contraction, ContractionDetector
from musclewood.signal.stream.mains import MainsRemoval
from musclewood.signal.stream.pulses import PulseCheck
from musclewood.signal.stream.steps import StepSize
from musclewood.signal.stream.ticks import Ticks

AMPLITUDES: dict[str, Callable[[float, int], Amplitude]] = {"bayes": BayesAmplitude, "rms": RmsAmplitude}


@dataclass(frozen=True)
class Snapshot:
    """The state of every stage of a chain, and the reference in use."""

    stages: tuple[object, ...]
    reference: Reference | None


class Chain:
    """Conditioning, ticks, amplitude, detection and activation in a row.

    The same samples give the same output whatever blocks they come in. A sensor that sends an envelope skips
    conditioning and the amplitude filter. `amplitude` is "bayes" or "rms" (the moving RMS).
    """

    def __init__(
        self,
        rate_hz: float,
        channels: int,
        *,
        envelope: bool = False,
        amplitude: str = "bayes",
        reference: Reference | None = None,
    ) -> None:
        if amplitude not in AMPLITUDES:
            raise ValueError(f"amplitude must be one of {', '.join(AMPLITUDES)}, not {amplitude!r}")
        samples = samples_per_tick(rate_hz)
        self.rate_hz = rate_hz
        self.channels = channels
        self.step_s = samples / rate_hz
        self._conditioning = None if envelope else Conditioning(rate_hz, channels)
        self._mains = None if envelope else MainsRemoval(rate_hz, channels)
        self._pulses = None if envelope else PulseCheck(rate_hz, channels, samples)
        self._steps = None if envelope else StepSize(channels, band_hz(rate_hz) / (0.5 * rate_hz))
        self._ticks = Ticks(samples, channels)
        self._amplitude = (EnvelopeAmplitude if envelope else AMPLITUDES[amplitude])(rate_hz, channels)
        self._detector = ContractionDetector(self.step_s, channels)
        self._reference: Reference | None = None
        if reference is not None:
            self.refer_to(reference)

    def process(self, block: Block) -> Activation:
        """Take in a block of any size, also an empty one; returns the ticks that it completed."""
        emg, sample_readable = self._condition(block)
        first = self._ticks.done
        power, readable = self._ticks.process(emg, sample_readable, block.lost)
        amplitude = self._amplitude.process(power, readable)
        if self._pulses is None:
            contracting = self._detector.process(power, amplitude, readable)
        else:
            self._pulses.take_in(emg, block.lost)
            contracting = self._detector.process(power, amplitude, readable, self._pulses.muscular)
        return Activation(
            start_s=first * self.step_s,
            step_s=self.step_s,
            amplitude_uv=amplitude,
            activation=relative_activation(amplitude, self._reference),
            contracting=contracting,
            readable=readable,
        )

    def refer_to(self, reference: Reference) -> None:
        """Measure activation against this reference from the next tick on."""
        if len(reference.rest_uv) != self.channels:
            raise ValueError(f"a reference for {len(reference.rest_uv)} channels on a chain of {self.channels}")
        self._reference = reference
        self._detector.know_rest(reference.rest_uv)

    def take_contractions(self) -> list[tuple[int, Contraction]]:
        """Channel and contraction of each one finished since the last call."""
        return self._detector.take()

    def finish(self) -> None:
        """The stream is over: a contraction still going on ends with its last sample."""
        self._detector.close()

    def snapshot(self) -> Snapshot:
        """An independent copy of all that the samples so far have left behind."""
        return Snapshot(tuple(stage.snapshot() for stage in self._stages()), self._reference)

    def restore(self, snapshot: Snapshot) -> None:
        """Go back to a snapshot of a chain with the same settings."""
        for stage, state in zip(self._stages(), snapshot.stages, strict=True):
            stage.restore(state)
        self._reference = snapshot.reference

    def _condition(self, block: Block) -> tuple[Samples, Flags]:
        samples = np.asarray(block.samples_uv, float).reshape(-1, self.channels)
        if self._conditioning is None or self._mains is None:
            finite = np.isfinite(samples)
            return np.where(finite, samples, 0.0), finite
        emg, readable = self._conditioning.process(samples, block.lost)
        if self._steps is not None and self._steps.learning:
            for channel, sample, noise_uv in self._steps.process(samples, block.lost):
                self._detector.know_noise(channel, math.ceil(sample / self._ticks.samples), noise_uv)
        clean = self._mains.process(emg, readable, block.lost)
        for found in self._mains.take_found():
            self._detector.begin_anew(math.ceil(found / self._ticks.samples))
        for since, noticed in self._mains.take_changed():
            self._detector.distrust(since // self._ticks.samples, math.ceil(noticed / self._ticks.samples))
        return clean, readable

    def _stages(self) -> tuple[Any, ...]:
        stages = (
            self._conditioning,
            self._mains,
            self._pulses,
            self._steps,
            self._ticks,
            self._amplitude,
            self._detector,
        )
        return tuple(stage for stage in stages if stage is not None)
