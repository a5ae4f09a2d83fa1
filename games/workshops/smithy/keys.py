"""Draws a struck key: its bit is the effort itself, cut by the lock it is for; its temper and its rings of brass are
how briskly effort rose.

The bow, by which a key is held, is drawn by a seeded rule from its place. The same rep gives the same key at any size.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from functools import lru_cache

import numpy as np
import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Point
from musclewood.games.kit.kept import kept
from musclewood.games.kit.palette import Colour, mixed
from musclewood.games.kit.paper import Cut
from musclewood.games.workshops.cut_out import cut_out, standing
from musclewood.games.workshops.smithy.rules import briskness

# Colours that steel takes as it is tempered, from straw to blue: common practice, no source.
TEMPER: tuple[Colour, ...] = (
    (226, 190, 110),
    (206, 140, 70),
    (164, 92, 78),
    (128, 84, 140),
    (84, 98, 178),
    (96, 160, 204),
)
BOW, SHAFT_TO = (0.5, 0.235), 0.93  # middle of the bow and end of the shaft, as shares of the side
TEETH = 9
MOST_RINGS = 5
BRASS, BRASS_DARK = (240, 198, 96), (104, 70, 34)


def key_image(product: Product, side_px: int) -> pygame.Surface:
    """A square picture with MARGIN around the key."""
    figures = product.figures
    return _key_image(int(figures["place"]), briskness(figures), product.profile, side_px)


draw_product = standing(key_image)


@kept(10)
def _key_image(place: int, brisk: float, profile: tuple[float, ...], side_px: int) -> pygame.Surface:
    fine = 4 if side_px < 90 else 2
    side = side_px * fine
    flat = pygame.Surface((side, side), pygame.SRCALPHA, 32)
    iron = temper(brisk)
    _shaft(flat, iron)
    _bit(flat, iron, teeth_of(profile) * wards_of(place))
    _brass(flat, rings_for(brisk))
    bow_of(place)(flat, iron, random.Random(4099 * (place + 1)))
    return cut_out(flat, side_px, Cut(lift=3.0, shadow=0.5, grain=7.0, rim=44.0))


def temper(brisk: float) -> Colour:
    """The colour of the iron for a briskness 0..1."""
    at = min(max(brisk, 0.0), 1.0) * (len(TEMPER) - 1)
    first = min(int(at), len(TEMPER) - 2)
    return mixed(TEMPER[first], TEMPER[first + 1], at - first)


def rings_for(brisk: float) -> int:
    """How many rings of brass a key of this briskness wears: seen from afar, and without colour."""
    return round(MOST_RINGS * min(max(brisk, 0.0), 1.0))


def teeth_of(profile: tuple[float, ...]) -> np.ndarray:
    """How far each tooth of the bit reaches (TEETH,), 0..1: the effort over the rep, its peak the longest."""
    if len(profile) < 2 or max(profile) <= 0:
        return np.full(TEETH, 0.7)
    points = np.asarray(profile, dtype=np.float64)
    along = np.interp(np.linspace(0, 1, TEETH), np.linspace(0, 1, points.size), points)
    return np.asarray(np.clip(along / points.max(), 0.12, 1.0))


def wards_of(place: int) -> np.ndarray:
    """What the file took off each tooth (TEETH,), as a factor: the lock that key number `place` is for."""
    return np.random.default_rng(place + 61).choice((1.0, 1.0, 0.82, 0.62, 0.4), TEETH)


def _shaft(flat: pygame.Surface, iron: Colour) -> None:
    side, (x, y) = flat.get_width(), BOW
    wide, dark, light = 0.085 * side, mixed(iron, (24, 20, 40), 0.45), mixed(iron, (255, 250, 232), 0.4)
    area = pygame.Rect(
        round(x * side - wide / 2), round((y + 0.1) * side), round(wide), round((SHAFT_TO - y - 0.1) * side)
    )
    pygame.draw.rect(flat, dark, area, border_radius=round(0.4 * wide))
    pygame.draw.rect(flat, iron, area.inflate(-wide * 0.34, -wide * 0.2), border_radius=round(0.3 * wide))
    pygame.draw.rect(flat, light, (area.left + round(0.26 * wide), area.top, max(1, round(0.14 * wide)), area.height))
    for down, broad in ((0.17, 0.19), (0.215, 0.15), (0.545, 0.13)):  # collars
        collar = pygame.Rect(0, 0, round(broad * side), round(0.034 * side))
        collar.center = (round(x * side), round((y + down) * side))
        pygame.draw.rect(flat, dark, collar, border_radius=round(0.015 * side))
        pygame.draw.rect(flat, iron, collar.inflate(-0.02 * side, -0.014 * side), border_radius=round(0.01 * side))


def _bit(flat: pygame.Surface, iron: Colour, teeth: np.ndarray) -> None:
    """Steps beside the shaft, from the first moment of the rep (above) to the last."""
    side, (x, y) = flat.get_width(), BOW
    top, bottom, root = (y + 0.33) * side, (SHAFT_TO - 0.03) * side, (x + 0.03) * side
    tall = (bottom - top) / teeth.size
    for shift, colour, less in ((0.0, mixed(iron, (24, 20, 40), 0.45), 0.0), (0.012, iron, 0.02)):
        outline: list[Point] = [(root, top + shift * side)]
        for n, tooth in enumerate(teeth):
            out = root + (0.07 + 0.25 * float(tooth) - less) * side
            outline += [
                (out, top + n * tall + shift * side * (n == 0)),
                (out, top + (n + 1) * tall - shift * side * (n == teeth.size - 1)),
            ]
        outline.append((root, bottom - shift * side))
        pygame.draw.polygon(flat, colour, outline)
    slot = pygame.Rect(
        round(root + 0.055 * side), round((top + bottom) / 2 - 0.022 * side), round(0.075 * side), round(0.044 * side)
    )
    pygame.draw.rect(flat, mixed(iron, (24, 20, 40), 0.6), slot, border_radius=max(1, slot.height // 2))


def _brass(flat: pygame.Surface, rings: int) -> None:
    """Bright rings round the shaft, from the bow downwards; with all of them a drop of brass ends the shaft."""
    side, (x, y) = flat.get_width(), BOW
    for n in range(rings):
        for colour, wide, tall in ((BRASS_DARK, 0.2, 0.05), (BRASS, 0.17, 0.03)):
            ring = pygame.Rect(0, 0, round(wide * side), max(1, round(tall * side)))
            ring.center = (round(x * side), round((y + 0.27 + 0.075 * n) * side))
            pygame.draw.rect(flat, colour, ring, border_radius=round(0.016 * side))
    if rings == MOST_RINGS:
        pygame.draw.circle(flat, BRASS_DARK, (x * side, SHAFT_TO * side), 0.062 * side)
        pygame.draw.circle(flat, BRASS, (x * side, SHAFT_TO * side), 0.046 * side)


# --- bows ---------------------------------------------------------------------------------------------------------
Bow = Callable[[pygame.Surface, Colour, random.Random], None]


def _ring(flat: pygame.Surface, iron: Colour, at: Point, radius: float, thick: float) -> None:
    side = flat.get_width()
    centre = (at[0] * side, at[1] * side)
    pygame.draw.circle(flat, mixed(iron, (24, 20, 40), 0.45), centre, radius * side, max(1, round(thick * side)))
    pygame.draw.circle(flat, iron, centre, (radius - 0.012) * side, max(1, round((thick - 0.024) * side)))


def plain(flat: pygame.Surface, iron: Colour, chance: random.Random) -> None:
    _ring(flat, iron, BOW, 0.19, 0.075)


def petals(flat: pygame.Surface, iron: Colour, chance: random.Random) -> None:
    count = chance.choice((3, 4, 5, 6))
    for n in range(count):
        turn = 2 * math.pi * n / count - math.pi / 2
        _ring(flat, iron, (BOW[0] + 0.105 * math.cos(turn), BOW[1] + 0.105 * math.sin(turn)), 0.09, 0.052)
    _ring(flat, iron, BOW, 0.062, 0.062)


def heart(flat: pygame.Surface, iron: Colour, chance: random.Random) -> None:
    side = flat.get_width()
    for colour, thick in ((mixed(iron, (24, 20, 40), 0.45), 0.075), (iron, 0.048)):
        points = []
        for n in range(60):
            turn = 2 * math.pi * n / 60
            x = 16 * math.sin(turn) ** 3
            y = 13 * math.cos(turn) - 5 * math.cos(2 * turn) - 2 * math.cos(3 * turn) - math.cos(4 * turn)
            points.append(((BOW[0] + 0.0115 * x) * side, (BOW[1] - 0.0105 * y) * side))
        for point in points:
            pygame.draw.circle(flat, colour, point, thick / 2 * side)


def sun(flat: pygame.Surface, iron: Colour, chance: random.Random) -> None:
    side, count = flat.get_width(), chance.choice((8, 10, 12))
    for n in range(count):
        turn = 2 * math.pi * n / count
        tip = ((BOW[0] + 0.21 * math.cos(turn)) * side, (BOW[1] + 0.21 * math.sin(turn)) * side)
        foot = [
            ((BOW[0] + 0.13 * math.cos(turn + d)) * side, (BOW[1] + 0.13 * math.sin(turn + d)) * side)
            for d in (-0.2, 0.2)
        ]
        pygame.draw.polygon(flat, mixed(iron, (24, 20, 40), 0.25), [tip, *foot])
    _ring(flat, iron, BOW, 0.14, 0.07)


def leaves(flat: pygame.Surface, iron: Colour, chance: random.Random) -> None:
    """Two hornbeam leaves and a bud."""
    side = flat.get_width()
    for way in (-1, 1):
        outline = []
        for n in range(25):
            share = n / 24
            wide = 0.085 * math.sin(math.pi * share) * (1 + 0.16 * (n % 2))
            along = 0.3 * share
            outline.append((along, wide))
        both = outline + [(along, -wide) for along, wide in reversed(outline)]
        turn = -math.pi / 2 + way * 0.75
        points = [((BOW[0] + a * math.cos(turn) - w * math.sin(turn)) * side,
            (BOW[1] + 0.1 + a * math.sin(turn) + w * math.cos(turn)) * side) for a, w in both]  # fmt: skip
        pygame.draw.polygon(flat, mixed(iron, (24, 20, 40), 0.35), points)
        middle = [
            ((BOW[0] + a * math.cos(turn)) * side, (BOW[1] + 0.1 + a * math.sin(turn)) * side) for a in (0.03, 0.26)
        ]
        pygame.draw.lines(flat, mixed(iron, (255, 250, 232), 0.35), False, middle, max(1, round(0.02 * side)))
    _ring(flat, iron, (BOW[0], BOW[1] + 0.09), 0.07, 0.045)


def bird(flat: pygame.Surface, iron: Colour, chance: random.Random) -> None:
    """A wren with its tail up."""
    side = flat.get_width()
    body = [(-0.02, 0.1), (-0.12, 0.05), (-0.15, -0.05), (-0.24, -0.16), (-0.19, -0.18), (-0.1, -0.08), (0.02, -0.1),
        (0.08, -0.16), (0.16, -0.15), (0.24, -0.1), (0.17, -0.08), (0.14, 0.02), (0.07, 0.09)]  # fmt: skip
    points = [((BOW[0] + x) * side, (BOW[1] + 0.02 + y) * side) for x, y in body]
    pygame.draw.polygon(flat, mixed(iron, (24, 20, 40), 0.3), points)
    small = [((BOW[0] + 0.86 * x) * side, (BOW[1] + 0.02 + 0.86 * y) * side) for x, y in body]
    pygame.draw.polygon(flat, iron, small)
    pygame.draw.circle(flat, (24, 20, 40), ((BOW[0] + 0.12) * side, (BOW[1] - 0.09) * side), 0.018 * side)
    _ring(flat, iron, (BOW[0], BOW[1] + 0.11), 0.05, 0.04)


BOWS: tuple[tuple[Bow, int], ...] = ((plain, 0), (petals, 1), (heart, 4), (sun, 12), (leaves, 24), (bird, 45))


@lru_cache(maxsize=1024)
def bow_of(place: int) -> Bow:
    """The bow of key number `place` (0 is the first). What has just come within reach is made at once."""
    fresh = [bow for bow, since in BOWS if since == place and place]
    allowed = [bow for bow, since in BOWS if place >= since]
    return fresh[0] if fresh else random.Random(3571 * (place + 1)).choice(allowed)
