"""The kiln's picture: the evening behind, the kiln in the middle, the makers beside it, the shelf to the right."""

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
from musclewood.games.kit.motion import Motes, landing, smooth
from musclewood.games.workshops import PictureSetup
from musclewood.games.workshops.backdrop import LAMP, Backdrop, FallingLeaves, dim, night_of
from musclewood.games.workshops.craft import Carried
from musclewood.games.workshops.cut_out import MARGIN
from musclewood.games.workshops.kiln.fire import AXIS, POT_FOOT, POT_SIDE, Fire
from musclewood.games.workshops.kiln.people import People
from musclewood.games.workshops.kiln.pots import pot_image
from musclewood.games.workshops.kiln.rules import KilnRules
from musclewood.games.workshops.painter import Painter

SHELF_FROM = 846.0  # the village behind the shelf is not seen
LAND = Land(
    layers=(("kiln/far.svg", 14.0), ("kiln/village.svg", 7.0), ("kiln/yard.svg", 0.0), ("kiln/front.svg", -10.0)),
    lit=("kiln/village.svg",),
    horizon=420.0,
    sun=(850.0, 330.0),
    until_x=SHELF_FROM,
)
PLANKS = (471.0, 547.0, 623.0)  # stage heights of the shelf boards
SHELF_LEFT, SHELF_WIDTH = 884.0, 342.0
LARGEST_POT = 62.0
CHIMNEY = (640.0, 142.0)
REST_LIGHT = (150, 176, 230)
SMOKE_DARK, SMOKE_PALE = (70, 62, 78), (206, 196, 214)
PUFF_SIZES = 6


class KilnPicture:
    """Reads `KilnRules`; holds nothing but pictures and the drift of smoke and leaves."""

    def __init__(self, stage: PictureSetup) -> None:
        self._box, self._still = stage.box, stage.reduced_motion
        self._fire = Fire(stage.box, stage.reduced_motion)
        self._people = People(stage.box, stage.reduced_motion)
        self._glints = _glints()
        self._lantern = stage.box.sheet("kiln/lantern.svg")
        self._puffs = {colour: self._tinted(colour) for colour in (SMOKE_DARK, SMOKE_PALE)}
        self._leaves = FallingLeaves(stage.box.sheet("kiln/leaf.svg"), stage.reduced_motion)
        self._smoke, self._steam = Motes(1, 20), Motes(2, 7)
        self._sparks = Motes(4, 30)
        self._pots, self._clay = Painter(pot_image), Painter(partial(pot_image, fired=False))
        self._backdrop = Backdrop(partial(LAND.evening, stage.box))

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._pots.settle()
        self._clay.settle()
        self._backdrop.settle()

    def draw(self, canvas: Canvas, rules: KilnRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = self._backdrop.draw(canvas, rules.windows_lit, time_s)
        self._draw_shelf(canvas, rules)
        raw, glazed = self._pot_in_kiln(canvas, rules)
        self._fire.draw(canvas, rules, raw, glazed, time_s)
        self._people.draw(canvas, rules, time_s)
        self._drift(canvas, rules, step_s)
        self._leaves.draw(canvas, step_s)
        dim(canvas, rules, 0.45, 0.7)
        self._draw_rest(canvas, rules, time_s)
        self._lamp(canvas, rules)
        for carried in rules.carried:
            self._draw_carried(canvas, rules, carried)

    # --- pots ---------------------------------------------------------------------------------------------------
    def _pot_in_kiln(self, canvas: Canvas, rules: KilnRules) -> tuple[pygame.Surface | None, pygame.Surface | None]:
        """The clay standing in the fire, and how it will look if the hold stays steady."""
        if len(rules.made) >= rules.asked:
            return None, None
        clay = Product("kiln", rules.place, rules.today, {"place": float(rules.place)}, ())
        side = canvas.length(POT_SIDE)
        return self._clay.image(clay, side), self._pots.image(clay, side)

    def _draw_shelf(self, canvas: Canvas, rules: KilnRules) -> None:
        """Earlier evenings on the upper board, today's pots on the two below."""
        for place, pot in enumerate(rules.before[-8:]):
            self._stand(canvas, pot, (SHELF_LEFT + 21 + place * 42.8, PLANKS[0]), 44.0)
        for carried in rules.carried:
            if carried.share >= 1.0:
                foot, side = self._place(rules, carried.place)
                self._stand(canvas, carried.product, foot, side)

    def _place(self, rules: KilnRules, place: int) -> tuple[tuple[float, float], float]:
        """Where today's pot number `place` stands (middle of its foot), and how large it is."""
        columns = max(5, math.ceil(rules.asked / 2))
        pitch = SHELF_WIDTH / columns
        row, column = divmod(place % (2 * columns), columns)
        return (SHELF_LEFT + pitch * (column + 0.5), PLANKS[1 + row]), min(LARGEST_POT, max(pitch * 1.02, 34.0))

    def _stand(self, canvas: Canvas, pot: Product, foot: tuple[float, float], side: float) -> None:
        image = self._pots.image(pot, canvas.length(side))
        if image is not None:
            canvas.paste(image, (foot[0], foot[1] + side * MARGIN), "midbottom")

    def _draw_carried(self, canvas: Canvas, rules: KilnRules, carried: Carried) -> None:
        """From the fire to its place, growing smaller; with reduced motion it fades from one to the other."""
        foot, side = self._place(rules, carried.place)
        if carried.share >= 1.0:
            return
        large, small = (self._pots.image(carried.product, canvas.length(s)) for s in (POT_SIDE, side))
        if large is None or small is None:
            return
        if self._still:
            small.set_alpha(round(255 * smooth(carried.share)))
            canvas.paste(small, (foot[0], foot[1] + side * MARGIN), "midbottom")
            small.set_alpha(255)  # not None, which would drop the alpha of its pixels
            return
        share = landing(carried.share)
        lift = 150 * math.sin(math.pi * smooth(carried.share))
        x = AXIS + (foot[0] - AXIS) * smooth(carried.share)
        y = POT_FOOT + (foot[1] - POT_FOOT) * share - lift
        size = 1 + (side / POT_SIDE - 1) * share
        width = round(large.get_width() * size)
        shine(
            canvas.surface, canvas.at((x, y - 40 * size)), (canvas.length(190),) * 2, (255, 200, 120), 0.5 * (1 - share)
        )
        canvas.paste(pygame.transform.smoothscale(large, (width, width)), (x, y + side * MARGIN), "midbottom")

    # --- light and air ------------------------------------------------------------------------------------------
    def _draw_rest(self, canvas: Canvas, rules: KilnRules, time_s: float) -> None:
        """Moonlight on the lake."""
        if rules.rest < 0.02:
            return
        for x, y, wide, phase in self._glints:
            sway = 0.0 if self._still else math.sin(time_s * 0.8 + phase)
            strength = (0.42 + 0.22 * sway) * rules.rest
            shine(
                canvas.surface,
                canvas.at((x + 3 * sway, y)),
                (canvas.length(wide), canvas.length(7)),
                REST_LIGHT,
                strength,
            )

    def _lamp(self, canvas: Canvas, rules: KilnRules) -> None:
        """The lantern over the shelf; when a set is finished its light runs along all pots."""
        night = night_of(rules)
        shine(canvas.surface, canvas.at((1055, 446)), (canvas.length(330), canvas.length(210)), LAMP, 0.3 * night)
        self._lantern.draw(canvas.surface, 1250.0, 414.0)
        if rules.feast_s <= 0:
            return
        for carried in rules.carried:
            foot, side = self._place(rules, carried.place)
            wave = smooth(1 - abs((4.0 - rules.feast_s) * 1.2 - carried.place * 2.4 / rules.asked - 0.9) / 0.9)
            shine(
                canvas.surface,
                canvas.at((foot[0], foot[1] - side / 2)),
                (canvas.length(side * 2),) * 2,
                (255, 205, 120),
                0.6 * wave,
            )

    def _drift(self, canvas: Canvas, rules: KilnRules, step_s: float) -> None:
        """Wasted heat leaves as dark smoke, a good fire as a thin pale thread; sparks rise at a set's end."""
        if self._still:
            self._still_smoke(canvas, rules)
            return
        self._steam.step(step_s, 1.4 if rules.glow > 0.3 else 0.0, CHIMNEY, (10, -26), 5.0)
        self._smoke.step(step_s, 8.0 * rules.smoke if rules.smoke > 0.1 else 0.0, CHIMNEY, (22, -44), 2.8)
        self._sparks.step(step_s, 14.0 if rules.feast_s > 1.5 else 0.0, (640, 150), (4, -70), 2.2)
        self._puff(canvas, self._steam, SMOKE_PALE, 90)
        self._puff(canvas, self._smoke, SMOKE_DARK, 235)
        for spark in self._sparks.all:
            shine(
                canvas.surface,
                canvas.at((spark.x, spark.y)),
                (canvas.length(12),) * 2,
                (255, 200, 110),
                1 - spark.share,
            )

    def _still_smoke(self, canvas: Canvas, rules: KilnRules) -> None:
        """One quiet plume that only comes and goes."""
        for n, size in enumerate((2, 3, 4)):
            image = self._puffs[SMOKE_DARK][size]
            image.set_alpha(round(220 * rules.smoke))
            canvas.paste(image, (CHIMNEY[0] + 14 * n, CHIMNEY[1] - 14 - 36 * n), "center")

    def _puff(self, canvas: Canvas, motes: Motes, colour: tuple[int, int, int], alpha: int) -> None:
        for mote in motes.all:
            image = self._puffs[colour][min(int(mote.share * PUFF_SIZES), PUFF_SIZES - 1)]
            image.set_alpha(round(alpha * smooth(4 * mote.share) * (1 - mote.share) ** 0.7))
            canvas.paste(image, (mote.x, mote.y), "center")

    def _tinted(self, colour: tuple[int, int, int]) -> list[pygame.Surface]:
        puff = self._box.sheet("kiln/puff.svg").surface
        shades = []
        for n in range(PUFF_SIZES):
            size = (0.45 + 1.1 * n / (PUFF_SIZES - 1)) * puff.get_width()
            image = pygame.transform.smoothscale(puff, (round(size), round(size)))
            image.fill((*colour, 255), special_flags=pygame.BLEND_RGBA_MULT)
            shades.append(image)
        return shades


def _glints() -> list[tuple[float, float, float, float]]:
    """Where the lake shines: x, y, width, phase; where neither trees nor the kiln stand before it."""
    chance = random.Random(6)
    spots = [(chance.uniform(270, 520), chance.uniform(390, 424)) for _ in range(13)]
    spots += [(chance.uniform(722, 760), chance.uniform(388, 396)) for _ in range(3)]
    return [(x, y, chance.uniform(26, 60) * (0.5 + (y - 385) / 40), chance.uniform(0, 6)) for x, y in spots]
