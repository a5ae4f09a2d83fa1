"""Pairs of muscles: refusal of what cannot be compared."""

from __future__ import annotations

import pytest
from musclewood.signal.measures.coordination import falconer_winter_percent, rudolph


def test_unusable_sides_and_signals_are_refused() -> None:
    with pytest.raises(ValueError, match="same shape"):
        falconer_winter_percent([1.0, 2.0], [1.0])
    with pytest.raises(ValueError, match="not raw samples"):
        rudolph([-1.0, 2.0], [1.0, 1.0])


def test_unknown_ticks_are_left_out() -> None:
    assert falconer_winter_percent([0.2, float("nan"), 0.4], [0.1, 5.0, 0.5]) == pytest.approx(100 * 2 * 0.5 / 1.2)
    assert rudolph([float("nan")], [1.0]) == 0.0
    assert falconer_winter_percent([], []) == 0.0
