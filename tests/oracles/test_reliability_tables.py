"""Published tables of reliability, recomputed."""

from __future__ import annotations

import math

import pytest
from musclewood.signal.measures.reliability import (
    MDC95,
    interval_of_agreement,
    interval_of_consistency,
    intraclass_correlations,
    limits_of_agreement,
    mean_squares,
    minimal_detectable_change,
    standard_error,
    standard_error_from,
)

# Shrout & Fleiss 1979, Psychol Bull 86:420: six targets, four judges.
SHROUT_FLEISS = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
# Bland & Altman 1986, Lancet 327:307: peak flow, first readings of two meters.
WRIGHT = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def test_mean_squares_of_shrout_and_fleiss() -> None:
    anova = mean_squares(SHROUT_FLEISS)
    assert anova.between == pytest.approx(11.2417, abs=1e-4)
    assert anova.within == pytest.approx(6.2639, abs=1e-4)
    assert anova.of_columns == pytest.approx(32.4861, abs=1e-4)
    assert anova.residual == pytest.approx(1.0194, abs=1e-4)


def test_six_correlations_of_shrout_and_fleiss() -> None:
    icc = intraclass_correlations(SHROUT_FLEISS)
    assert icc.one_single == pytest.approx(0.165742, abs=1e-6)
    assert icc.two_single == pytest.approx(0.289764, abs=1e-6)
    assert icc.three_single == pytest.approx(0.714841, abs=1e-6)
    assert icc.one_mean == pytest.approx(0.442797, abs=1e-6)
    assert icc.two_mean == pytest.approx(0.620051, abs=1e-6)
    assert icc.three_mean == pytest.approx(0.909316, abs=1e-6)


def test_their_intervals() -> None:
    """As the paper's formulas give them; rounded to two places as usually printed."""
    assert interval_of_agreement(SHROUT_FLEISS) == pytest.approx((0.02, 0.76), abs=0.005)
    assert interval_of_consistency(SHROUT_FLEISS) == pytest.approx((0.34, 0.95), abs=0.005)


def test_standard_error_and_detectable_change() -> None:
    """Weir 2005, J Strength Cond Res 19:231 (formulas from memory)."""
    assert standard_error(SHROUT_FLEISS) == pytest.approx(1.0097, abs=1e-4)
    assert standard_error(SHROUT_FLEISS, agreement=True) == pytest.approx(2.5028, abs=1e-4)
    assert minimal_detectable_change(standard_error(SHROUT_FLEISS)) == pytest.approx(2.7987, abs=1e-4)
    assert standard_error_from(10.0, 0.91) == pytest.approx(3.0)
    assert minimal_detectable_change(3.0) == pytest.approx(8.3156, abs=1e-4)
    assert pytest.approx(2.771859, abs=1e-6) == MDC95


def test_standard_error_by_way_of_the_correlation_differs() -> None:
    """The same paper: SD*sqrt(1-ICC) gives another figure on a small table, 1.4473."""
    values = [float(value) for row in SHROUT_FLEISS for value in row]
    mean = sum(values) / len(values)
    sd = math.sqrt(sum((value - mean) ** 2 for value in values) / (len(values) - 1))
    by_icc = standard_error_from(sd, intraclass_correlations(SHROUT_FLEISS).three_single)
    assert by_icc == pytest.approx(1.4473, abs=1e-4)


def test_limits_of_agreement_of_bland_and_altman() -> None:
    agreement = limits_of_agreement(WRIGHT, MINI)
    assert agreement.bias == pytest.approx(-2.1176, abs=1e-4)
    assert agreement.sd == pytest.approx(38.7651, abs=1e-4)
    assert (agreement.low, agreement.high) == pytest.approx((-78.0973, 73.8620), abs=1e-4)
