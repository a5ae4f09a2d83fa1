"""The loom's picture: the evening behind, the loom across the middle, its people, and the rail
of bands to the right."""

from __future__ import annotations

import math
from functools import partial

import pygame
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.evening import Land
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import landing, smooth
from musclewood.games.workshops import PictureSetup
from musclewood.games.workshops.backdrop import Backdrop, Chips, FallingLeaves, Lanterns, dim
from musclewood.games.workshops.craft import FEAST_S, Carried
from musclewood.games.workshops.cut_out import MARGIN
from musclewood.games.workshops.loom.bands import band_image
from musclewood.games.workshops.loom.people import People
from musclewood.games.workshops.loom.rules import LoomRules
from musclewood.games.workshops.loom.warp import Web, edge_x, row_y
from musclewood.games.workshops.painter import Painter

LAND = Land(
    layers=(
        ("loom/far.svg", 14.0),
        ("loom/village.svg", 7.0),
        *((f"loom/{name}.svg", 0.0) for name in ("yard", "rail", "frame", "front")),
    ),
    lit=("loom/village.svg",),
    horizon=420.0,
    sun=(1120.0, 330.0),
)
RODS = (418.0, 488.0, 562.0)  # stage heights of the rail's rods
RAIL_LEFT, RAIL_WIDTH = 1060.0, 196.0
HANGING, LARGE = 57.0, 190.0
OFF_LOOM = (640.0, 512.0)  # where a finished band is opened: the middle of its lower edge
LANTERNS = ((402.0, 282.0), (878.0, 282.0))


class LoomPicture:
    """Reads `LoomRules`; holds nothing but pictures and the drift of lint and leaves."""

    def __init__(self, stage: PictureSetup) -> None:
        self._box, self._still = stage.box, stage.reduced_motion
        self._web = Web(stage.box, stage.reduced_motion)
        self._people = People(stage.box, stage.reduced_motion)
        self._lanterns = Lanterns(stage.box.sheet("loom/lantern.svg"), LANTERNS, (230.0, 200.0))
        self._lint = Chips(stage.box.sheet("loom/fluff.svg"), (0.0, 0.0), 5, 18)
        self._leaves = FallingLeaves(stage.box.sheet("loom/leaf.svg"), stage.reduced_motion)
        self._bands = Painter(band_image)
        self._backdrop = Backdrop(partial(LAND.evening, stage.box))

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._bands.settle()
        self._web.settle()
        self._backdrop.settle()

    def draw(self, canvas: Canvas, rules: LoomRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = self._backdrop.draw(canvas, rules.windows_lit, time_s)
        self._draw_rail(canvas, rules)
        self._web.draw(canvas, rules)
        self._people.draw(canvas, rules, time_s)
        self._lanterns.draw(canvas, rules, 0.26 + 0.16 * rules.glow)  # a little more while the thread runs true
        self._drift(canvas, rules, step_s)
        self._leaves.draw(canvas, step_s)
        dim(canvas, rules, 0.35, 0.6)
        for carried in rules.carried:
            self._draw_carried(canvas, rules, carried)

    # --- bands --------------------------------------------------------------------------------------------------
    def _place(self, rules: LoomRules, place: int) -> tuple[float, float]:
        """Where today's band number `place` hangs: the middle of its lower edge."""
        columns = max(5, math.ceil(rules.asked / 2))
        row, column = divmod(place % (2 * columns), columns)
        return RAIL_LEFT + RAIL_WIDTH * (column + 0.5) / columns, RODS[1 + row] + HANGING

    def _draw_rail(self, canvas: Canvas, rules: LoomRules) -> None:
        """Earlier evenings on the upper rod, today's bands on the two below."""
        for place, band in enumerate(rules.before[-5:]):
            self._hang(canvas, band, (RAIL_LEFT + RAIL_WIDTH * (place + 0.5) / 5, RODS[0] + HANGING))
        for carried in rules.carried:
            if carried.share >= 1.0:
                self._hang(canvas, carried.product, self._place(rules, carried.place))
                self._shine_on(canvas, rules, carried)

    def _hang(self, canvas: Canvas, band: Product, foot: tuple[float, float]) -> None:
        image = self._bands.image(band, canvas.length(HANGING))
        if image is not None:
            canvas.paste(image, (foot[0], foot[1] + HANGING * MARGIN), "midbottom")

    def _shine_on(self, canvas: Canvas, rules: LoomRules, carried: Carried) -> None:
        """When a set is finished, light runs along all of today's bands."""
        if rules.feast_s <= 0:
            return
        foot = self._place(rules, carried.place)
        wave = smooth(1 - abs((FEAST_S - rules.feast_s) * 1.2 - carried.place * 2.4 / rules.asked - 0.9) / 0.9)
        spot = canvas.at((foot[0], foot[1] - HANGING / 2))
        shine(canvas.surface, spot, (canvas.length(HANGING * 2),) * 2, (255, 205, 120), 0.5 * wave)

    def _draw_carried(self, canvas: Canvas, rules: LoomRules, carried: Carried) -> None:
        """Opened before the loom, then over to the rail; with reduced motion it fades in there."""
        if carried.share >= 1.0:
            return
        foot = self._place(rules, carried.place)
        large, small = (self._bands.image(carried.product, canvas.length(side)) for side in (LARGE, HANGING))
        if large is None or small is None:
            return
        if self._still:
            small.set_alpha(round(255 * smooth(carried.share)))
            canvas.paste(small, (foot[0], foot[1] + HANGING * MARGIN), "midbottom")
            small.set_alpha(255)  # not None, which would drop the alpha of its pixels
            return
        opened, away = smooth(carried.share / 0.3), smooth((carried.share - 0.4) / 0.6)
        size = 1 + (HANGING / LARGE - 1) * landing((carried.share - 0.4) / 0.6)
        x = OFF_LOOM[0] + (foot[0] - OFF_LOOM[0]) * away
        y = OFF_LOOM[1] + (foot[1] - OFF_LOOM[1]) * away - 120 * math.sin(math.pi * away)
        tall = max(2, round(large.get_height() * size))
        wide = max(2, round(tall * (0.25 + 0.75 * opened)))  # it was woven folded in two
        spot = canvas.at((x, y - LARGE * size / 2))
        shine(canvas.surface, spot, (canvas.length(300 * size),) * 2, (255, 200, 120), 0.4 * (1 - away))
        canvas.paste(pygame.transform.smoothscale(large, (wide, tall)), (x, y), "midbottom")

    # --- light and air ------------------------------------------------------------------------------------------
    def _drift(self, canvas: Canvas, rules: LoomRules, step_s: float) -> None:
        """Too much pulls lint from the thread: it floats away and is wasted."""
        at = (edge_x(rules.shuttle, 1), row_y(min(max(rules.at_s / rules.hold_s, 0.0), 1.0)) - 8)
        if self._still:
            self._lint.lie(canvas, rules.strain, [(at[0] - 16 * n, at[1] - 14 - 16 * n) for n in range(3)])
        else:
            self._lint.fly(canvas, step_s, 9.0 * rules.strain if rules.strain > 0.15 else 0.0, at, (-26, -30), 2.0)
