"""How a closed door is drawn, by its way: leaves that meet, a sheet that falls, a mist that drifts in."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import pygame
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.palette import mixed
from musclewood.games.kit.paper import Cut, lay
from musclewood.games.workshops.doors import Door

if TYPE_CHECKING:
    from musclewood.games.kit.canvas import Canvas
    from musclewood.games.kit.palette import Colour

BANKS = 16  # of a mist
INK, PALE, BRASS = (30, 29, 56), (251, 243, 224), (216, 168, 84)


def draw_door(canvas: Canvas, door: Door, share: float) -> None:
    """The door, closed as far as `share` (0 open, 1 closed) says."""
    if share < 0.01:
        return
    match door.way:
        case "leaves":
            _leaves(canvas, door, smooth(share))
        case "falls":
            _falls(canvas, door, smooth(share))
        case "drifts":
            _drifts(canvas, door, smooth(share))


def _leaves(canvas: Canvas, door: Door, share: float) -> None:
    """Two leaves that come from both sides and meet in the middle."""
    left, top, width, height = door.box
    half = canvas.area((left, top, width / 2, height))
    if half.width < 2 or half.height < 2:
        return
    image = _panel(door, half.size, canvas.length(1))
    wide = max(1, round(half.width * share))
    near = image.subsurface((half.width - wide, 0, wide, half.height))
    canvas.surface.blit(near, half.topleft)
    far = pygame.transform.flip(image, True, False)
    right = canvas.at((left + width, top))[0]
    canvas.surface.blit(far.subsurface((0, 0, wide, half.height)), (right - wide, half.top))


def _falls(canvas: Canvas, door: Door, share: float) -> None:
    """A sheet that is let down from above."""
    area = canvas.area(door.box)
    if area.width < 2 or area.height < 2:
        return
    image, deep = _panel(door, area.size, canvas.length(1)), max(1, round(area.height * share))
    canvas.surface.blit(image.subsurface((0, area.height - deep, area.width, deep)), area.topleft)
    pole = canvas.area((door.box[0] - 12, door.box[1] - 8, door.box[2] + 24, 12))
    pygame.draw.rect(canvas.surface, door.line, pole, border_radius=pole.height // 2)


def _drifts(canvas: Canvas, door: Door, share: float) -> None:
    """Mist that comes in from both sides and thickens."""
    left, top, width, height = door.box
    size = canvas.length(width), canvas.length(height)
    for side in (-1, 1):
        mist = _mist(*size, door.colour, side)
        mist.set_alpha(round(255 * share))
        canvas.paste(mist, (left + width / 2 + side * 0.7 * width * (1 - share), top + height / 2), "center")


@lru_cache(maxsize=2)  # both sides of one door
def _mist(width: int, height: int, colour: Colour, side: int) -> pygame.Surface:
    """All banks that come from one side (-1 left, 1 right), laid together; a little wider and higher than the box."""
    image = pygame.Surface((round(1.1 * width), round(1.2 * height)), pygame.SRCALPHA, 32)
    image.fill((*colour, 0))
    for number in range(side > 0, BANKS, 2):
        bank = _bank(round(width * (0.62 + 0.2 * math.sin(1.7 * number))), round(height * 0.5), colour)
        bank.set_alpha(200)
        x = image.get_width() / 2 + side * 0.16 * width * math.sin(2.2 * number)
        y = image.get_height() / 2 + height * (0.84 * (number + 0.5) / BANKS - 0.42)
        image.blit(bank, bank.get_rect(center=(round(x), round(y))))
    return image.convert_alpha() if pygame.display.get_surface() else image


def _bank(width: int, height: int, colour: Colour) -> pygame.Surface:
    """One bank of mist, thickest in its middle and without an edge."""
    image = pygame.Surface((width, height), pygame.SRCALPHA, 32)
    image.fill((*colour, 0))
    across, down = np.linspace(-1, 1, width)[:, None], np.linspace(-1, 1, height)[None, :]
    thick = np.clip(1.0 - across**2 - down**2, 0.0, 1.0) ** 1.5
    pygame.surfarray.pixels_alpha(image)[:] = (255 * thick).astype(np.uint8)
    return image


def prepare_door(door: Door, scale: float) -> None:
    """Paint its panel now, in whatever thread, so that no frame waits for it."""
    left, top, width, height = door.box
    if door.way == "drifts":
        for side in (-1, 1):
            _mist(round(width * scale), round(height * scale), door.colour, side)
        return
    right, bottom = left + (width / 2 if door.way == "leaves" else width), top + height
    size = round(right * scale) - round(left * scale), round(bottom * scale) - round(top * scale)  # as a canvas rounds
    _panel(door, size, max(1, round(scale)))


@lru_cache(maxsize=6)
def _panel(door: Door, size: tuple[int, int], unit: int) -> pygame.Surface:
    """One leaf or sheet, cut of paper once for its size in pixels."""
    flat = pygame.Surface(size, pygame.SRCALPHA, 32)
    if door.stuff in ("iron", "planks", "reeds"):
        _boards(flat, door, unit)
    else:
        _cloth(flat, door, unit)
    image = pygame.Surface(size, pygame.SRCALPHA, 32)
    lay(image, flat, Cut(lift=3.0, shadow=0.0, grain=9.0, rim=34.0), unit)
    return image


def _boards(flat: pygame.Surface, door: Door, unit: int) -> None:
    """Boards, reeds or iron plates, held by bands; leaves have hinges and a ring to pull them by."""
    width, height = flat.get_size()
    flat.fill(door.colour)
    every = {"iron": 3, "planks": 5, "reeds": 40}[door.stuff]
    for number in range(every):
        left = round(width * number / every)
        tone = mixed(door.colour, PALE, 0.05 + 0.09 * abs(math.sin(2.6 * number)))
        pygame.draw.rect(flat, tone, (left, 0, round(width / every) + 1, height))
        pygame.draw.line(flat, door.line, (left, 0), (left, height), 2 * unit if door.stuff != "reeds" else unit)
    bands, deep = ((0.18, 0.5, 0.82), 16) if door.stuff == "iron" else ((0.2, 0.78), 13)
    iron = mixed(door.line, INK, 0.25)
    for row in bands:
        band = pygame.Rect(
            0, round(height * row), round(width * (1.0 if door.stuff != "planks" else 0.74)), deep * unit
        )
        pygame.draw.rect(flat, iron, band, border_top_right_radius=band.height, border_bottom_right_radius=band.height)
        for number in range(4) if door.stuff != "reeds" else ():
            rivet = (round(band.width * (0.12 + 0.24 * number)), band.centery)
            pygame.draw.circle(flat, mixed(iron, PALE, 0.45), rivet, 3 * unit)
    if door.stuff == "reeds":
        return
    ring = (width - 26 * unit, round(0.5 * height) + 34 * unit)
    pygame.draw.circle(flat, mixed(BRASS, INK, 0.55), ring, 14 * unit, 6 * unit)
    pygame.draw.circle(flat, BRASS, ring, 13 * unit, 4 * unit)
    pygame.draw.rect(flat, iron, (0, 0, width, height), 4 * unit)


def _cloth(flat: pygame.Surface, door: Door, unit: int) -> None:
    """Cloth in folds with a border that somebody wove, its lower edge in points; bed sheets hang in three, straight."""
    width, height = flat.get_size()
    sheets, count = door.stuff == "sheets", 3 if door.stuff == "sheets" else 7
    point = round(0 if sheets else 16 * unit)
    pygame.draw.rect(flat, door.colour, (0, 0, width, height - point))
    for number in range(count):
        left, right = round(width * number / count), round(width * (number + 1) / count)
        shade = mixed(door.colour, door.line, 0.24)
        if sheets:
            pygame.draw.rect(flat, shade, (right - 5 * unit, 0, 5 * unit, height))
            for peg in (0.22, 0.78):
                pygame.draw.rect(flat, BRASS, (round(left + peg * (right - left)), 0, 7 * unit, 22 * unit))
        else:
            middle = (left + right) // 2
            pygame.draw.rect(flat, shade, (left, 0, round(0.34 * (right - left)), height - point))
            pygame.draw.polygon(
                flat, door.colour, [(left, height - point - 1), (right, height - point - 1), (middle, height - 1)]
            )
    _border(flat, door, unit, height - point - 52 * unit)


def _border(flat: pygame.Surface, door: Door, unit: int, top: int) -> None:
    """Lozenges between two stripes."""
    width, step = flat.get_width(), 30 * unit
    stripe, bright = mixed(door.line, INK, 0.15), mixed(door.colour, BRASS, 0.75)
    for down in (0, 32):
        pygame.draw.rect(flat, stripe, (0, top + down * unit, width, 5 * unit))
    for number in range(width // step + 1):
        x, y, reach = round((number + 0.5) * step), top + 18 * unit, 9 * unit
        pygame.draw.polygon(flat, bright, [(x - reach, y), (x, y - reach), (x + reach, y), (x, y + reach)])
        pygame.draw.polygon(flat, stripe, [(x - reach, y), (x, y - reach), (x + reach, y), (x, y + reach)], 2 * unit)
