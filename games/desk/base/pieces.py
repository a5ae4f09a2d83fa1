"""What desk pages are made of: sheets, lines of text, rings. Denser than at home, never below 20 units."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import pygame
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.palette import Colour, hexadecimal, mixed, palette
from musclewood.games.kit.paper import SVG, Sheet, bake
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import LARGEST_ICON, Drawing, Look, Widget, button

FINE, DENSE = 20.0, 22.0
TARGET = 48.0  # height of anything to choose
RING = 4.0
Picture = Callable[[Canvas, Theme, Box], None]


def words_at(
    canvas: Canvas, theme: Theme, text: str, at: Point, width: float, *, size: float = DENSE, bold: bool = False
) -> Widget:
    """Lines of text straight on whatever lies below; the box is as wide as allowed and as high as needed."""
    lines = theme.letters.wrap(canvas, text, size, width - 2, bold=bold)
    height = len(lines) * theme.letters.line_height(size)
    return Widget(Box(at[0], at[1], width, height), tuple(lines), look=Look(size=size, bold=bold, margin=0), bare=True)


def one_line(canvas: Canvas, theme: Theme, text: str, width: float, size: float, *, bold: bool = False) -> str:
    """The text if it fits, else as many of its words as fit, with three dots."""
    if theme.letters.measure(canvas, [text], size, bold=bold)[0] <= width:
        return text
    kept = text.split()
    while kept and theme.letters.measure(canvas, [" ".join(kept) + " …"], size, bold=bold)[0] > width:
        kept.pop()
    return " ".join(kept) + " …"


def short(canvas: Canvas, theme: Theme, text: str, width: float, *, bold: bool = False) -> list[str]:
    """The text in at most two lines."""
    lines = theme.letters.wrap(canvas, text, DENSE, width, bold=bold)
    if len(lines) <= 2:
        return lines
    return [lines[0], one_line(canvas, theme, " ".join(lines[1:]), width, DENSE, bold=bold)]


def sheet(box: Box) -> Widget:
    """A sheet of paper that other things lie on."""
    return Widget(box, look=Look(shape="panel"))


def picture(box: Box, draw: Picture, key: str = "") -> Widget:
    """Something drawn; with a key it can be chosen."""
    return Widget(box, key=key, picture=draw, bare=True)


def tag(
    canvas: Canvas,
    theme: Theme,
    key: str,
    text: str,
    icon: Drawing | None = None,
    *,
    first: bool = False,
    width: float = 520,
    size: float = SMALL,
) -> Widget:
    """A button of the desk: the same paper tag as at home, in smaller letters."""
    made = button(canvas, theme, key, text, width=width, first=first, icon=_smaller(icon) if icon else None, size=size)
    # The kit leaves room for an icon of the largest size.
    spare = LARGEST_ICON - min(LARGEST_ICON, made.box.height - 16) if icon else 0.0
    return replace(made, box=made.box._replace(width=made.box.width - spare))


def _smaller(icon: Drawing) -> Drawing:
    """Icons in a row of work tools stay quieter than the words."""
    return lambda canvas, theme, box: icon(canvas, theme, box.grown(-2))


@dataclass(frozen=True)
class Tool:
    """What a tag at the foot of a page is to be."""

    key: str
    text: str
    icon: Drawing | None = None
    first: bool = False


def foot(canvas: Canvas, theme: Theme, tools: list[Tool], apart: list[Tool] | None = None) -> list[Widget]:
    """Tags along the lower edge, those `apart` at the right end. Where the words are long, signs go, then size."""
    apart = apart or []
    for size, signs, gap in ((SMALL, True, 16.0), (SMALL, False, 14.0), (DENSE, False, 12.0), (FINE, False, 10.0)):
        made = [
            tag(canvas, theme, one.key, one.text, one.icon if signs else None, first=one.first, size=size)
            for one in [*tools, *apart]
        ]
        alone = all(len(one.lines) < 2 for one in made)  # a second line would lie over the paper above
        if alone and sum(one.box.width + gap for one in made) - gap <= 1232:
            break
    return [*from_left(made[: len(tools)], 24, 702, gap), *from_right(made[len(tools) :], 1256, 702, gap)]


def from_left(tags: list[Widget], left: float, bottom: float, gap: float = 18.0) -> list[Widget]:
    placed = []
    for one in tags:
        placed.append(one.moved(left, bottom - one.box.height))
        left = placed[-1].box.right + gap
    return placed


def from_right(tags: list[Widget], right: float, bottom: float, gap: float = 18.0) -> list[Widget]:
    """Side by side, the last of them ending at `right`."""
    used = sum(one.box.width for one in tags) + gap * (len(tags) - 1)
    return from_left(tags, right - used, bottom, gap)


def desk_ring(canvas: Canvas, theme: Theme, box: Box, room: float = 0.0) -> None:
    """Two thin outlines, dark and light, round what is about to be chosen, `room` further out than usual."""
    box = box.grown(room)
    paper = palette().paper
    light = paper["plain-slip"] if theme.settings.high_contrast else paper["lamp"]
    for grow, width, colour in ((7.0, 7.0, theme.ink), (5.0, RING, light)):
        pygame.draw.rect(canvas.surface, colour, canvas.area(box.grown(grow)), canvas.length(width), canvas.length(10))


def quiet_ink(theme: Theme) -> Colour:
    """For lines and grids, never for letters."""
    return mixed(theme.slip, theme.ink, 0.28)


def inset(canvas: Canvas, theme: Theme, box: Box, *, active: bool = False) -> None:
    """A place to write in: slightly darker paper with a fine edge; bright while something is typed."""
    ground = theme.slip if active else mixed(theme.slip, palette().paper["slip-shade"], 0.8)
    edge = theme.ink if active or theme.settings.high_contrast else mixed(theme.slip, theme.ink, 0.55)
    area = canvas.area(box)
    pygame.draw.rect(canvas.surface, ground, area, border_radius=canvas.length(6))
    pygame.draw.rect(canvas.surface, edge, area, canvas.length(3 if active else 2), canvas.length(6))


def knob(canvas: Canvas, theme: Theme, box: Box, sign: Drawing) -> None:
    """A small wooden disc to press, with a sign on it."""
    colour = theme.slip if theme.settings.high_contrast else palette().paper["lamp"]
    _knob(round(box.width), colour, canvas.scale, theme.settings.high_contrast).draw(canvas.surface, box.left, box.top)
    sign(canvas, theme, box)


@lru_cache(maxsize=8)
def _knob(side: int, colour: Colour, scale: float, outlined: bool) -> Sheet:
    middle = side / 2
    border = f' stroke="{hexadecimal(palette().paper["ink"])}" stroke-width="3"' if outlined else ""
    disc = f'<circle cx="{middle}" cy="{middle}" r="{middle - 3}" fill="{hexadecimal(colour)}"{border}/>'
    return bake(
        f'<svg xmlns="{SVG}" viewBox="0 0 {side} {side}"><g data-lift="3" data-rim="40">{disc}</g></svg>', scale
    )
