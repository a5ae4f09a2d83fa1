"""The hide's picture: the wood in the evening, the way of the animals, the harebell, the watcher, the line of pages."""

from __future__ import annotations

import math
import random
from functools import partial

import pygame
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.evening import Land
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import landing, smooth
from musclewood.games.kit.palette import HOURS
from musclewood.games.kit.paper import Sheet
from musclewood.games.workshops import PictureSetup
from musclewood.games.workshops.backdrop import LAMP, Backdrop, FallingLeaves, dim, night_of
from musclewood.games.workshops.craft import FEAST_S, Carried
from musclewood.games.workshops.cut_out import MARGIN
from musclewood.games.workshops.hide.animals import FAR, MOONLIGHT, Animals, way
from musclewood.games.workshops.hide.rules import HideRules
from musclewood.games.workshops.hide.sketches import page_image
from musclewood.games.workshops.hide.stalk import Stalk
from musclewood.games.workshops.hide.visitors import visitor_of
from musclewood.games.workshops.hide.watcher import LEAF, Watcher
from musclewood.games.workshops.painter import Painter

LAND = Land(
    layers=(
        ("hide/far.svg", 14.0),
        ("hide/wood.svg", 7.0),
        *((f"hide/{name}.svg", 0.0) for name in ("clearing", "stones", "birches", "screen", "front")),
    ),
    lit=("hide/far.svg",),
    horizon=380.0,
    sun=(640.0, 300.0),
)
LINES = (258.0, 354.0, 450.0)  # stage heights of the three lines at their middle
LINE_LEFT, LINE_WIDTH = 1018.0, 240.0
PEGGED = 78.0
FIREFLY = (226, 240, 130)
STONES = (700.0, 390.0, 330.0, 260.0)


class HidePicture:
    """Reads `HideRules`; holds nothing but pictures and the drift of fireflies and leaves."""

    def __init__(self, stage: PictureSetup) -> None:
        self._box, self._still = stage.box, stage.reduced_motion
        names = ("stones_lit", "lantern", "peg")
        self._sheet = {name: stage.box.sheet(f"hide/{name}.svg") for name in names}
        stage.box.bake_behind([f"hide/{name}.svg" for name in ("thicket", "tuft")], ("night", "dawn"))
        self._animals = Animals(stage.box, stage.reduced_motion)
        self._stalk = Stalk(stage.box, stage.reduced_motion)
        self._watcher = Watcher(stage.box, stage.reduced_motion)
        self._leaves = FallingLeaves(stage.box.sheet("hide/leaf.svg"), stage.reduced_motion)
        self._flies = _fireflies()
        self._pages = Painter(page_image)
        self._backdrop = Backdrop(partial(LAND.evening, stage.box))

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._animals.settle()
        self._pages.settle()
        self._backdrop.settle()

    def draw(self, canvas: Canvas, rules: HideRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = self._backdrop.draw(canvas, rules.windows_lit, time_s)
        self._draw_way(canvas, rules, view)
        self._draw_line(canvas, rules)
        self._draw_visitor(canvas, rules, time_s)
        self._sheet["lantern"].draw(canvas.surface)
        self._watcher.draw(canvas, rules, time_s)
        self._draw_lamplight(canvas, rules)
        self._stalk.draw(canvas, rules, step_s)
        self._of_the_hour("tuft", rules).draw(canvas.surface)
        self._draw_fireflies(canvas, rules, time_s)
        self._leaves.draw(canvas, step_s)
        dim(canvas, rules, 0.3, 0.6)
        self._draw_moonlight(canvas, rules)
        for carried in rules.carried:
            self._draw_carried(canvas, rules, carried)

    def _of_the_hour(self, name: str, rules: HideRules) -> Sheet:
        """What stands before the animals is cut for the hour that is nearest."""
        return self._box.sheet(f"hide/{name}.svg", HOURS[round(rules.evening * (len(HOURS) - 1))])

    # --- the clearing -------------------------------------------------------------------------------------------------
    def _draw_way(self, canvas: Canvas, rules: HideRules, view: RepView) -> None:
        """The stones that the animal has passed lie in the light: what is left is the time still to be quiet."""
        if (view.phase == "effort" and rules.sketched > 0) or rules.stay_s > 0:
            reach = way(rules.sketched)[1] + 22 * (FAR + (1 - FAR) * rules.sketched)
            canvas.surface.set_clip(canvas.area((STONES[0], STONES[1], STONES[2], reach - STONES[1])))
            self._sheet["stones_lit"].draw(canvas.surface)
            canvas.surface.set_clip(None)

    def _draw_visitor(self, canvas: Canvas, rules: HideRules, time_s: float) -> None:
        """Far animals stand behind the thicket; nearer ones have left it."""
        self._animals.draw(canvas, rules, time_s)
        if rules.nearness < 0.3:
            self._of_the_hour("thicket", rules).draw(canvas.surface)
        self._animals.expect(visitor_of(rules.place).name)

    def _draw_lamplight(self, canvas: Canvas, rules: HideRules) -> None:
        """The lantern at the wall shines on the watcher and her book; day makes it pale."""
        night = night_of(rules)
        for spot, size, strength in (((266, 414), 120, 0.6), ((300, 500), 430, 0.24)):
            shine(canvas.surface, canvas.at(spot), (canvas.length(size),) * 2, LAMP, strength * night)

    def _draw_moonlight(self, canvas: Canvas, rules: HideRules) -> None:
        """While the muscle rests the moon looks into the clearing."""
        spot, size = canvas.at((840, 540)), (canvas.length(560), canvas.length(210))
        shine(canvas.surface, spot, size, MOONLIGHT, 0.5 * rules.rest * (1 - rules.evening))

    def _draw_fireflies(self, canvas: Canvas, rules: HideRules, time_s: float) -> None:
        """They come out while it is quiet. Each glows and dims once in some seconds."""
        for n, (x, y, phase, pace) in enumerate(self._flies):
            turn = phase if self._still else phase + time_s * pace
            strength = rules.glow * (0.55 + 0.35 * math.sin(2.1 * turn)) * (1.0 if n < 5 + 9 * rules.sketched else 0.0)
            at = canvas.at((x + 26 * math.sin(turn), y + 14 * math.sin(1.7 * turn + phase)))
            shine(canvas.surface, at, (canvas.length(24),) * 2, FIREFLY, strength)

    # --- pages ----------------------------------------------------------------------------------------------------
    def _place(self, rules: HideRules, place: int) -> tuple[tuple[float, float], float]:
        """Where today's page number `place` hangs (the middle of its upper edge), and how large it is."""
        columns = max(4, math.ceil(rules.asked / 2))
        row, column = divmod(place % (2 * columns), columns)
        share = (column + 0.5) / columns
        top = (LINE_LEFT + LINE_WIDTH * share, LINES[1 + row] + 4 * math.sin(math.pi * share))
        return top, max(min(PEGGED, 1.45 * LINE_WIDTH / columns), 40.0)

    def _draw_line(self, canvas: Canvas, rules: HideRules) -> None:
        """Earlier evenings on the upper line, today's pages on the two below."""
        for place, page in enumerate(rules.before[-4:]):
            share = (place + 0.5) / 4
            top = (LINE_LEFT + LINE_WIDTH * share, LINES[0] + 4 * math.sin(math.pi * share))
            self._peg(canvas, page, top, PEGGED)
        for carried in rules.carried:
            if carried.share >= 1.0:
                top, side = self._place(rules, carried.place)
                self._peg(canvas, carried.product, top, side)
                self._shine_on(canvas, rules, carried, (top[0], top[1] + side / 2))

    def _peg(self, canvas: Canvas, page: Product, top: tuple[float, float], side: float) -> None:
        image = self._pages.image(page, canvas.length(side))
        if image is not None:
            canvas.paste(image, (top[0], top[1] - side * (MARGIN + 0.02)), "midtop")
            self._sheet["peg"].draw(canvas.surface, *top)

    def _shine_on(self, canvas: Canvas, rules: HideRules, carried: Carried, spot: tuple[float, float]) -> None:
        """When a set is finished, light runs along all of today's pages."""
        if rules.feast_s <= 0:
            return
        wave = smooth(1 - abs((FEAST_S - rules.feast_s) * 1.2 - carried.place * 2.4 / rules.asked - 0.9) / 0.9)
        shine(canvas.surface, canvas.at(spot), (canvas.length(PEGGED * 1.8),) * 2, LAMP, 0.45 * wave)

    def _draw_carried(self, canvas: Canvas, rules: HideRules, carried: Carried) -> None:
        """Torn from the book and carried to the line; with reduced motion it fades in there."""
        if carried.share >= 1.0:
            return
        goal, side = self._place(rules, carried.place)
        large, small = (self._pages.image(carried.product, canvas.length(s)) for s in (LEAF[2], side))
        if large is None or small is None:
            return
        if self._still:
            small.set_alpha(round(255 * smooth(carried.share)))
            canvas.paste(small, (goal[0], goal[1] - side * (MARGIN + 0.02)), "midtop")
            small.set_alpha(255)  # not None, which would drop the alpha of its pixels
            return
        share = smooth(carried.share)
        size = 1 + (side / LEAF[2] - 1) * landing(carried.share)
        x = LEAF[0] + LEAF[2] / 2 + (goal[0] - LEAF[0] - LEAF[2] / 2) * share
        y = LEAF[1] + (goal[1] - LEAF[1]) * share - 130 * math.sin(math.pi * share)
        width = max(2, round(large.get_width() * size))
        centre = canvas.at((x, y + LEAF[3] / 2 * size))
        shine(canvas.surface, centre, (canvas.length(260 * size),) * 2, LAMP, 0.35 * (1 - share))
        canvas.paste(pygame.transform.smoothscale(large, (width, width)), (x, y - LEAF[3] * MARGIN), "midtop")


def _fireflies() -> list[tuple[float, float, float, float]]:
    """Place, phase and pace of each."""
    chance = random.Random(17)
    spots = [(chance.uniform(500, 980), chance.uniform(400, 640)) for _ in range(14)]
    return [(x, y, chance.uniform(0, 6), chance.uniform(0.25, 0.5)) for x, y in spots]
