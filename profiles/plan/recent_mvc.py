"""How strong the muscle is lately: a local-level model (Kalman filter) of the logarithm of the MVC across sessions.

What an electrode shows of the same muscle differs from day to day, because it never sits in quite the same place. That is
measurement noise here, so one lucky or poor day moves the estimate only a little. Published within-person coefficients of
variation of a surface EMG MVC run from 9 to 36 % (Norcross 2010); we use 18 %, the geometric middle of that range.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

PLACEMENT_CV = 0.18
# How far the muscle itself may wander in a day (SD of the log). Our choice: 14 % in three weeks, which follows a usual
# gain from training without chasing the electrodes.
WANDER_PER_ROOT_DAY = 0.03
# A single calibration repeats within a session far better than across days: force and EMG peaks agree within some 5 %.
# Our choice; a calibration that reports a larger coefficient of variation is trusted less.
TRIAL_CV = 0.05
# Sessions averaged at either end when a change is judged. Our choice.
SESSIONS_COMPARED = 3
Z95 = 1.959963984540054


@dataclass(frozen=True)
class Measured:
    """One calibration of one muscle."""

    at: datetime
    mvc_uv: float
    cv: float | None = None


@dataclass(frozen=True)
class RecentMvc:
    """The estimate after one session, in µV, with its 95 % interval."""

    at: datetime
    measured_uv: float
    estimate_uv: float
    low_uv: float
    high_uv: float
    log_mean: float
    log_variance: float


@dataclass(frozen=True)
class Change:
    """First against latest sessions. `real` only beyond the minimal detectable change at 95 %."""

    percent: float
    detectable_percent: float
    real: bool
    sessions: int


def _log_variance(cv: float) -> float:
    return math.log1p(cv * cv)


def _noise(measured: Measured) -> float:
    return _log_variance(PLACEMENT_CV) + _log_variance(max(TRIAL_CV, measured.cv or 0.0))


def follow(calibrations: Sequence[Measured]) -> list[RecentMvc]:
    """The estimate after each calibration, in their order. Those without a positive, finite MVC are passed over."""
    track: list[RecentMvc] = []
    for measured in calibrations:
        if not (math.isfinite(measured.mvc_uv) and measured.mvc_uv > 0):
            continue
        value, noise = math.log(measured.mvc_uv), _noise(measured)
        if track:
            mean, variance = _predicted(track[-1], measured.at)
            gain = variance / (variance + noise)
            mean, variance = mean + gain * (value - mean), (1 - gain) * variance
        else:
            mean, variance = value, noise
        track.append(_as_estimate(measured.at, measured.mvc_uv, mean, variance))
    return track


def _predicted(last: RecentMvc, at: datetime) -> tuple[float, float]:
    """Mean and variance of the log before a new measurement. A clock set back passes for no time at all."""
    days = max(0.0, (at - last.at).total_seconds() / 86400)
    return last.log_mean, last.log_variance + days * WANDER_PER_ROOT_DAY**2


def _as_estimate(at: datetime, measured_uv: float, mean: float, variance: float) -> RecentMvc:
    half = Z95 * math.sqrt(variance)
    return RecentMvc(at, measured_uv, math.exp(mean), math.exp(mean - half), math.exp(mean + half), mean, variance)


def reference_for_today(track: Sequence[RecentMvc], measured: Measured) -> RecentMvc:
    """What today's activation should be measured against, in µV: today's calibration, steadied by the past.

    The electrodes stay where they are for the whole session, so their place is part of today's reference and no noise
    here: only the scatter of the trials is. The past therefore corrects a calibration that is far off (somebody who did
    not try today), and hardly touches an ordinary one.
    """
    value, trial = math.log(measured.mvc_uv), _log_variance(max(TRIAL_CV, measured.cv or 0.0))
    if not track:
        return _as_estimate(measured.at, measured.mvc_uv, value, trial)
    mean, variance = _predicted(track[-1], measured.at)
    variance += _log_variance(PLACEMENT_CV)
    gain = variance / (variance + trial)
    return _as_estimate(measured.at, measured.mvc_uv, mean + gain * (value - mean), (1 - gain) * variance)


def change(calibrations: Sequence[Measured]) -> Change | None:
    """Whether the MVC changed by more than chance; None before there are two calibrations.

    The means of the logs of the first and the last sessions (up to three each) are compared. With one session each, the
    minimal detectable change is the usual 1.96 * sqrt(2) * SEM (Weir 2005), here on the log.
    """
    usable = [one for one in calibrations if math.isfinite(one.mvc_uv) and one.mvc_uv > 0]
    number = min(SESSIONS_COMPARED, len(usable) // 2)
    if number == 0:
        return None
    first, last = usable[:number], usable[-number:]
    difference = _mean_log(last) - _mean_log(first)
    variance = sum(_noise(one) for one in (*first, *last)) / number**2
    detectable = Z95 * math.sqrt(variance)
    return Change(
        percent=100 * math.expm1(difference),
        detectable_percent=100 * math.expm1(detectable),
        real=abs(difference) > detectable,
        sessions=number,
    )


def _mean_log(calibrations: Sequence[Measured]) -> float:
    return sum(math.log(one.mvc_uv) for one in calibrations) / len(calibrations)
