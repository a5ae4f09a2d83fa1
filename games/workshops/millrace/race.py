"""The water's way: flume, forebay, sluice, race and wheel.

Read from afar: the duck rides on the effort, the white teeth in the walls are the band, the sluice's white edge is the
opposite muscle and the white sill its ceiling; water runs over the sill only while both are where they belong.
"""

from __future__ import annotations

import math
from concurrent.futures import Future, ThreadPoolExecutor

import numpy as np
import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import Motes, smooth
from musclewood.games.kit.paper import Cut, PaperBox, Sheet, lay
from musclewood.games.workshops.millrace.rules import MARK, SILL, MillraceRules

FLOOR, SILL_Y, MARK_Y, RIM_Y = 588.0, 440.0, 362.0, 318.0  # stage heights of an empty forebay, its marks and its rim
LEFT, RIGHT = 290.0, 474.0  # the forebay's inner walls
GATE_OPEN = 338.0  # stage height of the sluice's edge when nothing pulls it down; at its mark it stands on the sill
HUB = (668.0, 464.0)
POSES, PERIOD = 24, 45.0  # of the wheel: it looks the same after an eighth of a turn
WATER, FOAM, GLEAM = (95, 178, 220), (226, 243, 250), (120, 112, 70)
IRON, BELT = (52, 50, 74), (120, 84, 60)
WAVE = 94.0  # stage px from crest to crest in the art


def surface_of(height: float) -> float:
    """Stage y of the water's surface."""
    return float(np.interp(height, (0.0, SILL, MARK, 1.0), (FLOOR, SILL_Y, MARK_Y, RIM_Y)))


def edge_of(gate: float) -> float:
    """Stage y of the sluice's lower edge."""
    return GATE_OPEN + (SILL_Y - GATE_OPEN) * gate


class Race:
    """Draws everything that water moves, and the water."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = [
            *("water_back", "water_front", "marks", "gate", "gate_frame", "wheel_rim", "wheel_hub", "race", "spill"),
            *("foam", "duck"),
        ]
        self._sheet = {name: box.sheet(f"millrace/{name}.svg") for name in names}
        self._duck = [self._sheet["duck"].turned(turn, (0.0, 0.0)) for turn in (-5.0, -2.5, 0.0, 2.5, 5.0)]
        self._plain = box.sheet("millrace/wheel.svg")
        painter = ThreadPoolExecutor(max_workers=1, thread_name_prefix="wheel")
        self._poses: list[Future[Sheet]] = [painter.submit(self._turned, n) for n in range(POSES)]
        painter.shutdown(wait=False)  # it ends when all are painted
        self._mist = Motes(7, 10)
        self._puff = box.sheet("millrace/puff.svg").surface

    def settle(self) -> None:
        """Wait until the wheel is painted at every turn; for stills."""
        for pose in self._poses:
            pose.result()

    def _turned(self, pose: int) -> Sheet:
        """The wheel at one turn, its light still from above."""
        turned = self._plain.turned(-PERIOD * pose / POSES, HUB)
        picture = pygame.Surface(turned.surface.get_size(), pygame.SRCALPHA, 32)
        lay(picture, turned.surface, Cut(lift=3.0, shadow=0.3, grain=0.0, rim=18.0), turned.scale)
        return Sheet(picture, turned.x, turned.y, turned.scale)

    def draw_behind(self, canvas: Canvas, rules: MillraceRules) -> None:
        """The belt that turns the stones."""
        for side in (-1, 1):
            start, end = (HUB[0], HUB[1] + 19 * side), (850.0, 424.0 + 13 * side)
            canvas.line(BELT, [start, end], 3.0)
            for n in range(6):  # stitches that travel with the belt
                share = (n / 6 + side * rules.wheel * 0.11) % 1.0
                at = (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)
                canvas.disc((196, 160, 110), at, 1.8)
        canvas.disc(BELT, (850, 424), 15)
        canvas.disc((138, 90, 58), (850, 424), 12)
        turn = rules.wheel * 1.6
        canvas.line(IRON, [(850 - 9 * math.cos(turn), 424 - 9 * math.sin(turn)), (850, 424)], 3.0)

    def draw(self, canvas: Canvas, rules: MillraceRules, time_s: float, step_s: float) -> None:
        """Forebay, sluice and wheel, from the back to the front."""
        time_s = 0.0 if self._still else time_s
        level, top = surface_of(rules.water), edge_of(rules.gate)
        self._wheel(canvas, rules)
        self._inlet(canvas, rules, level, time_s)
        self._forebay(canvas, rules, level, time_s)
        self._over_the_sill(canvas, rules, level, top, time_s)
        self._sheet["gate_frame"].draw(canvas.surface)
        self._sheet["gate"].draw(canvas.surface, dy=top - GATE_OPEN)
        self._held_back(canvas, rules, level, time_s)
        self._spill(canvas, rules, level, time_s)
        self._tail_water(canvas, rules, time_s)
        self._mist_of(canvas, rules, step_s)

    # --- the wheel ----------------------------------------------------------------------------------------------
    def _wheel(self, canvas: Canvas, rules: MillraceRules) -> None:
        turned = math.degrees(rules.wheel)  # its left side goes down: anticlockwise, towards smaller poses
        pose = self._poses[-round(turned / PERIOD * POSES) % POSES]
        (pose.result() if pose.done() else self._plain).draw(canvas.surface)
        self._sheet["wheel_rim"].draw(canvas.surface)
        for n in range(24):
            angle = math.radians(15 * n + 7.5 - turned)
            canvas.disc(IRON, (HUB[0] + 129 * math.cos(angle), HUB[1] + 129 * math.sin(angle)), 2.0)
        self._sheet["wheel_hub"].draw(canvas.surface)

    # --- water --------------------------------------------------------------------------------------------------
    def _inlet(self, canvas: Canvas, rules: MillraceRules, level: float, time_s: float) -> None:
        """What the hatch lets out of the flume: as thick as the effort."""
        if rules.water < 0.05:
            return
        thick = 5 + 15 * rules.water
        canvas.shape(
            WATER,
            [
                *((262, 283), (276, 284), (292 + thick * 0.5, 306), (298 + thick * 0.6, level)),
                *((298 - thick * 0.3, level), (286 - thick * 0.1, 318), (262, 298)),
            ],
        )
        for n in range(4):
            share = (n / 4 + time_s * 1.7) % 1.0
            y = 296 + (level - 300) * share
            canvas.line(FOAM, [(288 + 9 * smooth(2 * share), y), (289 + 9 * smooth(2 * share), y + 9)], 2.0)

    def _forebay(self, canvas: Canvas, rules: MillraceRules, level: float, time_s: float) -> None:
        surface = canvas.surface
        surface.set_clip(canvas.area((LEFT, RIM_Y - 40, RIGHT - LEFT, 592 - RIM_Y + 40)))
        drift = (time_s * 13) % WAVE
        if rules.water > 0.004:
            self._sheet["water_back"].draw(surface, LEFT - drift, level - 3)
        self._float(canvas, rules, time_s)
        if rules.water > 0.004:
            self._sheet["water_front"].draw(surface, LEFT - WAVE + drift * 0.7, level + 1)
        surface.set_clip(None)
        self._sheet["marks"].draw(surface)
        for x in (LEFT + 8, RIGHT - 8):  # both pairs of stones gleam while the race runs
            for y in (MARK_Y, SILL_Y):
                shine(surface, canvas.at((x, y)), (canvas.length(84), canvas.length(40)), GLEAM, 0.8 * rules.race)

    def _float(self, canvas: Canvas, rules: MillraceRules, time_s: float) -> None:
        """The duck rides on the short average that the judge goes by."""
        y = surface_of(rules.float_height)
        rock = 0.5 + 0.5 * math.sin(time_s * 2.1)
        self._duck[round(rock * (len(self._duck) - 1))].draw(canvas.surface, 384.0, y + 2)

    def _over_the_sill(self, canvas: Canvas, rules: MillraceRules, level: float, gate: float, time_s: float) -> None:
        """The tongue under the sluice and the water in the buckets; it grows from the sill
        down, and dries up likewise."""
        if rules.race < 0.02:
            return
        surface = canvas.surface
        top = max(level, gate, 330.0)
        if top < SILL_Y - 1:
            fall = top + 0.45 * (SILL_Y - top)
            points = [
                (RIGHT - 2, top),
                (496, top + 0.15 * (SILL_Y - top)),
                (513, fall),
                (527, 446),
                (531, 462),
                (513, 462),
            ]
            canvas.shape(WATER, [*points, (511, 441), (RIGHT - 2, 441)])
            canvas.line(FOAM, points[:5], 2.4)
        surface.set_clip(canvas.area((500, 436, 220, 8 + 190 * smooth(rules.race))))
        self._sheet["race"].draw(surface)
        for n in range(11):
            share = (n / 11 + rules.wheel * 0.16) % 1.0
            angle = math.radians(178 - 76 * share)
            reach = 135 + 14 * ((n * 5) % 3) / 2
            at = (HUB[0] + reach * math.cos(angle), HUB[1] + reach * math.sin(angle))
            on = (HUB[0] + reach * math.cos(angle - 0.07), HUB[1] + reach * math.sin(angle - 0.07))
            canvas.line(FOAM, [at, on], 2.4)
        surface.set_clip(None)

    def _held_back(self, canvas: Canvas, rules: MillraceRules, level: float, time_s: float) -> None:
        """A shut sluice: the water heaps up and curls before it."""
        for n in range(3):
            if rules.blocked > 0.2 + 0.25 * n:
                x, y = 458 - 13 * n + 2 * math.sin(time_s * 5 + n), level + 3 + 6 * n
                canvas.line(FOAM, [(x - 7, y + 2), (x - 3, y - 4), (x + 3, y - 4), (x + 7, y + 2)], 2.6)

    def _spill(self, canvas: Canvas, rules: MillraceRules, level: float, time_s: float) -> None:
        """Too much: a broad sheet over the outer wall, for nothing."""
        if rules.spill < 0.03:
            return
        top = min(level, MARK_Y - 2)
        foot = top + (612 - top) * smooth(rules.spill)
        canvas.surface.set_clip(canvas.area((210, top - 12, 90, foot - top + 12)))
        self._sheet["spill"].draw(canvas.surface, dy=top)
        self._sheet["spill"].draw(canvas.surface, dx=2.0 * math.sin(time_s * 9), dy=top + 22)
        for n in range(6):
            share = (n / 6 + time_s * 1.1) % 1.0
            y = top + 30 + (foot - top - 40) * share
            x = 240 + (n * 7) % 13 - 4 * share
            canvas.line(FOAM, [(x, y), (x - 1, y + 16)], 2.4)
        canvas.surface.set_clip(None)
        if rules.spill > 0.6:
            self._sheet["foam"].draw(canvas.surface, dx=1.5 * math.sin(time_s * 7), dy=606 + 14 * (1 - rules.spill))

    def _tail_water(self, canvas: Canvas, rules: MillraceRules, time_s: float) -> None:
        """What spills comes back to the wheel's pit and drowns it."""
        if rules.spill < 0.03:
            return
        level = 612 - 96 * smooth(rules.spill)
        canvas.surface.set_clip(canvas.area((522, level - 8, 278, 622 - level)))
        self._sheet["water_front"].draw(canvas.surface, 522 - (time_s * 16) % WAVE, level)
        canvas.surface.set_clip(None)

    def _mist_of(self, canvas: Canvas, rules: MillraceRules, step_s: float) -> None:
        if self._still:
            return
        self._mist.step(step_s, 5.0 * rules.spill if rules.spill > 0.2 else 0.0, (240, 606), (-10, -22), 1.6)
        for mote in self._mist.all:
            self._puff.set_alpha(round(150 * smooth(3 * mote.share) * (1 - mote.share)))
            canvas.paste(self._puff, (mote.x, mote.y), "center")
