"""The level of a faint muscle, told from rest by a longer look instead of by the start of a contraction.

A muscle whose efforts stay below what can be detected is read by the median of its last `LEVEL_S`, which heartbeats and
knocks cannot lift: they fill up to a third of it. What mere rest reaches now and then is no effort: below a floor the
level is 0. So a hold is judged by what the muscle showed all along, and rest that only wanders earns nothing.

The smallest effort that can be trained follows from that floor of `FLOOR_SCATTERS`. With `s` the scatter of rest (SD of
the log of its seconds), an effort of a share t of a maximum of r times rest lies at 0.5 ln(1 + t^2 (r^2 - 1)) above
rest. Where that is less than 2.5 s nobody is asked for it (`tells`); four seconds in five lie clear from 3.34 s on. At
60 % of the maximum:

    r from which on it is asked for, and seen four seconds in five
    s = 0.04 (noise of 1 s alone)      1.27      1.36
    s = 0.10 (usual)                   1.67      1.91
    s = 0.15 (restless)                2.03      2.40
    s = 0.20 (real rest at its worst)  2.40      2.96

Benchmarks play whole sessions of such muscles (tests/bench/troubled_sessions.py), and of people who do nothing while
rest wanders (tests/bench/idle_people.py).
"""

from __future__ import annotations

import math

import numpy as np

# Our choices; the reason stands beside each.
LEVEL_S = 1.0  # shorter is unsteady: a second of EMG noise alone scatters by 3.5 %; longer is too late to steer by
FLOOR_SCATTERS = 2.5  # rest lies above it one second in 160, and a hold takes several seconds in a row
STIR_SCATTERS = 3.5  # where nothing is asked: rest reaches it one second in four thousand
DETECTED_FROM = 2.0  # times rest: what is stronger is found as it starts
FAINT_MAXIMUM = 6.0  # times rest: efforts of a stronger muscle are read as they come
# Times rest, of a reading that stands still at rest, as a coarse converter's steps hide what is smaller than 0.4 of
# them. Worked out for Gaussian noise rounded to steps (after Widrow & Kollár 2008): an effort of 60 % that should read
# 1.4 times rest is shown as 44 to 53 %, by where rest lies between two steps; at 1.25 times as none or as all of it.
CLEAR_OF_STEPS = 1.4
HYSTERESIS = 0.5  # once begun, an effort ends only when it has lost so much of what the floor lies above rest


def too_faint(rest_uv: float, reference_uv: float, lowest: float) -> bool:
    """Whether an effort of `lowest` (1.0 = the reference) stays below what is detected as it starts."""
    if rest_uv <= 0.0 or reference_uv > FAINT_MAXIMUM * rest_uv:
        return False
    above = (reference_uv / rest_uv) ** 2 - 1.0
    return math.sqrt(1.0 + above * lowest**2) < DETECTED_FROM


class FaintLevel:
    """One channel's level, for efforts from `lowest` on (1.0 = the reference).

    `scatter` is the SD of the log of its seconds of rest; ticks are `step_s` apart.
    """

    def __init__(self, rest_uv: float, reference_uv: float, lowest: float, scatter: float, step_s: float) -> None:
        self._lowest, self.scatter = lowest, scatter
        self._recent = np.zeros(max(1, round(LEVEL_S / step_s)))
        self._middle = len(self._recent) // 2
        self._count = 0
        self.contracting = True  # nobody is at rest before it was seen
        self.activation = 0.0
        self.refer_to(rest_uv, reference_uv)

    def know_scatter(self, scatter: float) -> None:
        """More of rest was seen: how uneven it is."""
        self.scatter = scatter
        self.refer_to(self._rest_uv, self._reference_uv)

    def refer_to(self, rest_uv: float, reference_uv: float) -> None:
        """Measure from this rest to this reference from now on."""
        self._rest_uv, self._reference_uv = rest_uv, reference_uv
        self._span = reference_uv**2 - rest_uv**2
        floor = FLOOR_SCATTERS * self.scatter
        halfway_uv = math.sqrt(
            rest_uv**2 + 0.5 * self._lowest**2 * self._span
        )  # in power, to the least effort that earns
        self._begins_uv = max(rest_uv * math.exp(floor), halfway_uv)
        self._ends_uv = rest_uv * (self._begins_uv / rest_uv) ** HYSTERESIS
        least_uv = math.sqrt(rest_uv**2 + self._lowest**2 * self._span)
        self._stirs_uv = max(rest_uv * math.exp(STIR_SCATTERS * self.scatter), least_uv)

    def tells(self, effort: float, times_rest: float = 1.0) -> bool:
        """Whether an effort held at this (1.0 = the reference) lies above what mere rest reaches now and then, and at
        least so many times above rest."""
        least_uv = max(self._begins_uv, times_rest * self._rest_uv)
        return self._rest_uv**2 + effort**2 * self._span > least_uv**2

    def step(self, amplitude_uv: float, readable: bool, cued: bool = True, settled: bool = True) -> None:
        """Take in one tick; one that cannot be read empties the look. Where nothing is asked, it takes more to be seen.

        While hum has not `settled` an effort goes on or ends, but none begins: what is left of hum only adds.
        """
        if not readable or not math.isfinite(amplitude_uv):
            self._count, self.contracting, self.activation = 0, False, 0.0
            return
        self._recent[self._count % len(self._recent)] = amplitude_uv
        self._count += 1
        if self._count < len(self._recent):
            return
        level_uv = float(np.partition(self._recent, self._middle)[self._middle])
        bound_uv = self._ends_uv if self.contracting else self._begins_uv if cued else self._stirs_uv
        self.contracting = level_uv > bound_uv and (settled or self.contracting)
        above = max(0.0, level_uv**2 - self._rest_uv**2)
        # An effort goes on a little below where it began, but only what stands clear of rest is shown and earns.
        clear = self.contracting and level_uv > self._begins_uv
        self.activation = math.sqrt(above / self._span) if clear else 0.0


class RestAgain:
    """Rest measured again while a muscle rests: after effort the tone of a spastic muscle stays above its first rest.

    `step` gives the new resting level once it has moved. It never takes more of the reference's way than `MOST_SHARE`,
    so that the effort ceiling stays where it was ordered to within three points.
    """

    CALM_S = 5.0  # our choice: as long as rest is looked at before a trial
    MOVED = 1.25  # our choice: less is the ordinary wander of rest ...
    MOVED_FAINT = 1.03  # ... but a good part of a faint effort
    MOST_SHARE = 0.3

    def __init__(self, rest_uv: float, reference_uv: float, step_s: float, faint: bool = False) -> None:
        self.rest_uv = rest_uv
        self._moved, self._share = (self.MOVED_FAINT, 0.4) if faint else (self.MOVED, 1.0)
        self._first_uv = rest_uv
        self._most_uv = max(self.MOST_SHARE * reference_uv, min(1.25 * rest_uv, 0.8 * reference_uv, reference_uv))
        self._wanted = max(1, round(self.CALM_S / step_s))
        self._calm: list[float] = []

    def step(self, amplitude_uv: float, resting: bool) -> float | None:
        """Take in one tick; `resting`: nothing is asked, nothing contracts, and the signal is readable."""
        if not resting or not math.isfinite(amplitude_uv):
            self._calm = []
            return None
        self._calm.append(amplitude_uv)
        if len(self._calm) < self._wanted:
            return None
        found_uv, self._calm = float(np.median(self._calm)), []
        # A step at a time where a good part of an effort is at stake: five seconds of rest wander themselves.
        found_uv = self.rest_uv * math.pow(found_uv / max(self.rest_uv, 1e-9), self._share)
        found_uv = min(max(found_uv, 0.5 * self._first_uv), self._most_uv)
        if 1.0 / self._moved < found_uv / max(self.rest_uv, 1e-9) < self._moved:
            return None
        self.rest_uv = found_uv
        return found_uv
