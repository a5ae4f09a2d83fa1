"""The involved side against the other one, day by day: where it stands now, and whether a criterion is settled."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

import numpy as np
from musclewood.profiles.plan.level import LevelFilter, levels
from musclewood.profiles.plan.repeated_looks import PLANNED, side_bounds

# What many clinics aim at, by consensus and expert opinion; it is shown, not judged by.
CRITERION_PCT = 90.0


@dataclass(frozen=True)
class BothSides:
    """Both sides' MVC in µV, measured in one session."""

    at: datetime
    involved_uv: float
    uninvolved_uv: float


@dataclass(frozen=True)
class SideRatio:
    """The involved side in % of the other: now, with its 95 % interval.

    `settled` says that the average over the course lies above or below the criterion, `since` when; that holds
    however often it is looked at, and stays.
    """

    index: float
    low: float
    high: float
    days: int
    settled: Literal["above", "below"] | None
    since: date | None


def side_ratio(measured: Sequence[BothSides], planned: int = PLANNED) -> SideRatio | None:
    """From one pair a day (of several, the mean of the logs); None without any.

    Both sides scatter, so the ratio's noise is wider by the root of two. `planned` is the number of such days that
    the first order planned.
    """
    by_day: dict[date, list[BothSides]] = {}
    for one in measured:
        if all(math.isfinite(value) and value > 0 for value in (one.involved_uv, one.uninvolved_uv)):
            by_day.setdefault(one.at.date(), []).append(one)
    if not by_day:
        return None
    moments = [same[-1].at for same in by_day.values()]
    logs = [sum(math.log(one.involved_uv / one.uninvolved_uv) for one in same) / len(same) for same in by_day.values()]
    belief, before = LevelFilter(wider=math.sqrt(2)), moments[0]
    for at, value in zip(moments, logs, strict=True):
        belief.take(value, (at - before).total_seconds() / 86400)
        before = at
    (now,) = levels([belief.state], [belief.scatter])
    settled, number = _settled([value - math.log(CRITERION_PCT / 100) for value in logs], planned)
    index, low, high = (100 * math.exp(value) for value in (now.mean, now.low, now.high))
    since = moments[number - 1].date() if number else None
    return SideRatio(index, low, high, len(logs), settled, since)


def _settled(distances: Sequence[float], planned: int) -> tuple[Literal["above", "below"] | None, int]:
    """Signed ranks of the distances from the criterion, each ranked among those up to it; and after how many days."""
    bounds = side_bounds(len(distances), planned)
    sizes, total = np.abs(distances), 0
    for number, distance in enumerate(distances, start=1):
        rank = int((sizes[:number] <= sizes[number - 1]).sum())
        total += rank if distance > 0 else -rank if distance < 0 else 0
        if number in bounds and abs(total) >= bounds[number]:
            return ("above" if total > 0 else "below"), number
    return None, 0
