"""Lamplight, embers and smoke: small pictures made once and laid on with plain blits.

Light is added (`BLEND_RGB_ADD`), in a few fixed strengths, because an added picture cannot be faded while it is drawn.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any

import numpy as np
import pygame
from musclewood.games.kit.kept import kept
from musclewood.games.kit.palette import Colour
from numpy.typing import NDArray

LEVELS = 16
TILE_PX, BAND_PX = 512, 64  # the second divides the first
FALL = np.linspace(1.0, 0.0, 2049) ** 2.2  # of light, over the square of the distance from its middle


@kept(12)
def glow(size_px: tuple[int, int], colour: Colour, level: int = LEVELS) -> pygame.Surface:
    """An elliptical light to be added; `level` 0..LEVELS is its strength. Fades to nothing at its edge.

    Made in whole numbers and from one quarter of the ellipse, since a first glow of its size is needed in the frame it
    appears in.
    """
    width, height = max(size_px[0], 2), max(size_px[1], 2)
    x = (np.arange((width + 1) // 2, dtype=np.float32) + 0.5) / width * 2 - 1
    y = (np.arange((height + 1) // 2, dtype=np.float32) + 0.5) / height * 2 - 1
    away = np.minimum((x**2)[:, None] + (y**2)[None, :], 1.0)
    steps = (away * (FALL.size - 1)).astype(np.intp)
    dither = _tiled(_dither(), (width, height))  # slow fades show no steps
    picture = pygame.Surface((width, height), 0, 32)
    pixels = pygame.surfarray.pixels3d(picture)
    for channel in range(3):
        quarter = (FALL * (colour[channel] * 256 * level / LEVELS)).astype(np.uint16)[steps]
        half = np.concatenate((quarter, quarter[: width // 2][::-1]))
        whole = np.concatenate((half, half[:, : height // 2][:, ::-1]), axis=1)
        pixels[:, :, channel] = (whole + dither) >> 8
    return picture


@cache
def _dither() -> NDArray[np.uint16]:
    """Nearly a whole level of noise, in 256ths."""
    return np.random.default_rng(5).integers(0, 231, (TILE_PX, TILE_PX)).astype(np.uint16)


@cache
def _grain() -> NDArray[np.float32]:
    return np.random.default_rng(8).normal(0, 1.6, (TILE_PX, TILE_PX)).astype(np.float32)


def _tiled(tile: NDArray[Any], size_px: tuple[int, int]) -> NDArray[Any]:
    """As much of a texture as fills the size."""
    repeats = (-(-size_px[0] // TILE_PX), -(-size_px[1] // TILE_PX))
    return np.tile(tile, repeats)[: size_px[0], : size_px[1]]


def shine(
    target: pygame.Surface, centre_px: tuple[int, int], size_px: tuple[int, int], colour: Colour, strength: float
) -> None:
    """Add a light of some strength (0..1) around a pixel."""
    level = round(min(max(strength, 0.0), 1.0) * LEVELS)
    if level == 0:
        return
    picture = glow(size_px, colour, level)
    corner = (centre_px[0] - size_px[0] // 2, centre_px[1] - size_px[1] // 2)
    target.blit(picture, corner, special_flags=pygame.BLEND_RGB_ADD)


def veil(target: pygame.Surface, colour: Colour, strength: float) -> None:
    """Take light away: multiply everything towards a colour; strength 0 leaves it as it is."""
    if strength <= 0.004:
        return
    shade = tuple(round(255 + (part - 255) * min(strength, 1.0)) for part in colour)
    width, height = target.get_size()
    filtering = _plain((width, BAND_PX))  # many times faster than to fill with the flag; small, to stay at hand
    filtering.fill(shade)
    for top in range(0, height, BAND_PX):
        target.blit(filtering, (0, top), special_flags=pygame.BLEND_RGB_MULT)


@lru_cache(maxsize=2)
def _plain(size_px: tuple[int, int]) -> pygame.Surface:
    return pygame.Surface(size_px, 0, 32)


def sky(size_px: tuple[int, int], colours: tuple[Colour, ...], horizon_px: int) -> pygame.Surface:
    """A gradient from top to horizon, with a little grain so that it does not band.

    Made in bands: an evening is composed during play, and must not take the memory of several whole pictures for it.
    """
    stops = np.linspace(0, horizon_px, len(colours))
    rows = np.stack(
        [np.interp(np.arange(size_px[1]), stops, [colour[c] for colour in colours]) for c in range(3)], axis=1
    )
    rows = rows.astype(np.float32)
    grain = _tiled(_grain(), (size_px[0], TILE_PX))
    picture = pygame.Surface(size_px, 0, 32)
    pixels = pygame.surfarray.pixels3d(picture)
    for top in range(0, size_px[1], BAND_PX):
        band = slice(top, min(top + BAND_PX, size_px[1]))
        grained = grain[:, top % TILE_PX :][:, : band.stop - top]
        for channel in range(3):
            pixels[:, band, channel] = np.clip(rows[None, band, channel] + grained, 0, 255)
    return picture
