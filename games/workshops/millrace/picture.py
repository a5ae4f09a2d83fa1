"""The mill's picture: the evening behind, forebay and wheel in the middle, the mill beside them, sacks to the right."""

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
from musclewood.games.workshops.backdrop import LAMP, Backdrop, dim, night_of
from musclewood.games.workshops.craft import Carried
from musclewood.games.workshops.cut_out import MARGIN
from musclewood.games.workshops.millrace.mill import AXIS, SACK_FOOT, Works
from musclewood.games.workshops.millrace.people import People
from musclewood.games.workshops.millrace.race import Race
from musclewood.games.workshops.millrace.rules import MillraceRules
from musclewood.games.workshops.millrace.sacks import sack_image
from musclewood.games.workshops.painter import Painter

_DRIFTS = (
    *(("far", 14.0), ("village", 7.0), ("yard", 0.0), ("leanto", 0.0)),
    *(("flume", 0.0), ("mill", 0.0), ("basin", 0.0), ("front", 0.0)),
)
LAND = Land(
    layers=tuple((f"millrace/{name}.svg", drift) for name, drift in _DRIFTS),
    lit=("millrace/village.svg", "millrace/mill.svg"),
    horizon=410.0,
    sun=(600.0, 330.0),
)
BOARD = 485.0  # stage height of the board for earlier sacks
PILE_LEFT, PILE_WIDTH, PALLET, CART = 1074.0, 196.0, 603.0, 587.0
ROWS = 5
LARGEST_SACK, SACK_SIDE = 58.0, 104.0
REST_LIGHT = (150, 176, 230)


class MillracePicture:
    """Reads `MillraceRules`; holds nothing but pictures and the drift of mist and flour."""

    def __init__(self, stage: PictureSetup) -> None:
        box = stage.box
        self._still = stage.reduced_motion
        self._race = Race(box, stage.reduced_motion)
        self._works = Works(box, stage.reduced_motion)
        self._people = People(box, stage.reduced_motion)
        self._ground = {name: box.sheet(f"millrace/{name}.svg") for name in ("pallet", "cart")}
        self._glints = _glints()
        self._dust, self._flies = Motes(3, 8), Motes(4, 24)
        self._sacks = Painter(sack_image)
        self._backdrop = Backdrop(partial(LAND.evening, box))

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._race.settle()
        self._sacks.settle()
        self._backdrop.settle()

    def draw(self, canvas: Canvas, rules: MillraceRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = self._backdrop.draw(canvas, rules.windows_lit, time_s)
        self._race.draw_behind(canvas, rules)
        self._works.draw(canvas, rules, time_s)
        self._draw_pile(canvas, rules)
        self._race.draw(canvas, rules, time_s, step_s)
        self._people.draw(canvas, rules, time_s)
        self._drift(canvas, rules, step_s)
        dim(canvas, rules, 0.45, 0.7)
        self._draw_rest(canvas, rules, time_s)
        self._lamp(canvas, rules)
        for carried in rules.carried:
            self._draw_carried(canvas, rules, carried)

    # --- sacks --------------------------------------------------------------------------------------------------
    def _draw_pile(self, canvas: Canvas, rules: MillraceRules) -> None:
        """Earlier sacks on the board; today's below it, on the cart once the mill has one."""
        for place, sack in enumerate(rules.before[-6:]):
            self._stand(canvas, sack, (1094 + place * 32.0, BOARD), 40.0)
        self._ground["cart" if "cart" in rules.gains else "pallet"].draw(canvas.surface)
        for carried in reversed(rules.carried):  # upper rows first: they stand behind
            if carried.share >= 1.0:
                foot, side = self._place(rules, carried.place)
                self._stand(canvas, carried.product, foot, side)

    def _place(self, rules: MillraceRules, place: int) -> tuple[tuple[float, float], float]:
        """Where today's sack number `place` stands (middle of its foot), and how large: rows, each one sack shorter."""
        foot = CART if "cart" in rules.gains else PALLET
        columns = _columns(rules.asked)
        pitch = min(PILE_WIDTH / columns, 44.0)
        side = min(LARGEST_SACK, pitch * 1.26)
        row, left = 0, place % _room(columns)
        while left >= columns - row % 2:
            left -= columns - row % 2
            row += 1
        x = PILE_LEFT + PILE_WIDTH / 2 + pitch * (left + 0.5 - (columns - row % 2) / 2)
        return (x, foot - row * side * 0.56), side

    def _stand(self, canvas: Canvas, sack: Product, foot: tuple[float, float], side: float) -> None:
        image = self._sacks.image(sack, canvas.length(side))
        if image is not None:
            canvas.paste(image, (foot[0], foot[1] + side * MARGIN), "midbottom")

    def _draw_carried(self, canvas: Canvas, rules: MillraceRules, carried: Carried) -> None:
        """From the spout to its place, growing smaller; with reduced motion it fades in where it belongs."""
        if carried.share >= 1.0:
            return
        foot, side = self._place(rules, carried.place)
        large, small = (self._sacks.image(carried.product, canvas.length(s)) for s in (SACK_SIDE, side))
        if large is None or small is None:
            return
        if self._still:
            small.set_alpha(round(255 * smooth(carried.share)))
            canvas.paste(small, (foot[0], foot[1] + side * MARGIN), "midbottom")
            small.set_alpha(255)  # not None, which would drop the alpha of its pixels
            return
        share = landing(carried.share)
        lift = 96 * math.sin(math.pi * smooth(carried.share))
        x = AXIS + (foot[0] - AXIS) * smooth(carried.share)
        y = SACK_FOOT + (foot[1] - SACK_FOOT) * share - lift
        size = 1 + (side / SACK_SIDE - 1) * share
        width = round(large.get_width() * size)
        glow = canvas.at((x, y - 40 * size))
        shine(canvas.surface, glow, (canvas.length(190),) * 2, (255, 214, 150), 0.45 * (1 - share))
        canvas.paste(pygame.transform.smoothscale(large, (width, width)), (x, y + side * MARGIN), "midbottom")

    # --- light and air ------------------------------------------------------------------------------------------
    def _draw_rest(self, canvas: Canvas, rules: MillraceRules, time_s: float) -> None:
        """Moonlight on the tail race."""
        if rules.rest < 0.02:
            return
        for x, y, wide, phase in self._glints:
            sway = 0.0 if self._still else math.sin(time_s * 0.8 + phase)
            strength = (0.42 + 0.22 * sway) * rules.rest
            at = canvas.at((x + 3 * sway, y))
            shine(canvas.surface, at, (canvas.length(wide), canvas.length(8)), REST_LIGHT, strength)

    def _lamp(self, canvas: Canvas, rules: MillraceRules) -> None:
        """Lamplight under the lean-to; when a set is finished it runs along all sacks."""
        night = night_of(rules)
        shine(canvas.surface, canvas.at((1172, 540)), (canvas.length(300), canvas.length(220)), LAMP, 0.28 * night)
        if rules.feast_s <= 0:
            return
        for carried in rules.carried:
            foot, side = self._place(rules, carried.place)
            wave = smooth(1 - abs((4.0 - rules.feast_s) * 1.2 - carried.place * 2.4 / rules.asked - 0.9) / 0.9)
            at = canvas.at((foot[0], foot[1] - side / 2))
            shine(canvas.surface, at, (canvas.length(side * 2),) * 2, (255, 205, 120), 0.5 * wave)

    def _drift(self, canvas: Canvas, rules: MillraceRules, step_s: float) -> None:
        """Flour hangs in the lamplight while the stones grind; fireflies rise when a set is finished."""
        if self._still:
            return
        self._dust.step(step_s, 5.0 * rules.race if rules.race > 0.2 else 0.0, (932, 540), (10, -14), 2.4)
        self._flies.step(step_s, 9.0 if rules.feast_s > 1.5 else 0.0, (1160, 590), (-14, -52), 3.0)
        for mote in self._dust.all:
            at = canvas.at((mote.x + 20 * math.sin(mote.spin), mote.y))
            shine(canvas.surface, at, (canvas.length(22),) * 2, (190, 176, 140), 0.5 * (1 - mote.share))
        for fly in self._flies.all:
            at = canvas.at((fly.x + 60 * math.sin(fly.spin) + 9 * math.sin(fly.age_s * 3 + fly.spin), fly.y))
            shine(canvas.surface, at, (canvas.length(13),) * 2, (255, 226, 130), 1 - fly.share)


def _room(columns: int) -> int:
    """Sacks in ROWS rows, every other one a sack shorter so that it lies in the gaps of the row below."""
    return ROWS * columns - ROWS // 2


def _columns(asked: int) -> int:
    """Sacks in the lowest row, so that all that are asked find room."""
    return next(columns for columns in range(4, 300) if _room(columns) >= asked)


def _glints() -> list[tuple[float, float, float, float]]:
    """Where the tail race shines: x, y, width, phase."""
    chance = random.Random(6)
    spots = []
    for _ in range(15):
        along = chance.uniform(0, 1)
        spots.append((700 - 560 * along, 634 + 54 * along**0.8 + chance.uniform(-6, 12)))
    return [(x, y, chance.uniform(30, 76), chance.uniform(0, 6)) for x, y in spots]
