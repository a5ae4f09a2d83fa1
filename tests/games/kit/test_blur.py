"""The blur of shadows and paper, held against that of scipy.ndimage."""

from __future__ import annotations

import numpy as np
import pytest
from musclewood.games.kit.blur import REACH, blurred, blurred_tile
from scipy.ndimage import gaussian_filter

FIELD = np.random.default_rng(3).random((60, 45)).astype(np.float32)


@pytest.mark.parametrize("spread_px", [0.2, 1.5, 6.0])
def test_what_meets_an_edge_goes_on_beyond_it(spread_px: float) -> None:
    expected = gaussian_filter(FIELD, spread_px, mode="nearest", truncate=REACH)
    assert np.abs(blurred(FIELD, spread_px) - expected).max() < 1e-5


@pytest.mark.parametrize("spreads_px", [(0.8, 0.8), (0.6, 5.0), (14.0, 3.0)])
def test_a_tile_comes_in_again_on_the_other_side(spreads_px: tuple[float, float]) -> None:
    """The widest kernel goes round the tile more than once."""
    expected = gaussian_filter(FIELD, spreads_px, mode="wrap", truncate=REACH)
    found, same = blurred_tile(FIELD, spreads_px, spreads_px)
    assert np.abs(found - expected).max() < 1e-5 and np.array_equal(found, same)
