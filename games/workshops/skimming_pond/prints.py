"""Draws a print of the ripples from what the rep was, as it would be pulled from a cut block.

Every touch of the stone is a stone's ring in the water: how many from the rise, how the rings swell from the effort
over time, how even they lie from its steadiness. The paper, the inks, the hills and the moon are the seed's. The same
product gives the same print at any size.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.kept import kept
from musclewood.games.kit.paper import Cut, lay
from musclewood.games.workshops.skimming_pond.skips import touches_in, way_of
from numpy.typing import NDArray

Field = NDArray[np.floating[Any]]
Rgb = tuple[int, int, int]
SHAPE = 4 / 3  # width by height of a sheet
MARGIN = 0.06  # room for the shadow, as a share of the height
STEADY_FROM, STEADY_TO = 0.72, 0.96  # steadiness of a shaky and of a very steady effort; our choice
HORIZON, FLATTENED = 0.3, 0.36  # of the printed field; height of a ring by its width
FINEST = 6  # tones of the water
PAPERS: tuple[Rgb, ...] = ((250, 241, 222), (245, 232, 206), (238, 234, 226), (248, 238, 232))
# Deep ink, pale ink, sky above, sky at the horizon, moon: pulled from four blocks.
INKS: tuple[tuple[Rgb, Rgb, Rgb, Rgb, Rgb], ...] = (
    ((24, 44, 98), (176, 206, 226), (38, 60, 116), (232, 196, 170), (255, 244, 214)),
    ((14, 82, 96), (190, 226, 214), (22, 92, 110), (240, 216, 178), (255, 240, 200)),
    ((66, 40, 96), (222, 196, 224), (84, 56, 120), (240, 180, 160), (255, 236, 208)),
    ((38, 70, 62), (196, 216, 180), (58, 92, 96), (244, 214, 150), (255, 246, 220)),
    ((92, 44, 40), (240, 206, 176), (132, 62, 52), (250, 206, 140), (255, 240, 210)),
    ((30, 34, 58), (190, 192, 210), (46, 50, 84), (206, 186, 196), (250, 246, 236)),
    ((0, 86, 140), (182, 222, 238), (0, 98, 150), (250, 222, 170), (255, 238, 190)),
)
NEW_INK = 14  # prints; our choice: about one new ink a week
STAMP: Rgb = (196, 74, 32)


def unlocked(place: int) -> tuple[tuple[Rgb, Rgb, Rgb, Rgb, Rgb], ...]:
    """The inks at hand when so many prints had been pulled: three at first, and one more for every NEW_INK."""
    return INKS[: min(3 + max(place, 0) // NEW_INK, len(INKS))]


def draw_product(canvas: Canvas, box: Box, product: Product) -> None:
    """The print in the middle of the box, as large as fits with its shadow."""
    height = min(box.height / (1 + 2 * MARGIN), box.width / (SHAPE + 2 * MARGIN))
    image = print_image(product, canvas.length(height))
    canvas.paste(image, box.centre, "center")


def print_image(product: Product, height_px: int) -> pygame.Surface:
    """The sheet with MARGIN around it for its shadow."""
    figures = tuple(sorted(product.figures.items()))
    return _print_image(product.seed, figures, product.profile, touches_in(product), height_px)


@kept(10)
def _print_image(
    seed: int, figures: tuple[tuple[str, float], ...], profile: tuple[float, ...], touches: int, height: int
) -> pygame.Surface:
    fine = 2 if height < 400 else 1  # drawn larger and shrunk, so that edges are smooth
    width = round(height * SHAPE)
    drawn = _Print(seed, dict(figures), profile, touches).pull(width * fine, height * fine)
    room = max(2, round(height * MARGIN))
    flat = pygame.Surface((width + 2 * room, height + 2 * room), pygame.SRCALPHA, 32)
    flat.blit(pygame.transform.smoothscale(drawn, (width, height)), (room, room))
    image = pygame.Surface(flat.get_size(), pygame.SRCALPHA, 32)
    lay(image, flat, Cut(lift=3.0, shadow=0.5, grain=6.0, rim=20.0), max(height / 100, 0.35))
    return image


class _Print:
    """One print; everything that chance decides is drawn before anything is painted."""

    def __init__(self, seed: int, figures: dict[str, float], profile: tuple[float, ...], touches: int) -> None:
        random = np.random.default_rng(seed)
        self.paper = PAPERS[int(random.integers(len(PAPERS)))]
        inks = unlocked(int(figures.get("place", 0)))
        self.deep, self.pale, self.sky, self.low_sky, self.moon_ink = inks[int(random.integers(len(inks)))]
        self.moon = tuple(float(random.uniform(*span)) for span in ((0.14, 0.86), (0.09, 0.17), (0.035, 0.075)))
        self.leftward = bool(random.random() < 0.5)
        self.hills = [float(part) for part in random.uniform(0, 6, 6)]
        self.reeds = random.uniform(0, 1, (int(random.integers(0, 6)), 3)).tolist()
        self.tilt = float(random.uniform(-0.03, 0.05))
        steadiness = figures.get("steadiness", STEADY_TO)
        self.evenness = float(np.clip((steadiness - STEADY_FROM) / (STEADY_TO - STEADY_FROM), 0.0, 1.0))
        self.waver = [float(part) for part in random.uniform(-1, 1, 3)]
        self.profile = np.asarray(profile, dtype=np.float32)
        self.way = way_of(touches)

    def pull(self, width: int, height: int) -> pygame.Surface:
        """All blocks on one sheet of width x height pixels."""
        columns, rows = (np.arange(side, dtype=np.float32) / height for side in (width, height))
        x, y = np.meshgrid(columns, rows, indexing="ij")
        rgb = np.empty((width, height, 3), dtype=np.float32)
        rgb[:] = self.paper
        edge = 0.055 + 0.004 * np.sin(31 * x + self.hills[0]) * np.sin(27 * y)  # a block is never quite square
        field = (x > edge) & (x < SHAPE - edge) & (y > edge) & (y < 1 - edge)
        across, down = (x - 0.06) / (SHAPE - 0.12), (y - 0.06) / 0.88
        if self.leftward:
            across = 1 - across
        painted = self._land(across, down)
        painted = np.where((down > HORIZON)[..., None], self._water(across, down), painted)
        self._add_reeds(painted, across, down)
        rgb[field] = painted[field]
        self._stamp(rgb, x, y)
        return _surface(rgb)

    def _land(self, across: Field, down: Field) -> Field:
        """Sky from dark to light as a wiped block gives it, the moon, and two rows of hills."""
        rgb = _between(self.sky, self.low_sky, np.clip(down / HORIZON, 0, 1) ** 1.4)
        x, y, radius = self.moon
        rgb[np.hypot((across - x) * 1.38, down - y) < radius] = self.moon_ink
        for row, (top, ink) in enumerate(((0.21, 0.55), (0.26, 0.25))):
            a, b, c = self.hills[row * 3 : row * 3 + 3]
            ridge = (
                top + 0.018 * np.sin(across * 7 + a) + 0.012 * np.sin(across * 17 + b) + 0.005 * np.sin(across * 61 + c)
            )
            rgb[down > ridge] = _between(self.deep, self.low_sky, np.asarray(ink))
        return rgb

    def _water(self, across: Field, down: Field) -> Field:
        """The rings of all touches where they meet, in a few tones of ink."""
        near = (down - HORIZON) / (1 - HORIZON)
        swell = self._rings(across, down)
        plain = 0.62 - 0.5 * near + 0.02 * np.sin(across * 9 + 40 * down + self.waver[0])
        moonlit = np.exp(-(((across - self.moon[0]) / 0.035) ** 2)) * (
            np.sin(down * 210 + 9 * np.sin(across * 30)) > 0.1
        )
        tone = np.clip(plain + 0.42 * swell + 0.35 * moonlit * (1 - near) ** 2, 0.0, 0.999)
        return _between(self.deep, self.pale, np.floor(tone * FINEST) / (FINEST - 1))

    def _rings(self, across: Field, down: Field) -> Field:
        swell = np.zeros_like(across)
        sizes = np.linspace(1.0, 0.4, len(self.way.shares)).tolist()
        for share, size in zip(self.way.shares, sizes, strict=True):
            x, y = 0.1 + 0.8 * share, 0.88 - 0.5 * share**0.8 + self.tilt * math.sin(9 * share)
            scale = (0.3 + 0.7 * (1 - share)) * size
            right, back = (across - x) * (1.38 / scale), (down - y) * (1 / FLATTENED / scale)
            away = np.sqrt(right * right + back * back) + 1e-4
            off = (right * right - back * back) * self.waver[1] + right * back * self.waver[2]
            out = away + (1 - self.evenness) * 0.12 * off / away  # an unsteady effort makes rings that are not round
            swell += size * self._effort(out) * np.cos(out * 46) * np.exp(out * -4.2)
            swell[out < 0.022] = 1.4
        return swell

    def _effort(self, out: Field) -> Field:
        """Height of a ring by how far out it is: the first effort lies outermost, the last within."""
        if self.profile.size < 4:
            return np.ones_like(out)
        highest = max(float(self.profile.max()), 1e-6)
        steps = np.append(self.profile[::-1] / highest, self.profile[:1] / highest) + 0.5
        return np.asarray(steps[np.minimum(out * (self.profile.size / 0.55), self.profile.size).astype(np.int32)])

    def _add_reeds(self, rgb: Field, across: Field, down: Field) -> None:
        """A few reeds before it all, on the side that the stone came from."""
        for place, tall, lean in self.reeds:
            up = np.clip((1.0 - down) / (0.3 + 0.45 * tall), 0, 1.2)
            middle = 0.02 + 0.16 * place + 0.07 * (lean - 0.5) * up**2
            stem = (np.abs(across - middle) < 0.0045 * (1.3 - up)) & (up < 1.0)
            head = (np.abs(across - middle) < 0.011) & (up > 0.72) & (up < 0.93)
            rgb[stem | head] = np.asarray(self.deep, dtype=np.float32) * np.float32(0.6)

    def _stamp(self, rgb: Field, x: Field, y: Field) -> None:
        """The village's mark in the margin's corner: one leaf of hornbeam."""
        side = 0.13 if self.leftward else SHAPE - 0.13
        along, off = (y - 0.87) / 0.055, (x - side) / 0.032
        leaf = np.abs(off) < np.clip(1 - along**2, 0, 1) * (0.9 + 0.1 * np.cos(along * 26))
        vein = (np.abs(off) < 0.07) | (np.abs(np.mod(along * 3.2 + np.abs(off), 1.0) - 0.5) < 0.07)
        rgb[leaf] = STAMP
        rgb[leaf & vein] = self.paper


def _between(first: Rgb, second: Rgb, share: Field) -> Field:
    """Colours (..., 3): `share` 0 is the first, 1 the second."""
    start, end = np.asarray(first, dtype=np.float32), np.asarray(second, dtype=np.float32)
    return np.asarray(start + (end - start) * np.asarray(share, dtype=np.float32)[..., None])


def _surface(rgb: Field) -> pygame.Surface:
    picture = pygame.Surface(rgb.shape[:2], pygame.SRCALPHA, 32)
    pygame.surfarray.pixels3d(picture)[:] = np.clip(rgb, 0, 255).astype(np.uint8)
    pygame.surfarray.pixels_alpha(picture)[:] = 255
    return picture
