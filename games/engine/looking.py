"""The muscles as the rep engine sees them: the newest reading, its short average, and what the eye is shown.  Pure."""

from __future__ import annotations

import math
from collections import deque

from musclewood.games.engine.judging import SMOOTHING_S
from musclewood.games.engine.rep_events import Reading
from musclewood.games.engine.steady import SteadyDisplay

# Our choice: a knock at the cable dies away within an eighth of a second and lifts the average alone; where so much of
# its time lies high, it is muscle, whatever was detected.
FILLED = 0.75
KNOCK = 2.0  # times what the short average mostly sees: no muscle does that and is back within an eighth of a second


class Look:
    """One exercise's channels, ticks `step_s` apart.

    reading: the newest; without a readable signal where a value is no number. level: mean of the last `SMOOTHING_S`
    without knocks. shown: what is to be seen of it.
    """

    def __init__(self, channels: int, step_s: float) -> None:
        self._recent: deque[tuple[float, ...]] = deque(maxlen=max(1, round(SMOOTHING_S / step_s)))
        self._display = SteadyDisplay(step_s)
        self.reading = Reading((0.0,) * channels, (False,) * channels, False)
        self.level = self.shown = self.reading.activation

    def take(self, reading: Reading, holding: bool) -> None:
        """One more tick; while `holding` the eye is shown it more steadily."""
        if reading.readable and not all(map(math.isfinite, reading.activation)):
            reading = Reading(reading.activation, reading.contracting, False)
        self.reading = reading
        if not reading.readable:
            self._recent.clear()
            self._display.clear()
            self.shown = reading.activation
            return
        self._recent.append(reading.activation)
        self.shown = self._display.step(reading.activation) if holding else reading.activation
        self.level = tuple(map(_level, zip(*self._recent, strict=True)))

    @property
    def before(self) -> list[float]:
        """The first channel before the newest tick."""
        return [activation[0] for activation in self._recent][:-1]

    def at_work(self, channel: int, low: float) -> bool:
        """Detected as contracting, or so high, and for so long, that it must be."""
        if self.reading.contracting[channel]:
            return True
        if self.level[channel] < low:
            return False
        ranked = sorted(activation[channel] for activation in self._recent)
        return not ranked or ranked[round((1.0 - FILLED) * len(ranked))] >= low


def _level(values: tuple[float, ...]) -> float:
    if max(values) > KNOCK * min(values):
        most = KNOCK * sorted(values)[len(values) // 2]
        values = tuple(value for value in values if value <= most)
    return math.fsum(values) / len(values)
