"""Lamplight falls off as it is written, at any size, and is dithered by less than one level."""

from __future__ import annotations

import numpy as np
import pygame
import pytest
from musclewood.games.kit.light import LEVELS, glow, shine, sky

LAMP = (255, 150, 60)


def written(size: tuple[int, int], strength: float) -> np.ndarray:
    """(w, h, 3): (1 - distance squared) to the power 2.2, in shares of the half axes."""
    x, y = ((np.arange(length) + 0.5) / length * 2 - 1 for length in size)
    fall = np.clip(1 - x[:, None] ** 2 - y[None, :] ** 2, 0, 1) ** 2.2
    return fall[..., None] * np.asarray(LAMP) * strength


@pytest.mark.parametrize("size", [(2, 2), (3, 5), (190, 191), (961, 150)])
@pytest.mark.parametrize("level", [LEVELS, 5])
def test_a_glow_is_what_is_written_to_within_its_dither(size: tuple[int, int], level: int) -> None:
    made = pygame.surfarray.array3d(glow(size, LAMP, level)).astype(float)
    away = made - written(size, level / LEVELS)
    assert np.abs(away).max() < 1.5
    assert abs(away[written(size, level / LEVELS) > 1].mean()) < 0.3 if away.size > 1000 else True


def test_light_is_added_and_ends_at_its_edge() -> None:
    ground = pygame.Surface((100, 100))
    ground.fill((20, 20, 20))
    shine(ground, (50, 50), (60, 40), LAMP, 1.0)
    shine(ground, (50, 50), (60, 40), LAMP, 0.01)  # too faint to show
    seen = pygame.surfarray.array3d(ground)
    assert seen[50, 50, 0] == 255 and seen[50, 50, 2] > 70
    lit = (seen != 20).any(axis=2)
    assert not lit[:20].any() and not lit[80:].any() and not lit[:, :30].any() and not lit[:, 70:].any()


def test_a_sky_goes_from_top_to_horizon_and_does_not_band() -> None:
    made = pygame.surfarray.array3d(sky((600, 300), ((10, 20, 60), (240, 160, 90)), 200)).astype(float)
    rows = made.mean(axis=0)
    assert rows[0] == pytest.approx((10, 20, 60), abs=1.5) and rows[250] == pytest.approx((240, 160, 90), abs=1.5)
    assert (np.diff(rows[:200, 0]) > 0).mean() > 0.95
    assert 0.8 < made[:, 250, 1].std() < 2.5
