"""The Teager-Kaiser operator, a published way to sharpen onsets: what it gives on known signals."""

from __future__ import annotations

import numpy as np
import pytest
from musclewood.signal.measures.spectrum import teager_kaiser


@pytest.mark.parametrize(
    ("amplitude", "frequency_hz", "rate_hz", "expected"),
    [(1.0, 100.0, 1000.0, 0.345492), (2.0, 50.0, 1000.0, 0.381966), (1.0, 100.0, 2000.0, 0.095492)],
)
def test_on_a_sine(amplitude: float, frequency_hz: float, rate_hz: float, expected: float) -> None:
    """Kaiser 1990, Proc ICASSP (from memory): A² sin²(W), exactly and at any phase."""
    turn = 2.0 * np.pi * frequency_hz / rate_hz
    for phase in (0.0, 0.3, 2.0):
        energy = teager_kaiser(amplitude * np.cos(turn * np.arange(50) + phase))
        assert energy == pytest.approx(amplitude**2 * np.sin(turn) ** 2, abs=1e-12)
        assert energy[0] == pytest.approx(expected, abs=1e-6)


def test_on_white_noise() -> None:
    """Mean R(0) - R(2) = sigma², variance 3 sigma⁴ (calculus)."""
    energy = teager_kaiser(np.random.default_rng(11).standard_normal(1_000_000))
    assert np.mean(energy) == pytest.approx(1.0, rel=0.01)
    assert np.var(energy) == pytest.approx(3.0, rel=0.01)
