"""Slow and weak contractions: what the ranks of a tenth of a second cannot tell from rest, sums of seconds can.

Page's cumulative sum (Page 1954, Biometrika 41:100) of how far each look lies above rest. One begins in `SlowRise` and
ends in `WeakHold`, where the fall is told by a sum again, for what is less than twice the rest cannot fall to a part of
it. Levels are natural logs of amplitude. All constants are our choice, by the reason beside each.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

MOST = 0.8  # of one look counts: a heartbeat or a unit, seen for 0.1 s, adds 0.08 at most
DRIFT = (0.25, 0.7)  # what must be exceeded for the sum to grow: at least half of the smallest step worth finding
RESTLESS_DRIFT = 1.6  # times a restless muscle's own deviation
ENOUGH = 0.25  # such a sum begins one; 0.3 loses efforts of twice the rest, 0.2 lets restless tone in
NOW_S, NOW_ABOVE = 0.25, (0.4, 1.25)  # and it is there now, x 1.5 to 3.5 ...
RESTLESS_NOW = 3.7  # ... by how far this muscle's tone wanders, in deviations; half as much again beyond the usual
USUALLY_RESTLESS = 0.15  # one: what wanders over seconds wanders further than a minute of it shows
ASKED_FROM, ASKED_EVERY = 0.1, 6  # from such a sum on, and so many looks apart, whether this is muscle
FEWEST_ANSWERS, YES_OF_ANSWERS = 2, 2.0 / 3.0  # asked once, a heart passes in time
SHORTEST_S = 0.4  # no effort that begins slowly is over sooner

LEVEL_S = 0.3
TOP_SINKS_PER_S = 0.05
BASE_UP_S, BASE_DOWN_S = 0.5, 0.3
GONE = 0.06  # such a sum below the middle between top and rest ends it
REST_RISES_PER_S = 0.03  # what lasts without falling is tone ...
NEVER_FELL = 0.2  # ... when the rest has come so near


@dataclass(slots=True)
class SlowRise:
    """The sum of one muscle outside contractions."""

    now: deque[float]
    total: float = 0.0
    zero: int = 0  # newest tick at which there was nothing: the onset, if this becomes one
    answers: list[bool] = field(default_factory=list)
    looks: int = 0  # at which it was there
    there: bool = False  # whether the newest look rose above what must be exceeded

    @classmethod
    def for_looks(cls, look_s: float) -> SlowRise:
        """For looks `look_s` seconds apart."""
        return cls(deque(maxlen=max(1, round(NOW_S / look_s))))

    def clear(self) -> None:
        """Nothing has been seen."""
        self.now.clear()
        self.total, self.answers, self.looks, self.there = 0.0, [], 0, False

    def look(self, seen: float, rest: float, restless: float, look_s: float, tick: int) -> None:
        """Add one look."""
        self.now.append(seen)
        drift = _drift(restless)
        above = min(max(seen - rest, -MOST), MOST)
        total = self.total + look_s * (above - drift)
        self.there = above > drift
        if total > 0.0:
            self.total = total
            self.looks += self.there
            return
        self.total, self.zero, self.looks = 0.0, tick, 0
        if self.answers:
            self.answers.clear()

    def began_before(self, rest: float, restless: float, first: float, ticks: int) -> float:
        """Ticks that it had been rising before the sum took notice: the straight line from there to now, drawn back.

        first: level just after that, `ticks` before now. What was as high at once as it is now did not rise before.
        """
        drift = _drift(restless)
        risen = max(self.level - rest - drift, drift)
        return min(max(self.level - first, 0.0) / risen, 1.0) * drift / risen * ticks

    @property
    def asks(self) -> bool:
        """Whether it is time to ask if this is muscle: not between the pulses of a sum, where rest would answer."""
        return self.there and self.total > ASKED_FROM and self.looks % ASKED_EVERY == 0

    @property
    def suspect(self) -> bool:
        """Whether a contraction may just be beginning."""
        return self.total > 0.0 and sum(self.answers) >= YES_OF_ANSWERS * len(self.answers)

    def begins(self, rest: float, restless: float) -> bool:
        """Whether this is a contraction."""
        wanders = restless + 0.5 * max(0.0, restless - USUALLY_RESTLESS)
        above = min(max(RESTLESS_NOW * wanders, NOW_ABOVE[0]), NOW_ABOVE[1])
        return (
            self.total > ENOUGH
            and len(self.answers) >= FEWEST_ANSWERS
            and sum(self.answers) >= YES_OF_ANSWERS * len(self.answers)
            and self.level - rest >= above
        )

    @property
    def level(self) -> float:
        """Of the newest quarter of a second."""
        return sum(self.now) / len(self.now)


def _drift(restless: float) -> float:
    return min(max(RESTLESS_DRIFT * restless, DRIFT[0]), DRIFT[1])


@dataclass(slots=True)
class WeakHold:
    """A contraction that began slowly, while it goes on."""

    level: float
    top: float
    base: float  # what a brisk one must rise above
    weak: bool = True  # not yet so high above the rest that a part of it could tell its end
    total: float = 0.0
    last: int = 0  # newest tick at which it certainly went on

    @classmethod
    def at(cls, level: float, tick: int) -> WeakHold:
        """Just begun."""
        return cls(level, level, level, last=tick)

    def look(self, seen: float, rest: float, look_s: float, tick: int) -> None:
        """Add one look; `rest` is the resting level."""
        self.level += (seen - self.level) * min(1.0, look_s / LEVEL_S)
        self.top = max(self.level, self.top - TOP_SINKS_PER_S * look_s)
        self.base += (seen - self.base) * min(1.0, look_s / (BASE_UP_S if seen > self.base else BASE_DOWN_S))
        below = min(max((self.top + rest) / 2.0 - seen, -MOST), MOST)
        self.total = max(0.0, self.total + look_s * below)
        if self.total == 0.0:
            self.last = tick

    @property
    def gone(self) -> bool:
        """Whether a weak one is over."""
        return self.total > GONE

    def never_fell(self, rest: float) -> bool:
        """Whether this has become the rest."""
        return self.top - rest < NEVER_FELL


def risen_rest(rest: float, look_s: float) -> float:
    """The resting level under a weak contraction one look later."""
    return rest + REST_RISES_PER_S * look_s
