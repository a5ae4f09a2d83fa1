"""The smooth curve is that of scipy, which is too slow to load before Today."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from musclewood.games.kit.curve import through
from musclewood.games.workshops.kiln.forms import FORMS, Form
from scipy.interpolate import PchipInterpolator

SHARE = np.linspace(0.0, 1.0, 201)


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_every_pot_has_the_wall_that_scipy_gives_it(form: Form) -> None:
    heights, radii = zip(*form.wall, strict=True)
    assert through(heights, radii, SHARE) == pytest.approx(PchipInterpolator(heights, radii)(SHARE), abs=1e-12)


@given(st.lists(st.sampled_from((-2.0, -0.3, 0.0, 0.0, 0.01, 1.0, 5.0)), min_size=3, max_size=9))
def test_it_is_the_same_curve_through_any_points(values: list[float]) -> None:
    places = np.cumsum([1.0 + (number % 3) for number in range(len(values))])
    at = np.linspace(places[0], places[-1], 101)
    found = through(places, values, at)
    assert found == pytest.approx(PchipInterpolator(places, values)(at), abs=1e-9)
    assert min(values) - 1e-9 <= found.min() and found.max() <= max(values) + 1e-9
