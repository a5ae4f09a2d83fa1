"""How strong the muscle is lately, and whether it changed: from one calibration a day.

What an electrode shows of the same muscle differs from day to day, because it never sits in quite the same place. How
much differs from patient to patient (9 to 36 %, Norcross 2010), so this patient's own scatter is learned. A change is
claimed by ranks alone: whoever looks after every session for as long as they like is told of a change that is none in
no more than one muscle of twenty.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import pairwise

import numpy as np
from musclewood.profiles.plan.level import GAP_DAYS, LevelFilter, levels
from musclewood.profiles.plan.repeated_looks import PLANNED, trend_bounds
from numpy.typing import NDArray

# A single calibration repeats within a session far better than across days: force and EMG peaks agree within some 5 %.
# Our choice; a calibration that reports a larger coefficient of variation is trusted less.
TRIAL_CV = 0.05
# How far the muscle itself may wander in a day (SD of the log). Our choice: 14 % in three weeks.
WANDER_PER_ROOT_DAY = 0.03


@dataclass(frozen=True)
class Measured:
    """One calibration of one muscle, in µV. Values of different sensors are never compared with each other."""

    at: datetime
    mvc_uv: float
    cv: float | None = None
    sensor: str = ""


@dataclass(frozen=True)
class RecentMvc:
    """The estimate after one day, in µV, with its 95 % interval; `scatter` is this patient's from day to day (SD of the
    log)."""

    at: datetime
    measured_uv: float
    estimate_uv: float
    low_uv: float
    high_uv: float
    log_mean: float
    log_variance: float
    scatter: float


@dataclass(frozen=True)
class Change:
    """From the first day to the last, in %.

    `percent` is the middle of all pairs' slopes over the whole time; `low_percent` to `high_percent` hold the truth
    with 95 % at all looks together (None: not yet known). All as it was at the last look, after `days` days of
    measurement. `real` once a look went beyond its bound; that stays, with its day `since` and its direction.
    """

    percent: float
    low_percent: float | None
    high_percent: float | None
    real: bool
    since: date | None
    risen: bool
    days: int


def usable(calibrations: Sequence[Measured]) -> list[Measured]:
    """One value a day and sensor, the oldest first; those without a positive, finite MVC are passed over.

    Calibrations of one day share the electrodes' place, so they are no more than one look: their geometric mean.
    """
    by_day: dict[tuple[date, str], list[Measured]] = {}
    for one in calibrations:
        if math.isfinite(one.mvc_uv) and one.mvc_uv > 0:
            by_day.setdefault((one.at.date(), one.sensor), []).append(one)
    return [_one_of(same) for same in by_day.values()]


def _one_of(same: Sequence[Measured]) -> Measured:
    if len(same) == 1:
        return same[0]
    middle = sum(math.log(one.mvc_uv) for one in same) / len(same)
    return replace(same[-1], mvc_uv=math.exp(middle))


def _log_variance(cv: float) -> float:
    return math.log1p(cv * cv)


def _doubt(measured: Measured) -> float:
    """Variance that trials which disagreed add to the usual scatter."""
    return _log_variance(max(TRIAL_CV, measured.cv or 0.0)) - _log_variance(TRIAL_CV)


def follow(calibrations: Sequence[Measured], latest: int | None = None) -> list[RecentMvc]:
    """The estimate after each day, or after the `latest` so many alone; another sensor begins anew."""
    filters: dict[str, tuple[LevelFilter, datetime]] = {}
    chosen, states, scatters = usable(calibrations), [], []
    wanted = 0 if latest is None else len(chosen) - latest
    for number, measured in enumerate(chosen):
        if measured.sensor not in filters:
            filters[measured.sensor] = LevelFilter(), measured.at
        level, before = filters[measured.sensor]
        days = (measured.at - before).total_seconds() / 86400
        level.take(math.log(measured.mvc_uv), days, _doubt(measured))
        filters[measured.sensor] = level, measured.at
        if number >= wanted:
            states.append(level.state)
            scatters.append(level.scatter)
    chosen = chosen[-len(states) :] if states else []
    return [
        RecentMvc(
            one.at, one.mvc_uv, math.exp(now.mean), math.exp(now.low), math.exp(now.high), now.mean, now.variance,
            now.scatter
        )
        for one, now in zip(chosen, levels(states, scatters), strict=True)
    ]  # fmt: skip


def reference_for_today(track: Sequence[RecentMvc], measured: Measured) -> RecentMvc:
    """What today's activation should be measured against, in µV: today's calibration, steadied by the past.

    The electrodes stay where they are for the whole session, so their place is part of today's reference and no noise
    here: only the scatter of the trials is. The past therefore corrects a calibration that is far off (somebody who did
    not try today), and hardly touches an ordinary one.
    """
    mean, trial = math.log(measured.mvc_uv), _log_variance(max(TRIAL_CV, measured.cv or 0.0))
    variance = trial
    if track:
        last = track[-1]
        days = max(0.0, (measured.at - last.at).total_seconds() / 86400)
        past = last.log_variance + days * WANDER_PER_ROOT_DAY**2 + last.scatter**2
        gain = past / (past + trial)
        mean, variance = last.log_mean + gain * (mean - last.log_mean), (1 - gain) * past
    half = 1.96 * math.sqrt(variance)
    return RecentMvc(
        measured.at, measured.mvc_uv, math.exp(mean), math.exp(mean - half), math.exp(mean + half), mean, variance,
        track[-1].scatter if track else math.sqrt(trial),
    )  # fmt: skip


def change(calibrations: Sequence[Measured], planned: int = PLANNED) -> Change | None:
    """Whether the MVC changed by more than chance; None before there are two days with the same sensor.

    `planned` is the number of days that the first order planned: frozen then, never chosen afterwards. Every third day
    Kendall's statistic is looked at (see `repeated_looks`); the interval is that of the slopes between all pairs
    of days (Theil and Sen; Kendall's law for its ends, value from memory).
    """
    found = usable(calibrations)
    if len(_ranks(found)) < 2 or max(_ranks(found)) < 2:
        return None
    pairs, bounds = _Pairs.of(found), trend_bounds(_ranks(found), planned)
    since, risen = None, False
    for number, bound in bounds.items():
        balance = pairs.among(number).balance
        if since is None and abs(balance) >= bound:
            since, risen = found[number - 1].at.date(), balance > 0
    days = max(bounds, default=len(found))
    seen = pairs.among(days)
    low, high = seen.interval(bounds[days]) if bounds else (None, None)
    percent = seen.percent(0.5)
    return Change(percent, low, high, since is not None, since, risen if since else percent > 0, days)


def _ranks(found: Sequence[Measured]) -> tuple[int, ...]:
    """The how-manieth of its sensor each value is."""
    so_far: dict[str, int] = {}
    ranks = []
    for one in found:
        so_far[one.sensor] = so_far.get(one.sensor, 0) + 1
        ranks.append(so_far[one.sensor])
    return tuple(ranks)


@dataclass(frozen=True)
class _Pairs:
    """All pairs of days with the same sensor: which day ends each, its slope a gap, and the time from first to last."""

    later: NDArray[np.int64]
    slopes: NDArray[np.float64]
    gaps: NDArray[np.float64]  # since the first day

    @classmethod
    def of(cls, found: Sequence[Measured]) -> _Pairs:
        value = np.log([one.mvc_uv for one in found])
        days = np.array([one.at.timestamp() for one in found]) / 86400
        sensors = np.unique([one.sensor for one in found], return_inverse=True)[1]
        earlier, later = np.triu_indices(len(found), 1)
        same = sensors[earlier] == sensors[later]
        earlier, later = earlier[same], later[same]
        # A clock set back must not turn a rise into a fall: days count in the order in which they were written.
        apart = np.maximum(np.abs(days[later] - days[earlier]) / GAP_DAYS, 1e-3)
        return cls(later, (value[later] - value[earlier]) / apart, np.abs(days - days[0]) / GAP_DAYS)

    def among(self, number: int) -> _Pairs:
        """As they were after the first `number` days."""
        kept = self.later < number
        return _Pairs(self.later[kept], self.slopes[kept], self.gaps[:number])

    @property
    def balance(self) -> int:
        """Pairs that rose less pairs that fell."""
        return int(np.sign(self.slopes).sum())

    def percent(self, share: float) -> float:
        """The slope below which that share of pairs lies, over the whole time, in %."""
        return self._over_all(float(np.quantile(self.slopes, share)))

    def interval(self, bound: int) -> tuple[float | None, float | None]:
        """Both ends in %; None where the bound lies beyond what so many pairs can show."""
        slopes = np.sort(self.slopes)
        place = (len(slopes) - bound) // 2
        if place < 0:
            return None, None
        return self._over_all(float(slopes[place])), self._over_all(float(slopes[-1 - place]))

    def _over_all(self, slope: float) -> float:
        return 100 * math.expm1(min(slope * float(self.gaps.max()), _MOST))


_MOST = math.log(100.0)  # nobody's muscle grew a hundredfold; keeps a wide interval a number


def lag_one(calibrations: Sequence[Measured]) -> tuple[float, float] | None:
    """How alike neighbouring days are: numerator and denominator of the lag-one correlation around a straight line.

    What a fitted line takes away from the correlation of unrelated days is given back, so that it is 0 on average for
    those. Sums over patients may be divided. None for fewer than six days.
    """
    value = np.log([one.mvc_uv for one in usable(calibrations)])
    if len(value) < 6:
        return None
    line = np.linalg.qr(np.stack([np.ones(len(value)), np.arange(len(value))], axis=1))[0]
    rest = value - line @ (line.T @ value)
    whole = float(rest @ rest)
    # Of unrelated days the fit leaves neighbours with this share of the whole: the projection's first side diagonal.
    taken = -float((line[:-1] * line[1:]).sum()) / (len(value) - 2)
    together = sum(float(a * b) for a, b in pairwise(rest))
    return together - taken * whole, whole
