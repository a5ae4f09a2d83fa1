"""The drop hammer between its posts, the bar on the block, the fire.

Read from afar: the hammer's brass band is the effort, the brass points on the posts are the band, and the hammer on the
block is a muscle that has let go.
"""

from __future__ import annotations

import math

import pygame
from musclewood.games.kit.canvas import Canvas, Point
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import Motes
from musclewood.games.kit.palette import Colour, mixed
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.poses import Poses
from musclewood.games.workshops.smithy.rules import SmithyRules

AXIS = 640.0
DOWN, UP = 508.0, 296.0  # stage heights of the brass band: on the block, and at the most that is shown
BLOCK = (640.0, 564.0)  # where the iron lies
PULLEYS = ((640.0, 212.0), (508.0, 222.0))
HEARTH = (872.0, 546.0)
LIT, FIRE = (255, 214, 130), (255, 140, 50)
COLD, HOT, WHITE = (92, 84, 110), (240, 110, 40), (255, 226, 150)
ROPE, ROPE_DARK = (214, 184, 134), (64, 48, 52)


def band_y(height: float) -> float:
    """Stage y of a height of the hammer."""
    return DOWN - height * (DOWN - UP)


class Hammer:
    """Draws everything in and on the frame."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = ("frame", "block", "hammer", "mark_low", "mark_high", "coals", "jackdaw", "jackdaw_up")
        self._sheet = {name: box.sheet(f"smithy/{name}.svg") for name in names}
        self._pulley = Poses(box.sheet("smithy/pulley.svg"), (0.0, 0.0), 6.0)
        self._sparks = Motes(8, 40)
        self._streak: dict[int, pygame.Surface] = {}

    def draw(self, canvas: Canvas, rules: SmithyRules, hand: Point, time_s: float, step_s: float) -> None:
        """Frame, hammer and bar; `hand` is where the smith holds the rope."""
        surface, y = canvas.surface, band_y(rules.lift)
        self._draw_fire(canvas, rules, time_s)
        self._sheet["block"].draw(surface)
        self._draw_bar(canvas, rules)
        for name, height in (("mark_high", rules.mark_high), ("mark_low", rules.mark_low)):
            self._sheet[name].draw(surface, AXIS, band_y(height))
            for x in (AXIS - 114, AXIS + 114):
                shine(surface, canvas.at((x, band_y(height))), (canvas.length(70),) * 2, LIT, 0.16 + 0.6 * rules.glow)
        self._draw_trail(canvas, rules, y)
        self._sheet["frame"].draw(surface)
        self._draw_rope(canvas, hand, y)
        self._sheet["hammer"].draw(surface, AXIS, y)
        ready = 1.0 if rules.let_go else 0.45 * rules.glow
        for x in (AXIS - 76, AXIS + 76):
            shine(surface, canvas.at((x, y)), (canvas.length(80),) * 2, LIT, ready)
        for n, at in enumerate(PULLEYS):
            self._pulley.at((-1) ** n * ((rules.lift * 240.0) % 60.0)).draw(surface, *at)
        self._draw_bird(canvas, rules)
        self._draw_sparks(canvas, rules, step_s)

    def _draw_fire(self, canvas: Canvas, rules: SmithyRules, time_s: float) -> None:
        self._sheet["coals"].draw(canvas.surface)
        breath = 0.0 if self._still else 0.05 * math.sin(2.1 * time_s) + 0.03 * math.sin(3.7 * time_s)
        warm = 0.34 + breath + 0.26 * rules.glow
        shine(canvas.surface, canvas.at(HEARTH), (canvas.length(230), canvas.length(120)), FIRE, warm)
        shine(canvas.surface, canvas.at((HEARTH[0], 500)), (canvas.length(150), canvas.length(130)), FIRE, 0.6 * warm)

    def _draw_bar(self, canvas: Canvas, rules: SmithyRules) -> None:
        """The iron that will be a key: cold it is dark, hot it shines."""
        if rules.finished and rules.heat < 0.05:
            return
        colour: Colour = mixed(COLD, HOT, min(1.0, 1.6 * rules.heat))
        canvas.shape(mixed(colour, (30, 24, 40), 0.4), _bar(BLOCK, 46, 7))
        canvas.shape(mixed(colour, WHITE, max(0.0, rules.heat - 0.4)), _bar((BLOCK[0], BLOCK[1] - 2), 42, 4))
        shine(canvas.surface, canvas.at(BLOCK), (canvas.length(190), canvas.length(70)), FIRE, 0.65 * rules.heat)

    def _draw_trail(self, canvas: Canvas, rules: SmithyRules, y: float) -> None:
        """Light follows a hammer that moves briskly."""
        behind = band_y(rules.trail)
        if abs(behind - y) < 9 or self._still:
            return
        middle, tall = (y + behind) / 2, abs(behind - y)
        size = (canvas.length(150), canvas.length(8 * math.ceil(1.5 * tall / 8)))
        shine(canvas.surface, canvas.at((AXIS, middle)), size, LIT, min(0.4, tall / 260))

    def _draw_rope(self, canvas: Canvas, hand: Point, y: float) -> None:
        (over, top), (left, above) = PULLEYS
        for colour, width in ((ROPE_DARK, 6.5), (ROPE, 4.0)):
            canvas.line(colour, [(over, y - 80), (over, top + 12)], width)
            canvas.line(colour, [(over - 4, top - 15), (left + 4, above - 15)], width)
            canvas.line(colour, [(left - 15, above), hand, (hand[0] - 4, 600)], width)

    def _draw_bird(self, canvas: Canvas, rules: SmithyRules) -> None:
        """The jackdaw on the beam lifts its wings when a key is struck."""
        hop = (
            0.0 if self._still else -10.0 * math.sin(math.pi * min(1.0, 2.2 * (1 - rules.cheer))) * (rules.cheer > 0.5)
        )
        self._sheet["jackdaw_up" if rules.cheer > 0.55 else "jackdaw"].draw(canvas.surface, dy=hop)

    def _draw_sparks(self, canvas: Canvas, rules: SmithyRules, step_s: float) -> None:
        if rules.strike > 0:
            brisk = round(rules.struck, 1)
            size = (canvas.length(180 + 220 * brisk), canvas.length(70 + 110 * brisk))
            shine(canvas.surface, canvas.at(BLOCK), size, LIT, (0.4 + 0.5 * brisk) * rules.strike)
        if self._still:
            return
        many = 16.0 + 100.0 * rules.struck  # the brisker the rep, the more sparks fly, and the higher
        self._sparks.step(step_s, many if rules.strike > 0.55 else 0.0, BLOCK, (0.0, -50.0 - 130.0 * rules.struck), 0.8)
        for number, spark in enumerate(self._sparks.all):
            side = (spark.spin - 180.0) * 0.75 * spark.age_s
            fall = 150.0 * spark.age_s**2
            at = canvas.at((spark.x + side, spark.y + fall - 20 * (number % 3) * spark.age_s))
            shine(canvas.surface, at, (canvas.length(13),) * 2, LIT, 1 - spark.share)


def _bar(at: Point, half: float, thick: float) -> list[Point]:
    return [
        (at[0] - half, at[1] - thick),
        (at[0] + half, at[1] - thick),
        (at[0] + half - 3, at[1] + thick),
        (at[0] - half + 3, at[1] + thick),
    ]
