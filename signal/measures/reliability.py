"""How far a measurement can be trusted when it is repeated: intraclass correlation, standard error, detectable change."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.measures.spectrum import Vector
from numpy.typing import ArrayLike

MDC95 = 1.96 * math.sqrt(2.0)


@dataclass(frozen=True, slots=True)
class Anova:
    """Mean squares of a table of n targets (rows) measured k times (columns).

    between: of targets; within: inside targets; of_columns: of raters or sessions; residual: what remains.
    Names and formulas: Shrout & Fleiss 1979, Psychol Bull 86:420 (BMS, WMS, JMS, EMS).
    """

    targets: int
    times: int
    between: float
    within: float
    of_columns: float
    residual: float


def mean_squares(table: ArrayLike) -> Anova:
    """Analyse a complete table, shape (n, k), n and k at least 2."""
    values = np.asarray(table, dtype=np.float64)
    if values.ndim != 2 or min(values.shape) < 2 or not np.all(np.isfinite(values)):
        raise ValueError("a complete table of at least two rows and two columns is needed")
    n, k = values.shape
    rows, columns, grand = values.mean(axis=1), values.mean(axis=0), values.mean()
    within = float(np.sum((values - rows[:, np.newaxis]) ** 2))
    of_columns = n * float(np.sum((columns - grand) ** 2))
    return Anova(
        targets=n,
        times=k,
        between=k * float(np.sum((rows - grand) ** 2)) / (n - 1),
        within=within / (n * (k - 1)),
        of_columns=of_columns / (k - 1),
        residual=max(0.0, within - of_columns) / ((n - 1) * (k - 1)),
    )


@dataclass(frozen=True, slots=True)
class IntraclassCorrelations:
    """The six of Shrout & Fleiss: model 1, 2 or 3, of a single measurement or of the mean of all k."""

    one_single: float
    two_single: float
    three_single: float
    one_mean: float
    two_mean: float
    three_mean: float


def intraclass_correlations(table: ArrayLike) -> IntraclassCorrelations:
    """ICC(1,1), (2,1), (3,1), (1,k), (2,k), (3,k) of a table (n, k). Raises ValueError if all values are alike."""
    a = mean_squares(table)
    n, k = a.targets, a.times
    if a.between + a.within <= 0.0:
        raise ValueError("all values are alike: there is nothing to correlate")
    return IntraclassCorrelations(
        one_single=(a.between - a.within) / (a.between + (k - 1) * a.within),
        two_single=(a.between - a.residual) / (a.between + (k - 1) * a.residual + k * (a.of_columns - a.residual) / n),
        three_single=(a.between - a.residual) / (a.between + (k - 1) * a.residual),
        one_mean=(a.between - a.within) / a.between,
        two_mean=(a.between - a.residual) / (a.between + (a.of_columns - a.residual) / n),
        three_mean=(a.between - a.residual) / a.between,
    )


def interval_of_agreement(table: ArrayLike, confidence: float = 0.95) -> tuple[float, float]:
    """Confidence interval of ICC(2,1) (Shrout & Fleiss 1979, with Satterthwaite's degrees of freedom)."""
    a = mean_squares(table)
    n, k = a.targets, a.times
    icc = intraclass_correlations(table).two_single
    ratio = a.of_columns / a.residual
    above = (k - 1) * (n - 1) * (k * icc * ratio + n * (1 + (k - 1) * icc) - k * icc) ** 2
    below = (n - 1) * k**2 * icc**2 * ratio**2 + (n * (1 + (k - 1) * icc) - k * icc) ** 2
    freedom = above / below
    tail = (1.0 + confidence) / 2.0
    upper = float(scipy.stats.f.ppf(tail, n - 1, freedom))
    lower = float(scipy.stats.f.ppf(tail, freedom, n - 1))
    rest = k * a.of_columns + (k * n - k - n) * a.residual
    low = n * (a.between - upper * a.residual) / (upper * rest + n * a.between)
    high = n * (lower * a.between - a.residual) / (rest + n * lower * a.between)
    return low, high


def interval_of_consistency(table: ArrayLike, confidence: float = 0.95) -> tuple[float, float]:
    """Confidence interval of ICC(3,1) (Shrout & Fleiss 1979)."""
    a = mean_squares(table)
    n, k = a.targets, a.times
    ratio = a.between / a.residual
    tail = (1.0 + confidence) / 2.0
    low = ratio / float(scipy.stats.f.ppf(tail, n - 1, (n - 1) * (k - 1)))
    high = ratio * float(scipy.stats.f.ppf(tail, (n - 1) * (k - 1), n - 1))
    return (low - 1.0) / (low + k - 1.0), (high - 1.0) / (high + k - 1.0)


def standard_error(table: ArrayLike, *, agreement: bool = False) -> float:
    """Standard error of one measurement, in its own unit: sqrt(EMS), or sqrt(WMS) if shifts between sessions count.

    Source: Weir 2005, J Strength Cond Res 19:231 (formulas from memory). Taken from the mean squares rather than from
    SD*sqrt(1 - ICC), which differs on small samples.
    """
    a = mean_squares(table)
    return math.sqrt(a.within if agreement else a.residual)


def standard_error_from(sd: float, icc: float) -> float:
    """SD*sqrt(1 - ICC), for published figures whose table is not at hand (Weir 2005)."""
    if sd < 0.0 or icc > 1.0:
        raise ValueError(f"SD must not be negative nor ICC above 1, got {sd} and {icc}")
    return sd * math.sqrt(1.0 - icc)


def minimal_detectable_change(standard_error_: float) -> float:
    """The change of one person beyond which chance explains less than 5 %: 1.96*sqrt(2)*SEM (Weir 2005)."""
    return MDC95 * standard_error_


@dataclass(frozen=True, slots=True)
class Agreement:
    """Two measurements of the same: mean difference, its SD, and the limits of agreement."""

    bias: float
    sd: float
    low: float
    high: float


def limits_of_agreement(first: ArrayLike, second: ArrayLike) -> Agreement:
    """First minus second, shape (n,) each: bias and bias -+ 1.96 SD (Bland & Altman 1986, Lancet 327:307)."""
    difference: Vector = np.asarray(first, dtype=np.float64) - np.asarray(second, dtype=np.float64)
    if difference.ndim != 1 or len(difference) < 2:
        raise ValueError("at least two pairs are needed")
    bias, sd = float(np.mean(difference)), float(np.std(difference, ddof=1))
    return Agreement(bias, sd, bias - 1.96 * sd, bias + 1.96 * sd)
