"""The physics of a model patient: from the effort somebody tries to make to the drive of their muscles."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, replace

import numpy as np

STEPS_PER_S = 100  # our choice: ten times faster than the quickest change of effort here


@dataclass(frozen=True, slots=True)
class ModelPatient:
    """A person, by the numbers that shape their EMG. Tuples hold a value per channel; the last serves any further ones.

    Every default is our choice within what people show, unless a source stands beside it.
    """

    mvc_uv: tuple[float, ...] = (420.0, 340.0)  # EMG amplitude (RMS) at full effort, before electrode placement
    rest_uv: tuple[float, ...] = (2.5, 2.5)  # resting tone
    sensor_noise_uv: float = 1.2
    placement_cv: float = 0.30  # electrodes never land on the same spot twice: gain of a day, log-normal
    reaction_s: float = 0.231  # simple visual reaction time, Woods et al. 2015, Front Hum Neurosci 9:131
    reaction_sd_s: float = 0.035
    rise_s: float = 0.075  # two equal lags; from 10 to 90 % in 3.4 of them
    release_s: float = 0.045  # letting go is quicker
    effort_cv: float = 0.10  # unsteadiness, proportional to effort (Jones et al. 2002, J Neurophysiol 88:1533)
    aim_cv: float = 0.10  # how far one attempt misses what it aims at
    practised_share: float = 0.4  # what remains of both after much practice
    sessions_to_learn: float = 12.0  # time constant of practice
    strength_gain: float = 0.25  # growth of the MVC with training ...
    sessions_to_strengthen: float = 25.0  # ... and its time constant
    fatigue_per_s: float = 0.010  # growth of fatigue (0..1) at full effort; it goes with effort squared
    recovery_s: float = 120.0  # time constant at rest
    tired_compression: float = 0.65  # the spectrum's scale at complete fatigue
    tired_gain: float = 1.45  # amplitude needed for the same effort at complete fatigue
    tired_capacity: float = 0.6  # the greatest effort left at complete fatigue
    tone_rise: float = 2.0  # resting tone grows by so many times itself after much activity
    cocontraction: float = 0.0  # drive of the other channel that goes with each effort
    crosstalk: float = 0.0  # share of the other channel's signal that the electrode picks up
    sessions: int = 0  # practised so far

    def after(self, sessions: int) -> ModelPatient:
        """The same person, `sessions` sessions further on."""
        return replace(self, sessions=self.sessions + sessions)

    @property
    def unskilled(self) -> float:
        """1 before any practice, falling to `practised_share`; multiplies unsteadiness and misses."""
        return self.practised_share + (1.0 - self.practised_share) * math.exp(-self.sessions / self.sessions_to_learn)

    @property
    def strength(self) -> float:
        """The MVC relative to that of the first day."""
        return 1.0 + self.strength_gain * -math.expm1(-self.sessions / self.sessions_to_strengthen)

    def of_channel(self, values: tuple[float, ...], channel: int) -> float:
        return values[min(channel, len(values) - 1)]


@dataclass(slots=True)
class ModelMuscle:
    """The state of one channel's muscle. `drive` is what reaches the electrode, 1.0 = fresh full effort of today."""

    aimed: float = 0.0
    missed: float = 1.0
    lagged: float = 0.0
    effort: float = 0.0
    drift: float = 0.0
    tremor: float = 0.0
    tremor_before: float = 0.0
    fatigue: float = 0.0
    tone: float = 0.0
    drive: float = 0.0


class Body:
    """The muscles of a model patient over time, in steps of 10 ms. Nothing random but the seeded generator."""

    def __init__(self, person: ModelPatient, channels: int, seed: int | tuple[int, ...]) -> None:
        self.person = person
        self.muscles = [ModelMuscle() for _ in range(channels)]
        self.time_s = 0.0
        self._random = np.random.default_rng(seed)
        self._pending: deque[tuple[float, tuple[float, ...]]] = deque()
        self._wanted = (0.0,) * channels
        self._steps = 0
        self._delay_s = person.reaction_s
        step_s = 1.0 / STEPS_PER_S
        self._rise = -math.expm1(-step_s / person.rise_s)
        self._release = -math.expm1(-step_s / person.release_s)
        # Drift wanders over about a second; tremor is a damped resonance at 9 Hz (physiological tremor is 8-12 Hz,
        # value from memory). Together they have unit variance, nine tenths of it drift.
        self._drift_keep = math.exp(-step_s / 0.8)
        self._drift_kick = math.sqrt(0.9 * (1.0 - self._drift_keep**2))
        self._tremor_keep = (2.0 * 0.93 * math.cos(2.0 * math.pi * 9.0 * step_s), -(0.93**2))
        self._tremor_kick = math.sqrt(0.1 / _second_order_gain(*self._tremor_keep))

    def aim(self, effort: tuple[float, ...], now_s: float) -> None:
        """What the person tries to do from `now_s` on; it shows after their reaction time."""
        wanted = tuple(effort[channel] if channel < len(effort) else 0.0 for channel in range(len(self.muscles)))
        if not all(math.isfinite(value) for value in wanted):
            raise ValueError(f"effort must be finite, got {effort}")
        if wanted == self._wanted:
            return
        if max(self._wanted) < 0.02 <= max(wanted):
            self._delay_s = self._reaction_s()
        self._wanted = wanted
        due_s = max(now_s + self._delay_s, self._pending[-1][0] if self._pending else 0.0)
        self._pending.append((due_s, tuple(max(0.0, value) for value in wanted)))

    def step(self) -> None:
        """Advance by 10 ms."""
        self._steps += 1
        self.time_s = self._steps / STEPS_PER_S
        while self._pending and self._pending[0][0] <= self.time_s:
            self._start(self._pending.popleft()[1])
        noise = self._random.standard_normal(2 * len(self.muscles)).tolist()
        for channel, muscle in enumerate(self.muscles):
            self._move(muscle, noise[2 * channel], noise[2 * channel + 1])
        efforts = [muscle.drive for muscle in self.muscles]
        if self.person.cocontraction:
            for channel, muscle in enumerate(self.muscles):
                muscle.drive += self.person.cocontraction * (sum(efforts) - efforts[channel])

    def tone_uv(self, channel: int) -> float:
        person = self.person
        return person.of_channel(person.rest_uv, channel) * (1.0 + person.tone_rise * self.muscles[channel].tone)

    def compression(self, channel: int) -> float:
        """The scale of the spectrum: 1 when fresh."""
        return 1.0 - (1.0 - self.person.tired_compression) * self.muscles[channel].fatigue

    def capacity(self, muscle: ModelMuscle) -> float:
        """The greatest effort possible now, of today's fresh maximum."""
        return 1.0 - (1.0 - self.person.tired_capacity) * muscle.fatigue

    def _start(self, efforts: tuple[float, ...]) -> None:
        """A new aim takes hold; an attempt that starts from rest misses by its own amount until it ends."""
        miss = self.person.aim_cv * self.person.unskilled
        for muscle, effort in zip(self.muscles, efforts, strict=True):
            if muscle.aimed < 0.02 <= effort:
                muscle.missed = math.exp(miss * float(self._random.standard_normal()))
            muscle.aimed = effort

    def _move(self, muscle: ModelMuscle, drift_noise: float, tremor_noise: float) -> None:
        person = self.person
        target = min(muscle.aimed * muscle.missed, self.capacity(muscle))
        share = self._rise if target > muscle.effort else self._release
        muscle.lagged += share * (target - muscle.lagged)
        muscle.effort += share * (muscle.lagged - muscle.effort)
        muscle.drift = self._drift_keep * muscle.drift + self._drift_kick * drift_noise
        newest = self._tremor_keep[0] * muscle.tremor + self._tremor_keep[1] * muscle.tremor_before
        muscle.tremor_before, muscle.tremor = muscle.tremor, newest + self._tremor_kick * tremor_noise
        unsteady = 1.0 + person.effort_cv * person.unskilled * (muscle.drift + muscle.tremor)
        gain = 1.0 + (person.tired_gain - 1.0) * muscle.fatigue
        muscle.drive = max(0.0, muscle.effort * unsteady) * gain
        load = person.fatigue_per_s * muscle.effort**2 * (1.0 - muscle.fatigue)
        muscle.fatigue += (load - muscle.fatigue / person.recovery_s) / STEPS_PER_S
        muscle.tone += (min(1.0, 2.0 * muscle.effort) - muscle.tone) / (20.0 * STEPS_PER_S)

    def _reaction_s(self) -> float:
        spread = self.person.reaction_sd_s * float(self._random.standard_normal())
        return max(0.5 * self.person.reaction_s, self.person.reaction_s + spread)


def _second_order_gain(first: float, second: float) -> float:
    """Variance of x[n] = first*x[n-1] + second*x[n-2] + unit white noise."""
    return (1.0 - second) / ((1.0 + second) * ((1.0 - second) ** 2 - first**2))
