"""The watcher, her field book, and the pencil that adds lines while it is quiet."""

from __future__ import annotations

import math

import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.hide.rules import HideRules
from musclewood.games.workshops.hide.sketches import draw_ground, draw_lines

LEAF = (306.0, 470.0, 152.0, 152.0)  # the open page on the stage
FINE = 2
ELBOW, SHOULDER = (228.0, 556.0), (194.0, 508.0)
RESTING = (330.0, 600.0)  # where the pencil waits
SLEEVE, SLEEVE_DARK = (76, 124, 96), (45, 82, 64)


class Watcher:
    """Keeps the page that is being drawn and adds only what is new."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        self._sheet = {name: box.sheet(f"hide/{name}.svg") for name in ("watcher", "book", "hand")}
        self._page: pygame.Surface | None = None  # FINE times as large as it is shown
        self._shown: pygame.Surface | None = None
        self._drawn: tuple[object, float] = (None, 0.0)
        self._tip = (0.3, 0.8)

    def draw(self, canvas: Canvas, rules: HideRules, time_s: float) -> None:
        breath = 0.0 if self._still else 0.8 * math.sin(time_s * 1.4)
        self._sheet["watcher"].draw(canvas.surface, 0.0, breath)
        self._sheet["book"].draw(canvas.surface)
        canvas.surface.blit(self._sketch(canvas, rules), canvas.at((LEAF[0], LEAF[1])))
        self._draw_arm(canvas, rules, breath)

    def _sketch(self, canvas: Canvas, rules: HideRules) -> pygame.Surface:
        """The lines so far. A rubbed-out beginning or a new page starts afresh."""
        key, (before, share) = (rules.attempt, rules.visitor.name), self._drawn
        side = canvas.length(LEAF[2])
        if self._page is None or self._shown is None or key != before or rules.sketched < share:
            self._page, share = pygame.Surface((side * FINE, side * FINE), pygame.SRCALPHA, 32), 0.0
            self._shown = pygame.Surface((side, side), pygame.SRCALPHA, 32)
        if rules.sketched > share:
            bend = rules.bend
            self._tip = draw_lines(self._page, rules.visitor, rules.sketched, lambda _: bend, since=share)
            if rules.sketched >= 1.0:
                draw_ground(self._page, [bend for _, bend in rules.trace[:: max(1, len(rules.trace) // 48)]])
            self._shown = pygame.transform.smoothscale(self._page, (side, side))
        self._drawn = (key, rules.sketched)
        return self._shown

    def _draw_arm(self, canvas: Canvas, rules: HideRules, breath: float) -> None:
        """The pencil follows the line; it is lifted while something stirs, and rests between two sketches."""
        at_work = rules.glow * (1.0 if 0 < rules.sketched < 1 else 0.0)
        tip = (LEAF[0] + self._tip[0] * LEAF[2], LEAF[1] + self._tip[1] * LEAF[3])
        x = RESTING[0] + (tip[0] - RESTING[0]) * at_work
        y = RESTING[1] + (tip[1] - RESTING[1]) * at_work - 10 * rules.stirred + breath
        wrist, elbow = (x - 30, y + 22), (ELBOW[0], ELBOW[1] + breath)
        shoulder = (SHOULDER[0], SHOULDER[1] + breath)
        for colour, more in ((SLEEVE_DARK, 5.0), (SLEEVE, 0.0)):
            _limb(canvas, colour, shoulder, elbow, 25 + more, 21 + more)
            _limb(canvas, colour, elbow, wrist, 21 + more, 15 + more)
        self._sheet["hand"].draw(canvas.surface, x, y)


def _limb(
    canvas: Canvas,
    colour: tuple[int, int, int],
    start: tuple[float, float],
    end: tuple[float, float],
    thick: float,
    thin: float,
) -> None:
    """A tapering sleeve with round ends."""
    along = pygame.Vector2(end) - pygame.Vector2(start)
    if along.length() < 0.1:
        return
    side = along.normalize().rotate(90)
    a, b = pygame.Vector2(start), pygame.Vector2(end)
    corners = [a + side * thick / 2, b + side * thin / 2, b - side * thin / 2, a - side * thick / 2]
    canvas.shape(colour, [(corner.x, corner.y) for corner in corners])
    canvas.disc(colour, start, thick / 2)
    canvas.disc(colour, end, thin / 2)
