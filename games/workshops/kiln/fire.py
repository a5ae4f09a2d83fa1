"""The kiln itself: flame, damper marks, the pot in the fire, and the stones of the arch that count the hold.

Read from afar: the flame's tip is the effort, the two iron jaws are the band, the stones that glow from the ground up
are the time held, and the pot takes its glaze along with them.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.paper import PaperBox, Sheet
from musclewood.games.workshops.kiln.rules import KilnRules

AXIS = 640.0
FLOOR, FLUE_TOP = 600.0, 196.0  # stage heights of flame height 0 and 1
OPENING = (546.0, 188.0, 188.0, 448.0)
FLUE = (604.0, 676.0)
POT_FOOT, POT_SIDE = 617.0, 112.0
SPRING, GROUND, RING = 528.0, 634.0, 100.0  # where the arch begins to curve; its foot; its middle radius
TILE_DARK, TILE_LIT = (44, 74, 84), (126, 214, 186)
FIRE = (255, 150, 60)
DAY_STEPS = 12
SWAY = (-3.0, -1.5, 0.0, 1.5, 3.0)


def tip_of(height: float) -> float:
    """Stage y of a flame height."""
    return FLOOR - height * (FLOOR - FLUE_TOP)


def stones_top(share: float) -> float:
    """Stage y up to which the arch's stones glow: the way goes up the posts and then along the curve."""
    post, curve = GROUND - SPRING, RING * math.radians(66.5)
    way = min(max(share, 0.0), 1.0) * (post + curve)
    return GROUND - way if way <= post else SPRING - RING * math.sin((way - post) / RING)


class Fire:
    """Draws the kiln with what burns in it."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._box, self._still = box, reduced_motion
        names = ("chamber", "embers", "prop", "kiln", "stones_lit", "damper_low", "damper_high")
        self._sheet = {name: box.sheet(f"kiln/{name}.svg") for name in names}
        box.bake_behind(["kiln/kiln.svg"], ("dawn",))  # wanted towards the end of the evening
        self._day_step, self._front = 0, self._sheet["kiln"]
        self._tongues = {
            name: self._swayed(box.sheet(f"kiln/flame_{name}.svg")) for name in ("outer", "middle", "inner")
        }

    @staticmethod
    def _swayed(sheet: Sheet) -> list[Sheet]:
        return [sheet.turned(degrees, (0.0, 0.0)) if degrees else sheet for degrees in SWAY]

    def draw(
        self, canvas: Canvas, rules: KilnRules, pot: pygame.Surface | None, glazed: pygame.Surface | None, time_s: float
    ) -> None:
        """The whole kiln; `pot` is the raw clay now standing in it, `glazed` the same pot fired."""
        surface = canvas.surface
        self._sheet["chamber"].draw(surface)
        self._tiles(canvas, rules)
        surface.set_clip(canvas.area(OPENING))
        self._flames(canvas, rules, time_s)
        surface.set_clip(None)
        self._sheet["embers"].draw(surface)
        self._sheet["prop"].draw(surface)
        self._glow(canvas, rules)
        self._pot(canvas, rules, pot, glazed)
        self._fronts(canvas, rules)
        self._stones(canvas, rules)
        self._dampers(canvas, rules)
        self._shine(canvas, rules)

    def _flames(self, canvas: Canvas, rules: KilnRules, time_s: float) -> None:
        """Outer tongues follow effort tick by tick; the bright one the short average that the judge goes by."""
        low = min(rules.flame, 0.3)
        self._tongue(canvas, "outer", AXIS - 42, tip_of(low * 0.55 - 0.03), time_s, 1.9)
        self._tongue(canvas, "outer", AXIS + 44, tip_of(low * 0.65 - 0.03), time_s, 4.1)
        self._tongue(canvas, "outer", AXIS, tip_of(rules.flame), time_s, 0.0)
        self._tongue(canvas, "middle", AXIS + 1, tip_of(0.5 * rules.flame + 0.5 * rules.core) + 16, time_s, 2.0)
        self._tongue(canvas, "inner", AXIS, tip_of(rules.core) + 30, time_s, 3.0)

    def _tongue(self, canvas: Canvas, name: str, x: float, y: float, time_s: float, phase: float) -> None:
        wave = 0.0 if self._still else math.sin(time_s * 5.3 + phase) * 0.6 + math.sin(time_s * 8.9 + 2 * phase) * 0.4
        self._tongues[name][round((wave + 1) / 2 * (len(SWAY) - 1))].draw(canvas.surface, x, y)

    def _tiles(self, canvas: Canvas, rules: KilnRules) -> None:
        """Glazed tiles line the flue within the band, and light up while the flame stands among them."""
        top, bottom = tip_of(rules.mark_high), tip_of(rules.mark_low)
        lit = tuple(
            round(dark + (bright - dark) * rules.glow) for dark, bright in zip(TILE_DARK, TILE_LIT, strict=True)
        )
        area = canvas.area((FLUE[0] - 4, top, FLUE[1] - FLUE[0] + 8, bottom - top))
        canvas.surface.fill(lit, area)
        joint = tuple(round(part * 0.72) for part in lit)
        rows = max(2, round((bottom - top) / 16))
        for row in range(1, rows):
            y = area.top + area.height * row // rows
            canvas.surface.fill(joint, (area.left, y, area.width, canvas.length(1.5)))
        for row in range(rows):
            for x in (FLUE[0] + 9, FLUE[1] - 11) if row % 2 else (FLUE[0] + 18, FLUE[1] - 20):
                y = area.top + area.height * row // rows
                canvas.surface.fill(joint, (canvas.at((x, 0))[0], y, canvas.length(1.5), area.height // rows + 1))

    def _pot(self, canvas: Canvas, rules: KilnRules, pot: pygame.Surface | None, glazed: pygame.Surface | None) -> None:
        if pot is None:
            return
        box = pot.get_rect(midbottom=canvas.at((AXIS, POT_FOOT + POT_SIDE * 0.08)))
        canvas.surface.blit(pot, box)
        if glazed is None or rules.fired <= 0:
            return
        rise = round(glazed.get_height() * (0.1 + 0.84 * rules.fired))
        part = pygame.Rect(0, glazed.get_height() - rise, glazed.get_width(), rise)
        canvas.surface.blit(glazed, (box.left, box.top + part.top), part)
        edge = (box.centerx, box.top + part.top)
        if rules.fired < 1:
            shine(canvas.surface, edge, (canvas.length(104), canvas.length(18)), FIRE, 0.5)

    def _fronts(self, canvas: Canvas, rules: KilnRules) -> None:
        """Bricks by firelight, and towards the end by the light of day."""
        step = round(DAY_STEPS * smooth((rules.evening - 0.55) / 0.4))
        if step != self._day_step:
            self._day_step, self._front = step, self._blended(step / DAY_STEPS)
        self._front.draw(canvas.surface)

    def _blended(self, day: float) -> Sheet:
        dusk = self._sheet["kiln"]
        if day <= 0:
            return dusk
        both, dawn = dusk.surface.copy(), self._box.sheet("kiln/kiln.svg", "dawn").surface.copy()
        dawn.set_alpha(round(255 * day))
        both.blit(dawn, (0, 0))
        return replace(dusk, surface=both)

    def _stones(self, canvas: Canvas, rules: KilnRules) -> None:
        if rules.fired <= 0:
            return
        top = stones_top(rules.fired)
        canvas.surface.set_clip(canvas.area((500, top, 280, GROUND + 4 - top)))
        self._sheet["stones_lit"].draw(canvas.surface)
        canvas.surface.set_clip(None)
        if rules.fired < 1:
            across = RING if top > SPRING else math.sqrt(max(RING**2 - (SPRING - top) ** 2, 0.0))
            for side in (-1, 1):
                shine(canvas.surface, canvas.at((AXIS + side * across, top)), (canvas.length(64),) * 2, FIRE, 0.7)

    def _dampers(self, canvas: Canvas, rules: KilnRules) -> None:
        for name, height in (("damper_low", rules.mark_low), ("damper_high", rules.mark_high)):
            self._sheet[name].draw(canvas.surface, dy=tip_of(height))
            for x in (556, 724):
                away = 9 if name == "damper_low" else -9
                shine(
                    canvas.surface,
                    canvas.at((x, tip_of(height) + away)),
                    (canvas.length(46),) * 2,
                    (70, 150, 120),
                    0.8 * rules.glow,
                )

    def _glow(self, canvas: Canvas, rules: KilnRules) -> None:
        """Heat behind the pot: as much as there is flame, less where it goes up in smoke."""
        heat = rules.flame * (1 - 0.75 * rules.smoke)
        shine(canvas.surface, canvas.at((AXIS, 590)), (canvas.length(300), canvas.length(150)), FIRE, 0.08 + 0.2 * heat)

    def _shine(self, canvas: Canvas, rules: KilnRules) -> None:
        """Firelight on the bricks and on the yard."""
        heat = rules.flame * (1 - 0.75 * rules.smoke)
        for x in (AXIS - 122, AXIS + 122):
            shine(
                canvas.surface, canvas.at((x, 590)), (canvas.length(180), canvas.length(240)), FIRE, 0.05 + 0.2 * heat
            )
        shine(canvas.surface, canvas.at((AXIS, 660)), (canvas.length(640), canvas.length(100)), FIRE, 0.06 + 0.3 * heat)
