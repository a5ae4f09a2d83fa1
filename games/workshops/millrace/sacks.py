"""Draws a sack of flour from what its rep was: its body swells with effort over time, and its mark is the effort
itself.

The mark is a round stencil. Going once round it is going once through the rep: a steady hold gives a round mark, a
restless one a ragged one, so no two marks are alike. Cloth, ink and the sign within are left to the seed, and more
signs are cut as more sacks are filled; the dots round the mark say how much of the effort lay in the band. The same
product gives the same sack at any size.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

import numpy as np
import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.kept import kept
from musclewood.games.kit.paper import Cut
from musclewood.games.workshops.cut_out import cut_out, standing
from musclewood.games.workshops.millrace.stencils import Point, unlocked
from numpy.typing import NDArray

STEADY_FROM, STEADY_TO = 0.72, 0.96  # steadiness of a shaky and of a very steady hold; our choice
SWING = 0.5  # how far effort off its target swells or narrows the body
CLOTHS = ((238, 226, 198), (222, 205, 170), (205, 188, 156), (232, 214, 190), (214, 208, 192), (240, 232, 214))
BANDS = ((0, 114, 178), (172, 70, 12), (0, 122, 92), (110, 84, 132), (150, 104, 30), (70, 74, 110))
INKS = ((24, 60, 104), (134, 52, 14), (12, 84, 68), (92, 44, 84), (44, 40, 66), (106, 74, 14))
# Half widths of a sack from its foot to its neck, as shares of its height; sacks slump in different ways.
BODIES = (
    (0.33, 0.39, 0.40, 0.39, 0.37, 0.34, 0.28, 0.15),
    (0.30, 0.35, 0.36, 0.36, 0.35, 0.33, 0.29, 0.16),
    (0.37, 0.43, 0.42, 0.39, 0.35, 0.30, 0.24, 0.14),
    (0.32, 0.37, 0.41, 0.42, 0.40, 0.35, 0.27, 0.15),
)
NECK = 0.80  # of the height; above it stand the ears of the tied cloth


def sack_image(product: Product, side_px: int) -> pygame.Surface:
    """A square picture with MARGIN around the sack, which stands in the middle of the lower edge."""
    return _sack_image(product.seed, tuple(sorted(product.figures.items())), product.profile, side_px)


draw_product = standing(sack_image)


@kept(10)
def _sack_image(
    seed: int, figures: tuple[tuple[str, float], ...], profile: tuple[float, ...], side_px: int
) -> pygame.Surface:
    fine = 4 if side_px < 60 else 3 if side_px < 200 else 2  # drawn larger and shrunk, so that edges are smooth
    drawn = _Sack(seed, dict(figures), profile).paint(side_px * fine)
    return cut_out(drawn, side_px, Cut(lift=3.0, shadow=0.45, grain=6.0, rim=34.0))


class _Sack:
    """Everything about one sack, decided before anything is drawn. Lengths are shares of the picture's side, y down."""

    def __init__(self, seed: int, figures: dict[str, float], profile: tuple[float, ...]) -> None:
        chance = random.Random(seed)
        self.stencil = chance.choice(unlocked(int(figures.get("place", 0))))
        self.cloth, self.ink = chance.choice(CLOTHS), chance.choice(INKS)
        self.body, self.tall = chance.choice(BODIES), chance.uniform(0.86, 0.98)
        self.stripe = chance.choice(BANDS) if chance.random() < 0.7 else None
        self.stripe_at, self.stripes = chance.choice((-0.5, 0.5)), chance.choice((1, 2, 3))
        self.turn, self.tilt = chance.uniform(0, 2 * math.pi), chance.uniform(-0.12, 0.12)
        self.cord = chance.choice(BANDS)
        steadiness = figures.get("steadiness", STEADY_TO)
        self.evenness = float(np.clip((steadiness - STEADY_FROM) / (STEADY_TO - STEADY_FROM), 0.0, 1.0))
        held_s = figures.get("held_s", 0.0)
        self.earned = min(figures.get("in_band_s", 0.0) / held_s, 1.0) if held_s > 0 else 1.0
        self.off = deviation(np.asarray(profile, dtype=np.float64), figures.get("target_pct_mvc", 0.0))
        self.bulges = np.asarray([part.mean() for part in np.array_split(self.off, 7)] if self.off.size >= 7 else [])
        self.specks = [
            (chance.uniform(-0.3, 0.3), chance.uniform(0.2, 0.9), chance.uniform(0.004, 0.012)) for _ in range(26)
        ]

    def paint(self, side: int) -> pygame.Surface:
        picture = pygame.Surface((side, side), pygame.SRCALPHA, 32)
        body = self._outline()
        self._fill(picture, self._ears(), _shade(self.cloth, 0.86))
        self._fill(picture, body, self.cloth)
        self._fold(picture, side)
        self._woven(picture)
        self._fill(picture, self._cord(), self.cord)
        self._mark(picture)
        self._dust(picture)
        return _within(picture, [*body], self._ears(), self._cord())

    # --- cloth --------------------------------------------------------------------------------------------------
    def _half_width(self, up: float) -> float:
        """At a share of the height between foot and neck."""
        plain = float(np.interp(up, np.linspace(0, 1, len(self.body)), self.body))
        swell = float(np.interp(up, np.linspace(0, 1, self.bulges.size), self.bulges)) if self.bulges.size else 0.0
        return min(plain * (1 + SWING * swell * (1 - up**3)), 0.48) * self.tall

    def _y(self, up: float) -> float:
        return 0.985 - up * NECK * self.tall

    def _outline(self) -> list[Point]:
        right = [(0.5 + self._half_width(up), self._y(up)) for up in np.linspace(0.02, 1, 40)]
        foot = [(0.5 + self._half_width(0) * x, 0.985 + 0.008 * math.cos(9 * x)) for x in np.linspace(-0.9, 0.9, 9)]
        return [*foot, *right, *[(1 - x, y) for x, y in reversed(right)]]

    def _ears(self) -> list[Point]:
        """The cloth above the cord: two ears and a fold between."""
        top, neck, wide = self._y(1.0) - 0.17 * self.tall, self._y(1.0), self._half_width(1.0)
        return [
            *((0.5 - wide * 0.8, neck + 0.01), (0.5 - wide * 1.5, top + 0.03), (0.5 - wide * 0.9, top)),
            *((0.5 - wide * 0.3, top + 0.05), (0.5 + wide * 0.2, top + 0.03), (0.5 + wide * 0.9, top - 0.005)),
            *((0.5 + wide * 1.4, top + 0.045), (0.5 + wide * 0.8, neck + 0.01)),
        ]

    def _cord(self) -> list[Point]:
        neck, wide = self._y(1.0), self._half_width(1.0) * 1.12
        return [
            (0.5 - wide, neck - 0.018),
            (0.5 + wide, neck - 0.018),
            (0.5 + wide, neck + 0.024),
            (0.5 - wide, neck + 0.024),
        ]

    def _fold(self, picture: pygame.Surface, side: int) -> None:
        """Light from the upper left in three flat tones, and pleats below the cord."""
        for share, tone in ((0.42, 0.94), (0.78, 0.84)):
            edge = [(0.5 + share * self._half_width(up), self._y(up)) for up in np.linspace(0, 1, 24)]
            outer = [(0.5 + self._half_width(up), self._y(up)) for up in np.linspace(1, 0, 24)]
            self._fill(picture, edge + outer, _shade(self.cloth, tone))
        for x in (-0.5, -0.15, 0.3):
            wide, top = self._half_width(1.0), self._y(1.0)
            pleat = [
                (0.5 + x * wide, top),
                (0.5 + x * wide * 2.0, top + 0.13),
                (0.5 + x * wide * 1.3 + 0.012, top + 0.02),
            ]
            self._fill(picture, pleat, _shade(self.cloth, 0.78))

    def _woven(self, picture: pygame.Surface) -> None:
        if self.stripe is None:
            return
        for n in range(self.stripes):
            at, thin = self.stripe_at + 0.16 * (n - (self.stripes - 1) / 2), 0.028 if n % 2 else 0.05
            left = [(0.5 + (at - thin) * self._half_width(up) * 1.25, self._y(up)) for up in np.linspace(0, 0.97, 24)]
            right = [(0.5 + (at + thin) * self._half_width(up) * 1.25, self._y(up)) for up in np.linspace(0.97, 0, 24)]
            self._fill(picture, left + right, _mixed(self.stripe, self.cloth, 0.3))

    # --- the mark -----------------------------------------------------------------------------------------------
    def _mark(self, picture: pygame.Surface) -> None:
        middle, size = (0.5, self._y(0.44)), 0.25 * self.tall
        ink = _mixed(self.ink, self.cloth, 0.06 + 0.2 * (1 - self.evenness))
        self._fill(picture, self._ring(middle, size, 0.0), ink)
        self._fill(picture, self._ring(middle, size * 0.86, 0.0), self.cloth)
        for shape in self.stencil:
            points = [self._placed(x * size * 0.62, y * size * 0.62, middle) for x, y in shape]
            self._fill(picture, points, ink)
        dots = round(16 * self.earned)
        for n in range(dots):
            angle = 2 * math.pi * n / 16 - math.pi / 2
            centre = (middle[0] + 1.19 * size * math.cos(angle), middle[1] + 1.19 * size * math.sin(angle))
            self._disc(picture, centre, size * 0.055, ink)

    def _ring(self, middle: Point, size: float, start: float) -> list[Point]:
        """Effort over time, once round: outwards where it was above its target."""
        angles = np.linspace(0, 2 * math.pi, 96, endpoint=False)
        off = self.off if self.off.size else np.zeros(2)
        closing = np.interp(angles, np.linspace(0, 2 * math.pi, off.size + 1), np.append(off, off[0]))
        reach = size * (1 + 0.55 * closing)
        turned = angles - math.pi / 2 + start
        return list(zip(middle[0] + reach * np.cos(turned), middle[1] + reach * np.sin(turned), strict=True))

    def _placed(self, x: float, y: float, middle: Point) -> Point:
        cos, sin = math.cos(self.tilt), math.sin(self.tilt)
        return middle[0] + x * cos - y * sin, middle[1] + x * sin + y * cos

    def _dust(self, picture: pygame.Surface) -> None:
        """An unsteady hold spills flour on the cloth."""
        for x, up, size in self.specks[: round(26 * (1 - self.evenness))]:
            self._disc(picture, (0.5 + x, self._y(up)), size, (252, 250, 244))

    # --- pixels -------------------------------------------------------------------------------------------------
    @staticmethod
    def _fill(picture: pygame.Surface, points: Sequence[Point], colour: Sequence[float]) -> None:
        side = picture.get_width()
        pygame.draw.polygon(picture, tuple(round(part) for part in colour), [(x * side, y * side) for x, y in points])

    @staticmethod
    def _disc(picture: pygame.Surface, centre: Point, radius: float, colour: Sequence[float]) -> None:
        side = picture.get_width()
        at = (round(centre[0] * side), round(centre[1] * side))
        pygame.draw.circle(picture, tuple(round(part) for part in colour), at, max(1, round(radius * side)))


def deviation(profile: NDArray[np.float64], target: float) -> NDArray[np.float64]:
    """Effort off its target as a share of it (-0.6..0.6), over the part of the rep that was a
    hold; empty if unknown."""
    if profile.size < 4 or target <= 0:
        return np.empty(0)
    up = np.flatnonzero(profile >= 0.6 * target)
    held = profile[up[0] : up[-1] + 1] if up.size >= 4 else profile
    return np.clip(held / target - 1.0, -0.6, 0.6)


def _within(picture: pygame.Surface, *shapes: list[Point]) -> pygame.Surface:
    """Only what lies on the cloth stays."""
    side = picture.get_width()
    stencil = pygame.Surface((side, side), pygame.SRCALPHA, 32)
    for shape in shapes:
        pygame.draw.polygon(stencil, (255, 255, 255, 255), [(x * side, y * side) for x, y in shape])
    stencil.blit(picture, (0, 0), special_flags=pygame.BLEND_RGBA_MULT)
    return stencil


def _shade(colour: Sequence[float], tone: float) -> tuple[float, ...]:
    return tuple(part * tone for part in colour)


def _mixed(first: Sequence[float], second: Sequence[float], share: float) -> tuple[float, ...]:
    return tuple(a + (b - a) * share for a, b in zip(first, second, strict=True))
