"""How a closed door is drawn, by its way: leaves that meet, a sheet that falls, a mist that drifts in."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import pygame
from musclewood.games.kit.motion import smooth
from musclewood.games.workshops.doors import Door

if TYPE_CHECKING:
    from musclewood.games.kit.canvas import Canvas
    from musclewood.games.kit.palette import Colour

PUFFS = 16  # of a mist


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
    """Banks of mist that come in from both sides and thicken."""
    left, top, width, height = door.box
    for number in range(PUFFS):
        row, side = number / PUFFS, -1 if number % 2 else 1
        bank = _bank(canvas.length(width * 0.8), canvas.length(height * 0.42), door.colour)
        bank.set_alpha(round(225 * share))
        x = left + width / 2 + side * (width * 0.9 * (1 - share) + 0.16 * width * math.sin(2.2 * number))
        canvas.paste(bank, (x, top + height * (0.08 + 0.84 * row)), "center")


@lru_cache(maxsize=12)
def _bank(width: int, height: int, colour: Colour) -> pygame.Surface:
    image = pygame.Surface((width, height), pygame.SRCALPHA)
    for step in range(8):
        inset = step / 18
        box = pygame.Rect(round(width * inset), round(height * inset), 0, 0)
        box.size = (max(1, width - 2 * box.left), max(1, height - 2 * box.top))
        pygame.draw.ellipse(image, (*colour, 26 + 28 * step), box)
    return image


@lru_cache(maxsize=24)
def _panel(door: Door, size: tuple[int, int], unit: int) -> pygame.Surface:
    """One leaf or sheet, painted once for its size in pixels."""
    width, height = size
    image = pygame.Surface(size)
    image.fill(door.colour)
    pale: Colour = tuple(min(255, one + 18) for one in door.colour)  # type: ignore[assignment]
    every = {"iron": 5, "planks": 6, "reeds": 26, "folds": 9, "sheets": 3}[door.stuff]
    for number in range(1, every):
        x = round(width * (number + 0.18 * math.sin(2.6 * number)) / every)
        pygame.draw.line(image, pale if number % 2 else door.line, (x, 0), (x, height), (1 + number % 2) * unit)
    if door.stuff == "iron":
        for row in (0.18, 0.5, 0.82):
            band = pygame.Rect(0, round(height * row), width, 14 * unit)
            pygame.draw.rect(image, door.line, band)
            for number in range(4):
                rivet = (round(width * (0.12 + 0.25 * number)), band.centery)
                pygame.draw.circle(image, pale, rivet, 4 * unit)
    elif door.stuff in ("planks", "reeds"):
        for row in (0.2, 0.78):
            pygame.draw.rect(image, door.line, (0, round(height * row), width, 9 * unit))
    else:
        pygame.draw.rect(image, pale, (0, height - 26 * unit, width, 6 * unit))
        pygame.draw.rect(image, door.line, (0, height - 14 * unit, width, 4 * unit))
    pygame.draw.rect(image, door.line, image.get_rect(), 3 * unit)
    return image
