"""The resting level of one muscle, followed outside contractions: levels are natural logs of amplitude.

Tone wanders within its usual range from second to second, and beyond it only over minutes; a contraction leaves it
within a second. So the level is free up to what was usual lately and creeps beyond that, and a slow contraction cannot
take it along. All constants are our choice, by the reason beside each.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

RECENT_S = 0.5  # the newest calm is the median of so much
CALM_S, WANDER_S = 20.0, 60.0  # what was usual lately, and how far it wandered: some minutes' tone changes within one
CALM_EVERY = 12  # looks between two values of it: a fifth of a second, twice the window that each look sees
FOLLOW_S = 0.5
ANEW_S, AFTER_S = 0.1, 0.4  # so quickly, for so long after a contraction, which leaves other tone behind
CREEP_PER_S = 0.03  # tone that triples in a minute climbs by 0.018 a second, a fourfold effort within 3 s by 0.46
SUSPECT_CREEP_PER_S = 0.015  # while a weak effort may be beginning
FEWEST_CALM = 5  # values, a second: before that nothing is usual, so nothing is suspect
WAITING_S = 10.0  # so long at most it is left open whether that was tone
SD_PER_QUARTILE = 1.48  # of a Gaussian; quartiles are moved by no contraction that was missed
KNOWN_S = 10.0  # a rest measured at calibration counts like so much calm
MEDIAN_BELOW_RMS = 0.1  # how far the log of the median power of 12 ms lies below that of the RMS in noise


@dataclass(slots=True)
class RestingLevel:
    """What rest looks like now; `level` is NaN before anything was seen."""

    recent: deque[float]
    calm: deque[float]
    waiting: deque[float]  # what will be calm, if no contraction comes of it
    level: float = math.nan
    usual: float = math.nan
    lowest: float = -math.inf  # no rest is quieter than the noise of the sensor's steps
    restless: float = 0.0  # robust deviation of single looks
    looks: int = 0
    newest: int = 0  # values of `calm` that tell what is usual

    @classmethod
    def for_looks(cls, look_s: float) -> RestingLevel:
        """For looks `look_s` seconds apart."""
        return cls(
            deque(maxlen=max(1, round(RECENT_S / look_s))),
            deque(maxlen=max(1, round(WANDER_S / (CALM_EVERY * look_s)))),
            deque(maxlen=max(1, round(WAITING_S / (CALM_EVERY * look_s)))),
            newest=max(1, round(CALM_S / (CALM_EVERY * look_s))),
        )

    def begin(self, level: float) -> None:
        """The first look at a muscle of which nothing is known."""
        self.level = self.usual = max(level, self.lowest)

    def know_noise(self, level: float) -> None:
        """What the sensor adds has been learned."""
        self.lowest = level
        if not math.isnan(self.level):
            self.level, self.usual = max(self.level, level), max(self.usual, level)

    def know(self, level: float, look_s: float) -> None:
        """Rest has been measured: start from there, and hold it against what is to come."""
        level = max(level - MEDIAN_BELOW_RMS, self.lowest)
        self.calm.extend([level] * round(KNOWN_S / (CALM_EVERY * look_s)))
        self._learn()
        if math.isnan(self.level):
            self.level = level

    def forget(self) -> None:
        """What rested so far is no measure of what comes: hum has been taken out of it."""
        self.recent.clear()
        self.calm.clear()
        self.waiting.clear()
        self.level, self.usual, self.looks = math.nan, math.nan, 0

    def end_contraction(self) -> None:
        """Rest begins anew; what came before the contraction is not recent any more."""
        self.recent.clear()
        self.waiting.clear()

    def follow(self, seen: float, since_end_s: float, look_s: float, *, suspect: bool = False) -> None:
        """One look outside contractions, `since_end_s` after the last one; `suspect`: one may just be beginning."""
        suspect = suspect and len(self.calm) >= FEWEST_CALM
        seen = max(seen, self.lowest)
        self.recent.append(seen)
        self.looks += 1
        if self.looks % CALM_EVERY == 1:
            if len(self.waiting) == self.waiting.maxlen:
                self.calm.append(self.waiting[0])
            self.waiting.append(seen)
            if not suspect:
                self.calm.extend(self.waiting)
                self.waiting.clear()
            if self.calm:
                self._learn()
        change = _median(self.recent) - self.level
        if since_end_s < AFTER_S:
            self.level += change * min(1.0, look_s / ANEW_S)
        else:
            step = change * min(1.0, look_s / FOLLOW_S)
            creep = SUSPECT_CREEP_PER_S if suspect else CREEP_PER_S
            self.level += min(step, max(creep * look_s, self.usual - self.level))

    def _learn(self) -> None:
        calm = list(self.calm)
        self.usual = _median(calm[-self.newest :])
        ranked = sorted(calm)
        self.restless = SD_PER_QUARTILE * (ranked[3 * len(ranked) // 4] - ranked[len(ranked) // 2])


def _median(values: Sequence[float]) -> float:
    return sorted(values)[len(values) // 2]
