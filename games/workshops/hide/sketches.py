"""Draws a page of the field book: the visitor in ink, line by line, with a wash of colour.

The lines tremble as the muscle did while each was drawn, and the ground that the animal stands on is the muscle's own
trace: level where it was quiet. The same product gives the same page at any size.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence
from functools import cache
from xml.etree import ElementTree

import numpy as np
import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.kept import kept
from musclewood.games.kit.paper import SVG, Cut, art_text, rasterise
from musclewood.games.workshops.cut_out import MARGIN, laid, standing
from musclewood.games.workshops.hide.visitors import Visitor, visitor_of
from numpy.typing import NDArray

INK, PAPER = (36, 31, 64), (250, 242, 224)
WASHES = ((150, 178, 190), (176, 186, 140), (206, 172, 178), (190, 176, 214))  # sky and grass behind the animal
WASH_FROM, MOON_FROM, BORDER_FROM = 12, 30, 64  # sketches on the shelf before the pages carry these
PAGE = (0.1, 0.03, 0.8, 0.92)  # of the side: left, top, width, height
TREMBLE = 0.02  # of the side, for a muscle at its limit
Line = NDArray[np.float64]


def page_image(product: Product, side_px: int) -> pygame.Surface:
    """A square picture with MARGIN around the page."""
    limit = product.figures.get("target_pct_mvc", 0.0)
    place = int(product.figures["place"])
    return _page_image(product.seed, place, limit, product.profile, side_px)


draw_product = standing(page_image)


@kept(10)
def _page_image(seed: int, place: int, limit: float, profile: tuple[float, ...], side_px: int) -> pygame.Surface:
    fine = 3 if side_px < 90 else 2
    side = side_px * fine
    flat = pygame.Surface((side, side), pygame.SRCALPHA, 32)
    page = blank_page(side, seed)
    paint_wash(page, visitor_of(place), place, seed)
    effort = np.asarray(profile or (0.0, 0.0)) / max(limit, 1e-6)
    draw_lines(
        page, visitor_of(place), 1.0, lambda share: float(np.interp(share, np.linspace(0, 1, effort.size), effort))
    )
    draw_ground(page, effort)
    flat.blit(page, (0, 0))
    tilt = random.Random(seed).uniform(-2.5, 2.5)
    turned = pygame.transform.rotozoom(flat, tilt, 1 / fine)
    frame = round(side_px * (1 + 2 * MARGIN))
    small = pygame.Surface((frame, frame), pygame.SRCALPHA, 32)
    small.blit(turned, turned.get_rect(center=(frame // 2, frame // 2)))
    return laid(small, side_px, Cut(lift=2.5, shadow=0.4, grain=5.0, rim=20.0))


@cache
def strokes_of(name: str) -> tuple[Line, ...]:
    """The lines of an animal's sketch in the order in which they are drawn, each (n, 2); its feet stand at y = 0."""
    root = ElementTree.fromstring(art_text(f"hide/{name}_lines.svg"))
    return tuple(_sampled(path.get("d", "")) for path in root.iter(f"{{{SVG}}}path"))


@cache
def neck_of(name: str) -> tuple[float, float]:
    """The point that an animal's head turns about."""
    group = ElementTree.fromstring(art_text(f"hide/{name}_lines.svg")).find(f"{{{SVG}}}g")
    assert group is not None
    x, y = (float(part) for part in group.get("data-neck", "0 0").split())
    return x, y


def _sampled(way: str) -> Line:
    """Points along a path of M and C commands with absolute coordinates, as all sketches are written."""
    numbers = [float(number) for number in re.findall(r"-?\d+\.?\d*", way)]
    corners = np.asarray(numbers).reshape(-1, 2)
    points = [corners[0]]
    for start in range(0, len(corners) - 1, 3):
        a, b, c, d = corners[start : start + 4]
        for t in np.linspace(0, 1, 9)[1:]:
            points.append((1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d)
    return np.asarray(points)


@cache
def _framed(name: str) -> tuple[tuple[Line, ...], float, tuple[float, float, float]]:
    """The lines moved and scaled into the unit square of a page, their whole length, and that scale and movement."""
    strokes = strokes_of(name)
    every = np.concatenate(strokes)
    low, high = every.min(axis=0), every.max(axis=0)
    size = min(0.66 / (high[0] - low[0]), 0.6 / (high[1] - low[1]))
    move = np.asarray((0.5 - size * (low[0] + high[0]) / 2, 0.8))
    framed = tuple(stroke * size + move for stroke in strokes)
    length = float(sum(np.hypot(*np.diff(line, axis=0).T).sum() for line in framed))
    return framed, length, (float(size), float(move[0]), float(move[1]))


def blank_page(side: int, seed: int) -> pygame.Surface:
    """Torn from the book: uneven on the left, with the holes of its binding."""
    page = pygame.Surface((side, side), pygame.SRCALPHA, 32)
    chance = random.Random(seed)
    left, top, width, height = (part * side for part in PAGE)
    torn = [(left + chance.uniform(0, 0.018) * side, top + height * n / 14) for n in range(15)]
    pygame.draw.polygon(page, PAPER, [(left + width, top), (left + width, top + height), *reversed(torn)])
    for n in range(7):
        spot = (round(left + 0.04 * side), round(top + height * (n + 0.5) / 7))
        pygame.draw.circle(page, (0, 0, 0, 0), spot, max(1, round(0.011 * side)))
    return page


def paint_wash(page: pygame.Surface, visitor: Visitor, place: int, seed: int) -> None:
    """Thin colour: behind the animal from WASH_FROM on, and on the animal itself."""
    chance, side = random.Random(seed + 3), page.get_width()
    wash = pygame.Surface(page.get_size(), pygame.SRCALPHA, 32)
    if place >= WASH_FROM:
        _blot(wash, (0.5, 0.45), (0.32, 0.27), (*chance.choice(WASHES), 110), chance)
        _blot(wash, (0.5, 0.82), (0.33, 0.05), (*WASHES[1], 150), chance)
    if place >= MOON_FROM and chance.random() < 0.7:
        spot = (round(chance.choice((0.25, 0.75)) * side), round(0.22 * side))
        pygame.draw.circle(wash, (*PAPER, 255), spot, round(0.07 * side))
        pygame.draw.circle(wash, (238, 206, 130, 190), spot, round(0.06 * side))
    wash.blit(_coloured(visitor.name, side), (round(chance.uniform(-0.02, 0.02) * side), round(0.012 * side)))
    if place >= BORDER_FROM:
        left, top, width, height = (part * side for part in PAGE)
        frame = pygame.Rect(left + 0.075 * side, top + 0.04 * side, width - 0.115 * side, height - 0.08 * side)
        pygame.draw.rect(wash, (*visitor.colour, 220), frame, max(1, round(0.008 * side)))
    page.blit(wash, (0, 0))


def _coloured(name: str, side: int) -> pygame.Surface:
    """The animal in thin flat colour, where its lines will be; like a print, it never quite meets them."""
    _, _, (size, x, y) = _framed(name)
    part = (-x / size, -y / size, 1 / size, 1 / size)
    both = pygame.Surface((side, side), pygame.SRCALPHA, 32)
    for file in (f"hide/{name}.svg", f"hide/{name}_head.svg"):
        both.blit(rasterise(art_text(file), part, (side, side)), (0, 0))
    alpha = pygame.surfarray.pixels_alpha(both)
    alpha[:] = (alpha * 0.8).astype(np.uint8)
    del alpha
    return both


def _blot(
    wash: pygame.Surface,
    middle: tuple[float, float],
    reach: tuple[float, float],
    colour: tuple[int, int, int, int],
    chance: random.Random,
) -> None:
    """A wet patch with a wandering edge, a little darker where it dried."""
    side = wash.get_width()
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    waves = sum(chance.uniform(0.02, 0.1) * np.sin(n * turn + chance.uniform(0, 6)) for n in (2, 3, 5))
    x = (middle[0] + reach[0] * (1 + waves) * np.cos(turn)) * side
    y = (middle[1] + reach[1] * (1 + waves) * np.sin(turn)) * side
    patch = pygame.Surface(wash.get_size(), pygame.SRCALPHA, 32)
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    pygame.draw.polygon(patch, colour, points)
    darker = (*(round(part * 0.86) for part in colour[:3]), min(255, colour[3] + 30))
    pygame.draw.lines(patch, darker, True, points, max(1, round(0.006 * side)))
    wash.blit(patch, (0, 0))


def draw_lines(
    page: pygame.Surface, visitor: Visitor, share: float, effort_at: Callable[[float], float], since: float = 0.0
) -> tuple[float, float]:
    """Draw the share of the sketch from `since` on, and return the place of the pencil (0..1 of the page).

    effort_at: effort as a multiple of its limit when a share of the sketch was drawn.
    """
    framed, whole, _ = _framed(visitor.name)
    side, done, tip = page.get_width(), 0.0, (0.5, 0.8)
    broad = max(2, round(0.009 * side))
    for number, line in enumerate(framed):
        steps = np.hypot(*np.diff(line, axis=0).T)
        ends = (done + np.cumsum(steps)) / whole
        shaken = _shaken(line, np.concatenate([[done / whole], ends]), effort_at, number)
        drawn = [n for n, end in enumerate(ends) if since < end <= share]
        for n in drawn:
            a, b = shaken[n] * side, shaken[n + 1] * side
            pygame.draw.line(page, INK, a.tolist(), b.tolist(), broad)
            if broad > 2:
                pygame.draw.circle(page, INK, b.tolist(), broad // 2)
            tip = (float(shaken[n + 1][0]), float(shaken[n + 1][1]))
        done += float(steps.sum())
        if done / whole > share:
            if not drawn:
                tip = (float(line[0][0]), float(line[0][1]))
            break
    return tip


def _shaken(line: Line, shares: Line, effort_at: Callable[[float], float], number: int) -> Line:
    """The line as a hand drew it whose muscle did so much: the unsteadier, the higher the effort."""
    chance = np.random.default_rng(number)
    shake = chance.standard_normal(line.shape)
    shake[1:-1] = (shake[:-2] + 2 * shake[1:-1] + shake[2:]) / 4
    amount = np.asarray([min(effort_at(float(share)), 2.5) for share in shares])
    return np.asarray(line + shake * (0.0015 + TREMBLE * amount**1.5 * 0.6)[:, None])


def draw_ground(page: pygame.Surface, effort: Sequence[float] | NDArray[np.float64]) -> None:
    """The trace of the muscle as the ground: level where it was quiet."""
    side = page.get_width()
    heights = np.minimum(np.asarray(effort, dtype=np.float64), 2.5)
    x = np.linspace(0.2, 0.86, heights.size) * side
    y = (0.845 - 0.03 * heights) * side
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    if len(points) > 1:
        pygame.draw.lines(page, INK, False, points, max(1, round(0.008 * side)))
