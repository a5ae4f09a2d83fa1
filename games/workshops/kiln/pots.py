"""Draws a pot from what its rep was: form by its place, wall from effort over time, glaze from steadiness.

The same product gives the same pot at any size, so that the one in the hand is the one on the shelf.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.kept import kept
from musclewood.games.kit.paper import Cut
from musclewood.games.workshops.cut_out import cut_out, standing
from musclewood.games.workshops.kiln import forms, glazes
from musclewood.games.workshops.kiln.glazes import Field, Rgb
from numpy.typing import NDArray

TILT = 0.17  # seen slightly from above: a ring of radius r is an ellipse of half-height TILT * r
Thing = TypeVar("Thing")
STEADY_FROM, STEADY_TO = 0.72, 0.96  # steadiness of a shaky and of a very steady hold; our choice


def pot_image(product: Product, side_px: int, *, fired: bool = True) -> pygame.Surface:
    """A square picture with MARGIN around the pot, which stands in the middle of the lower edge."""
    key = tuple(sorted(product.figures.items()))
    return _pot_image(int(product.figures["place"]), key, product.profile, side_px, fired)


draw_product = standing(pot_image)


@kept(10)
def _pot_image(
    place: int, figures: tuple[tuple[str, float], ...], profile: tuple[float, ...], side_px: int, fired: bool
) -> pygame.Surface:
    fine = 3 if side_px < 60 else 2  # drawn larger and shrunk, so that edges are smooth
    drawn = _Pot(place, dict(figures), profile).paint(side_px * fine, fired)
    return cut_out(drawn, side_px, Cut(lift=3.0, shadow=0.45, grain=6.0, rim=34.0))


class _Pot:
    """One pot's form, wall, glaze and brushwork, decided by its place on the shelf: clay has a
    form before it is fired."""

    def __init__(self, place: int, figures: dict[str, float], profile: tuple[float, ...]) -> None:
        self.random = np.random.default_rng(place)
        choice = self.random.random(4)
        self.form = _pick(forms.unlocked(place), choice[0])
        self.glaze = _pick(glazes.unlocked(place), choice[1])
        brushes = [brush for brush in glazes.BRUSHWORK if place >= brush[2]]
        self.brushes = [_pick(brushes, choice[2]), _pick(brushes, choice[3])][: 1 + (self.random.random() < 0.55)]
        steadiness = figures.get("steadiness", STEADY_TO)
        self.evenness = float(np.clip((steadiness - STEADY_FROM) / (STEADY_TO - STEADY_FROM), 0.0, 1.0))
        self.profile = np.asarray(profile, dtype=np.float64)
        self.target = figures.get("target_pct_mvc", 0.0)

    def paint(self, side: int, fired: bool) -> pygame.Surface:
        """Flat colours at side x side pixels; paper is made of it afterwards."""
        tall = self.form.height * 0.94
        x, y = np.meshgrid((np.arange(side) + 0.5) / side - 0.5, 1.0 - (np.arange(side) + 0.5) / side, indexing="ij")
        wall = forms.wall_of(self.form, self.profile, self.target, 256)
        foot = TILT * wall[0]
        up = _height_on_wall(x, y - foot, wall, tall)
        radius = np.interp(up, np.linspace(0, 1, wall.size), wall)
        turn = np.clip(x / np.maximum(radius, 1e-6), -1, 1)
        body = (np.abs(x) <= radius) & (up >= 0) & (up <= 1)
        rgb = self._surface(np.arcsin(turn), up, fired)
        rgb *= _facets(turn, 3.0 / side)[..., None]
        alpha = body.copy()
        for bow in self.form.bows:
            self._add_bow(rgb, alpha, x, y - foot, bow, tall, fired)
        if self.form.open_lip:
            self._add_mouth(rgb, alpha, x, y - foot - tall, wall[-1], fired)
        picture = pygame.Surface((side, side), pygame.SRCALPHA, 32)
        pygame.surfarray.pixels3d(picture)[:] = np.clip(rgb, 0, 255).astype(np.uint8)
        pygame.surfarray.pixels_alpha(picture)[:] = alpha.astype(np.uint8) * 255
        return picture

    def _surface(self, around: Field, up: Field, fired: bool) -> NDArray[np.float64]:
        """Colour (w, h, 3) of the wall before light falls on it."""
        random = self.random
        rgb = np.empty((*up.shape, 3))
        rgb[:] = glazes.CLAY if fired else glazes.RAW
        rings = np.sin(up * random.uniform(70, 110) + 0.6 * np.sin(around * 2))
        rgb += (rings * 5.0)[..., None]
        if not fired:
            return rgb
        line = random.uniform(0.1, 0.24) - glazes.runs(random, around, self.evenness)
        dip = random.uniform(0.6, 0.84) - glazes.runs(random, around, self.evenness)
        _coat(rgb, up - line, self.glaze.coat)
        for number, (brush, half, _) in enumerate(self.brushes):
            middle = random.uniform(0.3, 0.42) if number else random.uniform(0.46, 0.58)
            wander = (1 - self.evenness) * 0.035 * np.sin(around * random.uniform(2, 5) + random.uniform(0, 6))
            count = int(random.integers(4, 8))
            touched = brush(around + random.uniform(0, 0.4), up - middle - wander, half, count)
            rgb[touched & (up > line + 0.015)] = self.glaze.brush
        _coat(rgb, up - dip, self.glaze.dip)
        spots = glazes.speckles(random, around, up, 0.15 + 0.85 * (1 - self.evenness) if random.random() < 0.7 else 0.0)
        rgb[spots & (up > line)] *= 0.62
        return rgb

    def _add_bow(
        self,
        rgb: NDArray[np.float64],
        alpha: NDArray[np.bool_],
        x: Field,
        y: Field,
        bow: forms.Curve,
        tall: float,
        fired: bool,
    ) -> None:
        """A handle or spout, behind the wall: a thick curve through three points."""
        x0, y0, x1, y1, x2, y2, thick = bow
        nearest = np.full(x.shape, np.inf)
        for t in np.linspace(0, 1, 40):
            a, b, c = (1 - t) ** 2, 2 * t * (1 - t), t * t
            away = (x - (a * x0 + b * x1 + c * x2)) ** 2 + (
                y - (a * y0 + b * y1 + c * y2) * tall / self.form.height
            ) ** 2
            nearest = np.minimum(nearest, away)
        shown = (nearest < thick**2) & ~alpha
        colour = np.asarray(self.glaze.dip if fired else glazes.RAW, dtype=np.float64)
        rgb[shown] = colour
        rgb[shown & (nearest > (0.55 * thick) ** 2)] = colour * 0.8
        alpha |= shown

    def _add_mouth(
        self, rgb: NDArray[np.float64], alpha: NDArray[np.bool_], x: Field, y: Field, radius: float, fired: bool
    ) -> None:
        """The lip's ring and the dark inside."""
        ring = (x / radius) ** 2 + (y / (TILT * radius)) ** 2
        lip = ring <= 1.0
        rgb[lip] = np.asarray(self.glaze.dip if fired else glazes.RAW, dtype=np.float64) * 1.12 + 10
        inner = (x / (radius * 0.86)) ** 2 + (y / (TILT * radius * 0.76)) ** 2 <= 1.0
        rgb[inner] = np.asarray(self.glaze.coat if fired else glazes.RAW, dtype=np.float64) * 0.42
        alpha |= lip


def _pick(among: Sequence[Thing], share: float) -> Thing:
    return among[min(int(share * len(among)), len(among) - 1)]


def _height_on_wall(x: Field, y: Field, wall: NDArray[np.float64], tall: float) -> Field:
    """Height share of the wall seen at each pixel: the near side of a ring lies lower in the picture."""
    share = np.linspace(0, 1, wall.size)
    up = y / tall
    for _ in range(3):
        radius = np.interp(up, share, wall)
        up = (y + TILT * np.sqrt(np.clip(radius**2 - x**2, 0, None))) / tall
    return up


def _facets(turn: Field, soft: float) -> Field:
    """Light from the upper left in four flat tones, as if each were a sheet of its own."""
    tone = np.full(turn.shape, 1.1)
    for edge, drop in ((-0.52, 0.12), (0.34, 0.17), (0.74, 0.16)):
        tone -= drop * np.clip((turn - edge) / soft + 0.5, 0, 1)
        tone -= 0.06 * np.exp(-np.clip(turn - edge, 0, None) / 0.05) * (turn > edge)
    return tone


def _coat(rgb: NDArray[np.float64], above: Field, colour: Rgb) -> None:
    """Glaze wherever `above` (height over its lower edge) is positive; thick and dark at the
    edge, light just over it."""
    coat = above > 0
    rgb[coat] = colour
    rgb[coat & (above < 0.014)] = np.asarray(colour) * 0.7
    rgb[coat & (above >= 0.014) & (above < 0.03)] = np.minimum(np.asarray(colour) * 1.1 + 12, 255)
