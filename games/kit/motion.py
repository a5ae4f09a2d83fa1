"""How things move: answers that ease towards where they belong, and small things that drift.
Pure; time is passed in."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass


def approach(value: float, goal: float, step_s: float, settle_s: float) -> float:
    """One step of an easing that has covered 95 % of the way after `settle_s`, for any step length."""
    return goal + (value - goal) * math.exp(-3.0 * step_s / settle_s)


def smooth(share: float) -> float:
    """0..1 to 0..1, slow at both ends (smoothstep); clamps what lies outside."""
    share = min(max(share, 0.0), 1.0)
    return share * share * (3.0 - 2.0 * share)


def landing(share: float) -> float:
    """0..1 to 0..1, quick at first and settling gently."""
    return 1.0 - (1.0 - min(max(share, 0.0), 1.0)) ** 3


@dataclass(slots=True)
class Mote:
    """A leaf, a puff, a spark: place and speed in logical units, age and life in seconds."""

    x: float
    y: float
    dx: float
    dy: float
    life_s: float
    size: float
    spin: float
    age_s: float = 0.0

    @property
    def share(self) -> float:
        """How much of its life is over, 0..1."""
        return self.age_s / self.life_s


class Motes:
    """A handful of drifting things with a seeded will of their own, never more than `limit`."""

    def __init__(self, seed: int, limit: int) -> None:
        self.random = random.Random(seed)
        self.limit = limit
        self.all: list[Mote] = []
        self._owed = 0.0

    def step(
        self, step_s: float, per_s: float, at: tuple[float, float], speed: tuple[float, float], life_s: float
    ) -> None:
        """Move all, drop the old, and let `per_s` new ones a second set out near `at`."""
        for mote in self.all:
            mote.age_s += step_s
            mote.x += mote.dx * step_s
            mote.y += mote.dy * step_s
        self.all = [mote for mote in self.all if mote.age_s < mote.life_s]
        self._owed = min(self._owed + per_s * step_s, 1.0)
        if self._owed >= 1.0 and len(self.all) < self.limit:
            self._owed -= 1.0
            self.all.append(self._mote(at, speed, life_s))

    def _mote(self, at: tuple[float, float], speed: tuple[float, float], life_s: float) -> Mote:
        vary = self.random.uniform
        return Mote(
            x=at[0] + vary(-14, 14),
            y=at[1] + vary(-4, 4),
            dx=speed[0] * vary(0.6, 1.4) + vary(-5, 5),
            dy=speed[1] * vary(0.75, 1.25),
            life_s=life_s * vary(0.8, 1.2),
            size=vary(0.6, 1.0),
            spin=vary(0.0, 360.0),
        )
