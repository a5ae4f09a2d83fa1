"""The chain: blocks of samples in, activation and contractions out. The one way from electrode to game."""

from __future__ import annotations

import math

import numpy as np
from musclewood.signal.stream.activation import Activation, Flags, Reference, relative_activation, set_flags
from musclewood.signal.stream.amplitude import (
    Amplitude,
    BayesAmplitude,
    EnvelopeAmplitude,
    samples_per_tick,
)
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.bursts import Contraction
from musclewood.signal.stream.conditioning import Conditioning, band_hz
from musclewood.signal.stream.contractions import ContractionDetector
from musclewood.signal.stream.mains import MainsRemoval
from musclewood.signal.stream.pulses import PulseCheck
from musclewood.signal.stream.steps import StepSize
from musclewood.signal.stream.ticks import Ticks

# What a converter rounds off may be as large as the noise of its rounding: both together are the least that rest can be
# told to be. Below that its size would depend on whether hum happens to stir it.
HIDDEN_BELOW = math.sqrt(2.0)
HUM_SETTLES_S = 1.5  # after hum came or went, its weaker harmonics are not told from noise for so long; our choice


class Chain:
    """Conditioning, ticks, amplitude, detection and activation in a row.

    The same samples give the same output whatever blocks they come in. A sensor that sends an envelope skips
    conditioning and the amplitude filter.
    """

    def __init__(
        self,
        rate_hz: float,
        channels: int,
        *,
        envelope: bool = False,
        reference: Reference | None = None,
    ) -> None:
        samples = samples_per_tick(rate_hz)
        self.rate_hz = rate_hz
        self.channels = channels
        self.step_s = samples / rate_hz
        self._conditioning = None if envelope else Conditioning(rate_hz, channels)
        self._mains = None if envelope else MainsRemoval(rate_hz, channels)
        self._pulses = None if envelope else PulseCheck(rate_hz, channels, samples)
        self._steps = None if envelope else StepSize(channels, band_hz(rate_hz) / (0.5 * rate_hz))
        self._ticks = Ticks(samples, channels)
        self._amplitude: Amplitude = (EnvelopeAmplitude if envelope else BayesAmplitude)(rate_hz, channels)
        self._detector = ContractionDetector(self.step_s, channels)
        self._hidden: list[tuple[int, int, float]] = []  # channel, tick from which on, µV below which nothing is told
        self._settling: list[tuple[int, int]] = []  # ticks from and to, after hum has changed
        self._reference: Reference | None = None
        if reference is not None:
            self.refer_to(reference)

    def process(self, block: Block) -> Activation:
        """Take in a block of any size, also an empty one; returns the ticks that it completed."""
        emg, sample_readable = self._condition(block)
        first = self._ticks.done
        power, readable = self._ticks.process(emg, sample_readable, block.lost)
        amplitude = self._amplitude.process(power, readable)
        for channel, tick, least_uv in self._hidden:
            column = amplitude[max(0, tick - first) :, channel]
            np.maximum(column, least_uv, out=column)
        if self._pulses is None:
            contracting = self._detector.process(power, amplitude, readable)
        else:
            self._pulses.take_in(emg, block.lost)
            contracting = self._detector.process(power, amplitude, readable, self._pulses.muscular)
        activation = relative_activation(amplitude, self._reference)
        settled = self._settled(first, len(power))
        return Activation(first * self.step_s, self.step_s, amplitude, activation, contracting, readable, settled)

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

    def _settled(self, first: int, count: int) -> Flags:
        """Whether hum left each of so many ticks alone."""
        if not self._settling:
            return set_flags(count)
        settled = np.ones(count, bool)
        self._settling = [each for each in self._settling if each[1] > first]
        for start, stop in self._settling:
            settled[max(0, start - first) : max(0, stop - first)] = False
        return settled

    def _condition(self, block: Block) -> tuple[Samples, Flags]:
        samples = np.asarray(block.samples_uv, float).reshape(-1, self.channels)
        if self._conditioning is None or self._mains is None:
            finite = np.isfinite(samples)
            return np.where(finite, samples, 0.0), finite
        coarse = []
        if self._steps is not None and self._steps.learning:
            for channel, sample, noise_uv in self._steps.process(samples, block.lost):
                tick = math.ceil(sample / self._ticks.samples)
                self._detector.know_noise(channel, tick, noise_uv)
                if self._steps.coarse(channel):
                    self._hidden.append((channel, tick, HIDDEN_BELOW * noise_uv))
                    self._mains.know_noise(channel, sample, noise_uv)
                    coarse.append((channel, sample - self._steps.samples + len(samples)))
        emg, readable = self._conditioning.process(samples, block.lost, coarse)
        clean = self._mains.process(emg, readable, block.lost)
        for found in self._mains.take_found():
            self._detector.begin_anew(math.ceil(found / self._ticks.samples))
        for change in self._mains.take_changed():
            noticed = math.ceil(change.noticed / self._ticks.samples)
            self._detector.distrust(change.since // self._ticks.samples, noticed)
            if change.abrupt:
                self._settling.append((noticed, noticed + round(HUM_SETTLES_S / self.step_s)))
        return clean, readable
