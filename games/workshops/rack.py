"""Where a workshop keeps its things: earlier evenings above, today's below, and the way there. Draws, and reads the
rules."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pygame
from musclewood.games.kit.canvas import Canvas, Point
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import landing, smooth
from musclewood.games.workshops.craft import FEAST_S, Carried, Craft
from musclewood.games.workshops.painter import Paint, Painter

if TYPE_CHECKING:
    from musclewood.games.engine.shelf import Product

BEFORE = 6  # things of earlier evenings that are shown
LIGHT = (255, 205, 120)


@dataclass(frozen=True)
class Rack:
    """left, width: stage x of its places; rows: stage y on which things stand or from which they hang; side: how large.

    `hung` things hang with the middle of their upper edge on the row. `made_at` is the middle of a thing where it is
    made, `made_side` its size there.
    """

    left: float
    width: float
    rows: tuple[float, float, float]
    side: float
    made_at: Point
    made_side: float
    hung: bool = True
    lift: float = 110.0


class Keeping:
    """Draws what was made, on a rack and on its way to it."""

    def __init__(self, rack: Rack, paint: Paint, still: bool) -> None:
        self._rack, self._still = rack, still
        self.painter = Painter(paint)

    def place(self, asked: int, place: int) -> tuple[Point, float]:
        """The middle of today's thing number `place`, and its side."""
        rack = self._rack
        columns = max(4, math.ceil(asked / 2))
        row, column = divmod(place % (2 * columns), columns)
        pitch = rack.width / columns
        side = min(rack.side, max(1.25 * pitch, 30.0))
        return self._on_row((rack.left + pitch * (column + 0.5), rack.rows[1 + row]), side), side

    def _on_row(self, at: Point, side: float) -> Point:
        return at[0], at[1] + (side / 2 if self._rack.hung else -side / 2)

    def draw_kept(self, canvas: Canvas, rules: Craft) -> None:
        """Everything that is in its place."""
        rack = self._rack
        side = min(rack.side, 1.25 * rack.width / BEFORE)
        for number, product in enumerate(rules.before[-BEFORE:]):
            at = (rack.left + rack.width * (number + 0.5) / BEFORE, rack.rows[0])
            self._paste(canvas, product, self._on_row(at, side), side)
        for carried in rules.carried:
            if carried.share >= 1.0:
                at, side = self.place(rules.asked, carried.place)
                self._paste(canvas, carried.product, at, side)
                self._feast(canvas, rules, carried, at, side)

    def draw_carried(self, canvas: Canvas, rules: Craft) -> None:
        """Everything on its way; with reduced motion it fades from one place to the other."""
        for carried in rules.carried:
            if carried.share < 1.0:
                self._carry(canvas, rules, carried)

    def _carry(self, canvas: Canvas, rules: Craft, carried: Carried) -> None:
        rack, share = self._rack, carried.share
        goal, side = self.place(rules.asked, carried.place)
        large = self.painter.image(carried.product, canvas.length(rack.made_side))
        small = self.painter.image(carried.product, canvas.length(side))
        if large is None or small is None:
            return
        if self._still:
            small.set_alpha(round(255 * smooth(share)))
            canvas.paste(small, goal, "center")
            small.set_alpha(255)  # not None, which would drop the alpha of its pixels
            return
        away, size = smooth(share), 1 + (side / rack.made_side - 1) * landing(share)
        x = rack.made_at[0] + (goal[0] - rack.made_at[0]) * away
        y = rack.made_at[1] + (goal[1] - rack.made_at[1]) * away - rack.lift * math.sin(math.pi * away)
        glow = canvas.length(1.7 * rack.made_side)
        shine(canvas.surface, canvas.at((x, y)), (glow, glow), LIGHT, 0.45 * (1 - away))
        wide = max(2, round(large.get_width() * size))
        canvas.paste(pygame.transform.smoothscale(large, (wide, wide)), (x, y), "center")

    def _paste(self, canvas: Canvas, product: Product, at: Point, side: float) -> None:
        image = self.painter.image(product, canvas.length(side))
        if image is not None:
            canvas.paste(image, at, "center")

    def _feast(self, canvas: Canvas, rules: Craft, carried: Carried, at: Point, side: float) -> None:
        """When a set is finished, light runs along all that was made today."""
        if rules.feast_s <= 0:
            return
        wave = smooth(1 - abs((FEAST_S - rules.feast_s) * 1.2 - carried.place * 2.4 / rules.asked - 0.9) / 0.9)
        shine(canvas.surface, canvas.at(at), (canvas.length(1.9 * side),) * 2, LIGHT, 0.5 * wave)
