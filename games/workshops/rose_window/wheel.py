"""The great wheel: the lead lines of the pattern, the glass set so far, the arm with its iron.

Read from afar: the arm is the time, the iron on it the effort, the two lead lines are the band, and the whole way that
is asked can be seen before it is gone. Panes that were set true shine; others stay dull.
"""

from __future__ import annotations

import math

import numpy as np
import pygame
from musclewood.games.engine.judging import PROFILE_POINTS
from musclewood.games.kit.canvas import Canvas, Point
from musclewood.games.kit.light import shine
from musclewood.games.kit.palette import mixed
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.poses import Poses
from musclewood.games.workshops.rose_window.glass import HUB
from musclewood.games.workshops.rose_window.rules import Pane, RoseRules

MIDDLE, RADIUS = (640.0, 412.0), 162.0
LEAD, LEAD_LIGHT, DULL, LIT = (24, 24, 44), (214, 210, 230), (58, 58, 84), (255, 214, 130)
ZONE = (92, 96, 150)  # frosted glass between the lead lines
LINE_POINTS = 144


def at(turn: float, height: float) -> Point:
    """Stage point of a height on the wheel at a share of the whole round, clockwise from the top."""
    radius = RADIUS * (HUB + (1 - HUB) * height)
    angle = 2 * math.pi * turn
    return MIDDLE[0] + radius * math.sin(angle), MIDDLE[1] - radius * math.cos(angle)


class Wheel:
    """Draws the wheel; keeps the pictures of the pattern and of the glass now in it."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        self._sheet = {name: box.sheet(f"rose_window/{name}.svg") for name in ("back", "wheel", "slider")}
        self._arm = Poses(box.sheet("rose_window/trammel.svg"), (0.0, 0.0), 1.5)
        self._iron = Poses(box.sheet("rose_window/slider.svg"), (0.0, 0.0), 3.0)
        self._leads: tuple[object, pygame.Surface] | None = None
        self._glass: tuple[object, int, pygame.Surface] | None = None

    def draw(self, canvas: Canvas, rules: RoseRules) -> None:
        surface = canvas.surface
        self._sheet["back"].draw(surface)
        self._draw_leads(canvas, rules)
        self._draw_glass(canvas, rules)
        lamp = 0.1 + 0.3 * rules.glow + 0.2 * rules.cheer
        shine(surface, canvas.at(MIDDLE), (canvas.length(2.1 * RADIUS),) * 2, LIT, lamp)
        self._sheet["wheel"].draw(surface)
        self._draw_arm(canvas, rules)

    # --- what is asked ---------------------------------------------------------------------------------------------
    def _draw_leads(self, canvas: Canvas, rules: RoseRules) -> None:
        """The whole way round, seen before it is gone."""
        if rules.finished:
            return
        key = (round(rules.half, 3), canvas.size)
        if self._leads is None or self._leads[0] != key:
            self._leads = (key, self._leaded(canvas, rules))
        canvas.paste(self._leads[1], MIDDLE, "center")

    def _leaded(self, canvas: Canvas, rules: RoseRules) -> pygame.Surface:
        fine = 2
        side = canvas.length(2 * RADIUS + 8)
        picture = pygame.Surface((side * fine, side * fine), pygame.SRCALPHA, 32)
        moments = np.linspace(0.0, 1.0, LINE_POINTS + 1)
        asked = [rules.pattern_height(moment * rules.hold_s) for moment in moments]

        def pixel(turn: float, height: float) -> Point:
            x, y = at(turn, min(max(height, 0.0), 1.0))
            scale = canvas.scale * fine
            return (x - MIDDLE[0]) * scale + side * fine / 2, (y - MIDDLE[1]) * scale + side * fine / 2

        outer = [pixel(turn, height + rules.half) for turn, height in zip(moments, asked, strict=True)]
        inner = [pixel(turn, height - rules.half) for turn, height in zip(moments, asked, strict=True)]
        for n in range(LINE_POINTS):
            pygame.draw.polygon(picture, (*ZONE, 150), [outer[n], outer[n + 1], inner[n + 1], inner[n]])
        for line in (outer, inner):
            pygame.draw.lines(picture, LEAD, False, line, round(8 * canvas.scale * fine))
            pygame.draw.lines(picture, LEAD_LIGHT, False, line, round(3.4 * canvas.scale * fine))
        pygame.draw.line(picture, LEAD_LIGHT, pixel(0.0, 0.0), pixel(0.0, 1.0), round(2 * canvas.scale * fine))
        return pygame.transform.smoothscale(picture, (side, side))

    # --- what was made of it ---------------------------------------------------------------------------------------
    def _draw_glass(self, canvas: Canvas, rules: RoseRules) -> None:
        """The panes set so far; a new one is added when it is finished."""
        if not rules.panes:
            self._glass = None
            return
        count, key = len(rules.panes), (rules.place, canvas.size)
        if self._glass is None or self._glass[0] != key or self._glass[1] > count:
            side = canvas.length(2 * RADIUS + 8)
            self._glass = (key, 0, pygame.Surface((side, side), pygame.SRCALPHA, 32))
        _, drawn, picture = self._glass
        for number in range(drawn, count):
            self._add_pane(picture, canvas.scale, number, rules.panes[number], rules)
        self._glass = (key, count, picture)
        picture.set_alpha(round(255 * rules.broken) if rules.broken > 0 else 255)
        canvas.paste(picture, MIDDLE, "center")

    def _add_pane(self, picture: pygame.Surface, scale: float, number: int, pane: Pane, rules: RoseRules) -> None:
        half = picture.get_width() / 2

        def pixel(turn: float, height: float) -> Point:
            x, y = at(turn, height)
            return (x - MIDDLE[0]) * scale + half, (y - MIDDLE[1]) * scale + half

        first, last = number / PROFILE_POINTS, (number + 1) / PROFILE_POINTS
        rings = 4
        for ring in range(rings):
            low, high = pane.height * ring / rings, pane.height * (ring + 1) / rings
            colour = rules.design.melt.glass[(ring + number // 4 % 2) % 4]
            shade = mixed(colour, DULL, 0.12 * (number % 2) if pane.true else 0.62)
            corners = [pixel(first, low), pixel(first, high), pixel(last, high), pixel(last, low)]
            pygame.draw.polygon(picture, shade, corners)
            pygame.draw.aalines(picture, LEAD, True, corners)
        pygame.draw.line(picture, LEAD, pixel(first, pane.height), pixel(last, pane.height), max(1, round(3 * scale)))

    # --- the arm -----------------------------------------------------------------------------------------------------
    def _draw_arm(self, canvas: Canvas, rules: RoseRules) -> None:
        """It points to the moment; the iron on it stands as far out as the effort is."""
        degrees = -360.0 * rules.turn
        self._arm.at(degrees % 360.0).draw(canvas.surface, *MIDDLE)
        for side in (-1, 1):
            x, y = at(rules.turn, min(max(rules.gate + side * rules.half, 0.0), 1.0))
            canvas.disc(LEAD, (x, y), 7)
            canvas.disc(LEAD_LIGHT, (x, y), 5)
            shine(canvas.surface, canvas.at((x, y)), (canvas.length(56),) * 2, LIT, 0.15 + 0.5 * rules.glow)
        x, y = at(rules.turn, rules.iron)
        shine(canvas.surface, canvas.at((x, y)), (canvas.length(90),) * 2, LIT, 0.3 + 0.4 * rules.glow)
        self._iron.at(degrees % 360.0).draw(canvas.surface, x, y)
