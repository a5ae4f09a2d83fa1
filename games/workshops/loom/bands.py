"""Draws a finished band: opened to its whole width, hung over a rod, fringed at its end.

Along it run the moments of the repetition, downwards; both halves mirror the effort, so that a gentle hill becomes a
lens and every unsteadiness a notch in it. The same product gives the same band at any size.
"""

from __future__ import annotations

import random

import numpy as np
import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.kept import kept
from musclewood.games.kit.paper import Cut
from musclewood.games.workshops.cut_out import cut_out, standing
from musclewood.games.workshops.loom.designs import FINE, REACH, ROWS, Design, design_of, grid
from numpy.typing import NDArray

LONG = 48  # cells along a band
WIDE, TALL = 0.62, 0.8  # of the side: the cloth alone
ROD, ROD_LIGHT, CORD = (107, 70, 49), (154, 107, 70), (233, 217, 184)
FRAY = 0.16  # how far a frayed edge reaches at a steadiness of FRAYED or less, as a share of the cloth's half
FRAYED, NEAT = 0.8, 0.97  # steadiness of a following that often left the way and of one that kept to it; our choice


def band_image(product: Product, side_px: int) -> pygame.Surface:
    """A square picture with MARGIN around the band."""
    target = product.figures.get("target_pct_mvc", 0.0)
    place = int(product.figures["place"])
    return _band_image(product.seed, place, target, product.figures.get("steadiness", 1.0), product.profile, side_px)


draw_product = standing(band_image)


@kept(10)
def _band_image(
    seed: int, place: int, target: float, steadiness: float, profile: tuple[float, ...], side_px: int
) -> pygame.Surface:
    fine = max(2, -(-2 * FINE * LONG // side_px))
    side = side_px * fine
    flat = pygame.Surface((side, side), pygame.SRCALPHA, 32)
    cloth = _cloth(profile, target, design_of(place), side)
    left, top = (side - cloth.get_width()) // 2, round(0.09 * side)
    _fringe(flat, (left, top + cloth.get_height()), cloth.get_width(), design_of(place), seed)
    flat.blit(cloth, (left, top))
    _fray(flat, cloth, (left, top), steadiness, seed)
    _rod(flat, left, top, cloth.get_width())
    return cut_out(flat, side_px, Cut(lift=3.0, shadow=0.45, grain=5.0, rim=24.0))


def heights_of(profile: tuple[float, ...], target: float) -> NDArray[np.float64]:
    """Heights on the cloth (LONG,) of an effort over time in %MVC; level at the target where nothing is known."""
    if not profile or target <= 0:
        return np.full(LONG, 1 / REACH)
    points = np.asarray(profile, dtype=np.float64) / (REACH * target)
    return np.asarray(np.interp(np.linspace(0, 1, LONG), np.linspace(0, 1, points.size), points))


def woven(threads: NDArray[np.uint8], colours: NDArray[np.float64], cell_px: tuple[int, int]) -> pygame.Surface:
    """A grid (across, down) of threads as an opaque picture, each cell a float of yarn with light on its upper side."""
    wide, tall = cell_px
    over = (np.arange(threads.shape[0])[:, None] + np.arange(threads.shape[1])[None, :]) % 2
    rgb = colours[threads] * (0.95 + 0.08 * over)[..., None]
    rgb = np.repeat(np.repeat(rgb, wide, axis=0), tall, axis=1)
    across = np.sin(np.pi * (np.arange(rgb.shape[0]) % wide + 0.5) / wide)
    down = np.cos(np.pi * (np.arange(rgb.shape[1]) % tall + 0.5) / tall)
    shade = 0.8 + 0.22 * across[:, None] + 0.1 * down[None, :]
    picture = pygame.Surface(rgb.shape[:2], 0, 32)
    pygame.surfarray.pixels3d(picture)[:] = np.clip(rgb * shade[..., None], 0, 255).astype(np.uint8)
    return picture


def _cloth(profile: tuple[float, ...], target: float, design: Design, side: int) -> pygame.Surface:
    half = grid(heights_of(profile, target), design)
    both = np.concatenate([half[:, ::-1], half], axis=1).T  # (across, along)
    cell = max(2, round(TALL * side / (FINE * LONG))), max(2, round(WIDE * side / (2 * FINE * ROWS)))
    cloth = woven(both, design.colours, (cell[1], cell[0]))
    return pygame.transform.smoothscale(cloth, (round(WIDE * side), round(TALL * side)))


def _fringe(flat: pygame.Surface, corner: tuple[int, int], width: int, design: Design, seed: int) -> None:
    """Warp ends, knotted in bundles."""
    chance = random.Random(seed)
    side = flat.get_width()
    count = 9
    yarn = design.yarn
    for n in range(count):
        x = corner[0] + round(width * (n + 0.5) / count)
        colour = (yarn.ground, yarn.fill, yarn.edge)[n % 3] if n not in (0, count - 1) else yarn.edge
        end = (x + round(chance.uniform(-0.012, 0.012) * side), round(side * chance.uniform(0.965, 0.995)))
        for spread in (-0.014, 0.0, 0.014):
            foot = (end[0] + round(spread * side), end[1])
            pygame.draw.line(flat, colour, (x, corner[1] - 2), foot, max(1, round(0.012 * side)))
        pygame.draw.circle(flat, colour, (x, corner[1] + round(0.022 * side)), max(1, round(0.018 * side)))


def _fray(flat: pygame.Surface, cloth: pygame.Surface, corner: tuple[int, int], steadiness: float, seed: int) -> None:
    """Loose weft along the edges: the more, the less evenly the way was kept. None where it was kept well."""
    chance = random.Random(seed + 1)
    loose = min(max((NEAT - steadiness) / (NEAT - FRAYED), 0.0), 1.0)
    side, (width, height) = flat.get_width(), cloth.get_size()
    for n in range(round(26 * loose)):
        y = chance.randrange(height)
        out = round(chance.uniform(0.3, 1.0) * FRAY * loose * width / 2) + 1
        x, way = (0, -1) if n % 2 else (width - 1, 1)
        colour = cloth.get_at((x, y))[:3]
        start, middle = (corner[0] + x, corner[1] + y), (corner[0] + x + way * out, corner[1] + y + out // 3)
        end = (corner[0] + x + way * out // 2, corner[1] + y + out)
        pygame.draw.lines(flat, colour, False, (start, middle, end), max(1, round(0.008 * side)))


def _rod(flat: pygame.Surface, left: int, top: int, width: int) -> None:
    """The rod that it hangs over, and its cord."""
    side = flat.get_width()
    thick = max(2, round(0.045 * side))
    ends = (left - round(0.06 * side), left + width + round(0.06 * side))
    middle = (flat.get_width() // 2, round(0.012 * side))
    pygame.draw.lines(flat, CORD, False, [(ends[0] + thick, top), middle, (ends[1] - thick, top)], max(1, thick // 4))
    area = pygame.Rect(ends[0], top - thick // 2, ends[1] - ends[0], thick)
    pygame.draw.rect(flat, ROD, area, border_radius=thick // 2)
    pygame.draw.rect(flat, ROD_LIGHT, (area.left + 2, area.top + thick // 5, area.width - 4, max(1, thick // 4)))
    for x in ends:
        pygame.draw.circle(flat, ROD_LIGHT, (x, top), round(0.62 * thick))
