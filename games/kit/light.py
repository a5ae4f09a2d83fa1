"""Lamplight, embers and smoke: small pictures made once and laid on with plain blits.

Light is added (`BLEND_RGB_ADD`), in a few fixed strengths, because an added picture cannot be faded while it is drawn.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pygame
from musclewood.games.kit.palette import Colour

LEVELS = 16


@lru_cache(maxsize=512)
def glow(size_px: tuple[int, int], colour: Colour, level: int = LEVELS) -> pygame.Surface:
    """An elliptical light to be added; `level` 0..LEVELS is its strength. Fades to nothing at its edge."""
    if level < LEVELS:
        dimmer = glow(size_px, colour).copy()
        part = round(255 * level / LEVELS)
        dimmer.fill((part, part, part), special_flags=pygame.BLEND_RGB_MULT)
        return dimmer
    width, height = max(size_px[0], 2), max(size_px[1], 2)
    x = (np.arange(width) + 0.5) / width * 2 - 1
    y = (np.arange(height) + 0.5) / height * 2 - 1
    reach = np.clip(1 - x[:, None] ** 2 - y[None, :] ** 2, 0, 1) ** 2.2
    grain = np.random.default_rng(5).random((width, height)) * 0.9  # dither: slow fades show no steps
    picture = pygame.Surface((width, height), 0, 32)
    pixels = pygame.surfarray.pixels3d(picture)
    for channel in range(3):
        pixels[:, :, channel] = np.clip(reach * colour[channel] + grain * (reach > 0), 0, 255)
    return picture


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
    filtering = _plain(target.get_size())
    filtering.fill(shade)
    target.blit(filtering, (0, 0), special_flags=pygame.BLEND_RGB_MULT)  # many times faster than filling with the flag


@lru_cache(maxsize=2)
def _plain(size_px: tuple[int, int]) -> pygame.Surface:
    return pygame.Surface(size_px, 0, 32)


def sky(size_px: tuple[int, int], colours: tuple[Colour, ...], horizon_px: int) -> pygame.Surface:
    """A gradient from top to horizon, with a little grain so that it does not band."""
    width, height = size_px
    stops = np.linspace(0, horizon_px, len(colours))
    rows = np.stack([np.interp(np.arange(height), stops, [colour[c] for colour in colours]) for c in range(3)], axis=1)
    grain = np.random.default_rng(8).normal(0, 1.6, (width, height)).astype(np.float32)
    picture = pygame.Surface(size_px, 0, 32)
    pixels = pygame.surfarray.pixels3d(picture)
    for channel in range(3):
        pixels[:, :, channel] = np.clip(rows[None, :, channel] + grain, 0, 255)
    return picture
