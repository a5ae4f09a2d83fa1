"""Small signs of the desk. Each says with its shape what the words beside it say; colour only helps."""

import math

import pygame
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import Colour, palette
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.widgets import Drawing

RING = 3.0


def urgency(level: int | None) -> Drawing:
    """1: a full triangle, 2: a diamond, 3 and later: an open ring, None: a leaf, all is well."""
    if level is None:
        return leaf
    return {1: warning, 2: diamond}.get(level, ring)


def warning(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A triangle with a stroke in it."""
    x, y = box.centre
    r = min(box.width, box.height) / 2
    corners = [(x, y - r), (x + r, y + r * 0.8), (x - r, y + r * 0.8)]
    canvas.shape(theme.ink, corners)
    inner = [(x, y - r * 0.66), (x + r * 0.72, y + r * 0.63), (x - r * 0.72, y + r * 0.63)]
    canvas.shape(palette().accent["vermilion"], inner)
    canvas.line(theme.slip, [(x, y - r * 0.22), (x, y + r * 0.2)], r * 0.2)
    canvas.disc(theme.slip, (x, y + r * 0.43), r * 0.11)


def diamond(canvas: Canvas, theme: Theme, box: Box) -> None:
    x, y = box.centre
    r = min(box.width, box.height) / 2
    for size, colour in ((r, theme.ink), (r - RING, palette().accent["orange"])):
        canvas.shape(colour, [(x, y - size), (x + size, y), (x, y + size), (x - size, y)])


def ring(canvas: Canvas, theme: Theme, box: Box) -> None:
    r = min(box.width, box.height) / 2 - 2
    canvas.disc(theme.ink, box.centre, r)
    canvas.disc(palette().accent["sky"], box.centre, r - RING)
    canvas.disc(theme.slip, box.centre, r * 0.45)


def leaf(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A hornbeam leaf."""
    x, y = box.centre
    r = min(box.width, box.height) / 2
    arc = [math.pi * step / 12 for step in range(13)]
    upper = [(x - r * math.cos(a), y - 0.52 * r * math.sin(a)) for a in arc]
    lower = [(x + r * math.cos(a), y + 0.52 * r * math.sin(a)) for a in arc]
    turned = [_turned(point, (x, y), -35) for point in upper + lower]
    canvas.shape(palette().accent["green"], turned)
    ends = [_turned(point, (x, y), -35) for point in ((x - r * 1.25, y), (x + r * 0.8, y))]
    canvas.line(theme.ink, ends, 2)


def _turned(point: tuple[float, float], about: tuple[float, float], degrees: float) -> tuple[float, float]:
    turn = math.radians(degrees)
    dx, dy = point[0] - about[0], point[1] - about[1]
    return about[0] + dx * math.cos(turn) - dy * math.sin(turn), about[1] + dx * math.sin(turn) + dy * math.cos(turn)


def minus(canvas: Canvas, theme: Theme, box: Box) -> None:
    x, y = box.centre
    canvas.surface.fill(theme.ink, canvas.area(Box(x - 9, y - 2, 18, 4)))


def plus(canvas: Canvas, theme: Theme, box: Box) -> None:
    x, y = box.centre
    minus(canvas, theme, box)
    canvas.surface.fill(theme.ink, canvas.area(Box(x - 2, y - 9, 4, 18)))


def before(canvas: Canvas, theme: Theme, box: Box) -> None:
    x, y = box.centre
    canvas.shape(theme.ink, [(x + 6, y - 9), (x - 8, y), (x + 6, y + 9)])


def after(canvas: Canvas, theme: Theme, box: Box) -> None:
    x, y = box.centre
    canvas.shape(theme.ink, [(x - 6, y - 9), (x + 8, y), (x - 6, y + 9)])


def tick(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A tick, as a pen makes it."""
    x, y = box.centre
    canvas.line(theme.ink, [(x - 8, y), (x - 2, y + 7), (x + 9, y - 8)], 4)


def cross(canvas: Canvas, theme: Theme, box: Box) -> None:
    x, y = box.centre
    canvas.line(theme.ink, [(x - 8, y - 8), (x + 8, y + 8)], 4)
    canvas.line(theme.ink, [(x - 8, y + 8), (x + 8, y - 8)], 4)


def sheet_of_paper(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A written page: the report."""
    x, y = box.centre
    r = box.width * 0.3
    page = canvas.area(Box(x - r * 0.8, y - r, r * 1.6, r * 2))
    pygame.draw.rect(canvas.surface, theme.ink, page, canvas.length(3))
    for row, share in ((-0.45, 1.0), (0.0, 1.0), (0.45, 0.55)):
        left = x - r * 0.45
        canvas.line(theme.ink, [(left, y + row * r), (left + r * 0.9 * share, y + row * r)], 3)


def pen(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A pen on a slant: write an order."""
    x, y = box.centre
    r = box.width * 0.32
    canvas.line(theme.ink, [(x - r * 0.45, y + r * 0.45), (x + r * 0.75, y - r * 0.75)], r * 0.42)
    canvas.shape(theme.ink, [(x - r, y + r), (x - r * 0.72, y + r * 0.3), (x - r * 0.3, y + r * 0.72)])
    canvas.line(theme.ink, [(x - r * 0.2, y + r), (x + r, y + r)], 3)


def tray(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A tray with an arrow into it: collect what came in."""
    x, y = box.centre
    r = box.width * 0.32
    canvas.line(theme.ink, [(x - r, y), (x - r, y + r * 0.8), (x + r, y + r * 0.8), (x + r, y)], 4)
    canvas.line(theme.ink, [(x, y - r), (x, y - r * 0.1)], 4)
    canvas.shape(theme.ink, [(x - r * 0.5, y - r * 0.2), (x + r * 0.5, y - r * 0.2), (x, y + r * 0.4)])


def seal(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A drop of wax with two ribbons: sign."""
    x, y = box.centre
    r = box.width * 0.3
    ribbon = palette().paper["wood-dark"]
    canvas.shape(ribbon, [(x - r * 0.6, y), (x - r * 0.9, y + r * 1.3), (x - r * 0.05, y + r * 0.9)])
    canvas.shape(ribbon, [(x + r * 0.6, y), (x + r * 0.9, y + r * 1.3), (x + r * 0.05, y + r * 0.9)])
    for k in range(9):
        angle = k * 2 * math.pi / 9
        canvas.disc(
            palette().accent["vermilion"], (x + r * 0.62 * math.cos(angle), y + r * 0.62 * math.sin(angle)), r * 0.4
        )
    canvas.disc(palette().accent["vermilion"], (x, y), r * 0.8)
    _outline_leaf(canvas, theme.slip, (x, y), r * 0.5)


def _outline_leaf(canvas: Canvas, colour: Colour, at: tuple[float, float], r: float) -> None:
    canvas.shape(colour, [(at[0], at[1] - r), (at[0] + r * 0.55, at[1]), (at[0], at[1] + r), (at[0] - r * 0.55, at[1])])


def kiln_door(canvas: Canvas, theme: Theme, box: Box) -> None:
    """An arch with a glow in it: try a workshop."""
    x, y = box.centre
    r = box.width * 0.34
    canvas.disc(theme.ink, (x, y - r * 0.1), r)
    canvas.surface.fill(theme.ink, canvas.area(Box(x - r, y - r * 0.1, 2 * r, r)))
    glow = palette().accent["orange"]
    canvas.disc(glow, (x, y + r * 0.1), r * 0.55)
    canvas.surface.fill(glow, canvas.area(Box(x - r * 0.55, y + r * 0.1, r * 1.1, r * 0.8)))


def wedge(way: int) -> Drawing:
    """There is more below (1) or above (-1)."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        x, y = box.centre
        canvas.shape(theme.ink, [(x - 13, y - 6 * way), (x + 13, y - 6 * way), (x, y + 8 * way)])

    return draw


def wave(canvas: Canvas, theme: Theme, box: Box) -> None:
    """Efforts over time: three rises on a line."""
    low, high = box.bottom - box.height * 0.22, box.top + box.height * 0.22
    way = [(box.left, low)]
    for third in range(3):
        left = box.left + box.width * (0.06 + 0.31 * third)
        way += [
            (left, low),
            (left + box.width * 0.07, high),
            (left + box.width * 0.2, high),
            (left + box.width * 0.26, low),
        ]
    canvas.line(theme.ink, [*way, (box.right, low)], 4)
