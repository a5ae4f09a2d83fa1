"""The rope on the walk: over two pulleys with a basket in its middle, three loose strands before the top, laid rope
behind it.

Read from afar: the height of the knot is the effort, the two bars of the frame are the band, how far the top has run is
the time held.
"""

from __future__ import annotations

import math

from musclewood.games.kit.canvas import Canvas, Point
from musclewood.games.kit.light import shine
from musclewood.games.kit.palette import mixed
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.poses import Poses
from musclewood.games.workshops.ropewalk.rules import RopeRules
from musclewood.games.workshops.ropewalk.strands import HEMP

LEFT, MIDDLE, RIGHT = 352.0, 632.0, 912.0
PULLEY_Y, RADIUS = 262.0, 17.0
SLACK, TIGHT = 516.0, 288.0  # stage heights of the knot without effort and at the most that is shown
HOOKS = (912.0, 500.0)
PIECES = 30  # of rope on each side of the knot
DARK, LIT, LIGHT = (40, 32, 52), (255, 214, 130), (255, 250, 232)


def knot_y(height: float) -> float:
    """Stage y of a height of the knot."""
    return SLACK - height * (SLACK - TIGHT)


def rope_at(share: float, knot: float) -> Point:
    """The point at a share of the way from the left pulley over the knot to the right one."""
    x = LEFT + (RIGHT - LEFT) * share
    away = abs(2 * share - 1)  # 0 at the knot, 1 at a pulley
    top, deep = PULLEY_Y - RADIUS, knot - PULLEY_Y + RADIUS
    return x, top + deep * (1 - away - 0.22 * math.sin(math.pi * away) * (1 - away))


class Walk:
    """Draws frame, rope, basket and hooks."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = ("mark_low", "mark_high", "basket", "hen", "hen_wing", "hen_wing_up", "top")
        self._sheet = {name: box.sheet(f"ropewalk/{name}.svg") for name in names}
        self._pulley = Poses(box.sheet("ropewalk/pulley.svg"), (0.0, 0.0), 6.0)
        self._hooks = Poses(box.sheet("ropewalk/hooks.svg"), (0.0, 0.0), 6.0)

    def draw(self, canvas: Canvas, rules: RopeRules, hands: Point, time_s: float) -> None:
        """All that the rope goes through; `hands` is where the rope maker holds it."""
        knot = knot_y(rules.haul)
        self._draw_marks(canvas, rules)
        turn = 360.0 * (0.0 if self._still else rules.turn * 0.9)
        self._hooks.at(-(turn % 60.0)).draw(canvas.surface, *HOOKS)
        self._line(canvas, [(RIGHT + RADIUS, PULLEY_Y), (HOOKS[0] + 26, HOOKS[1] - 8)])
        self._line(canvas, [hands, (LEFT - RADIUS, PULLEY_Y)])
        self._draw_rope(canvas, rules, knot)
        for x in (LEFT, RIGHT):
            self._pulley.at(-((rules.haul * 260.0) % 60.0)).draw(canvas.surface, x, PULLEY_Y)
        self._draw_basket(canvas, rules, knot, time_s)

    def _draw_marks(self, canvas: Canvas, rules: RopeRules) -> None:
        """The two bars; their lamps burn while the knot hangs between them."""
        for name, height in (("mark_high", rules.mark_high), ("mark_low", rules.mark_low)):
            y = knot_y(height)
            self._sheet[name].draw(canvas.surface, MIDDLE, y)
            for x in (MIDDLE - 83, MIDDLE + 83):
                shine(canvas.surface, canvas.at((x, y)), (canvas.length(64),) * 2, LIT, 0.12 + 0.55 * rules.glow)

    def _draw_rope(self, canvas: Canvas, rules: RopeRules, knot: float) -> None:
        """Laid rope up to the top, three strands beyond it; what a miss undoes falls apart again."""
        laid = max(rules.laid, rules.unlaid)
        points = [rope_at(n / (2 * PIECES), knot) for n in range(2 * PIECES + 1)]
        cut = round(laid * 2 * PIECES)
        colours = rules.lay.strands
        for strand, colour in enumerate(colours):
            loose = [
                (x, y + (strand - 1) * 5.0 * min(1.0, 0.3 * (len(points) - cut - n) / 3))
                for n, (x, y) in enumerate(points[cut:])
            ]
            if len(loose) > 1:
                canvas.line(mixed(colour, DARK, 0.25), loose, 2.6)
        if cut > 0:
            self._draw_laid(canvas, rules, points[: cut + 1])
        if 0.0 < laid < 1.0 and rules.unlaid < 0.05:
            x, y = rope_at(laid, knot)
            shine(canvas.surface, canvas.at((x, y)), (canvas.length(100),) * 2, LIT, 0.5 * rules.glow)
            self._sheet["top"].draw(canvas.surface, x, y)

    def _draw_laid(self, canvas: Canvas, rules: RopeRules, points: list[Point]) -> None:
        canvas.line(DARK, points, 13)
        canvas.line(HEMP, points, 10.5)
        steep = rules.lay.steep
        for n, (x, y) in enumerate(points[:-1]):
            colour = rules.lay.strands[n % 3]
            run = points[n + 1]
            middle = ((x + run[0]) / 2, (y + run[1]) / 2)
            slant = 5.0 * steep
            canvas.line(
                mixed(colour, LIGHT, 0.12),
                [(middle[0] - slant, middle[1] - 4.2), (middle[0] + slant, middle[1] + 4.2)],
                5.0,
            )
            canvas.line(
                mixed(colour, DARK, 0.55),
                [(middle[0] - slant + 5, middle[1] - 5), (middle[0] + slant + 5, middle[1] + 5)],
                1.4,
            )

    def _line(self, canvas: Canvas, points: list[Point]) -> None:
        canvas.line(DARK, points, 7)
        canvas.line(mixed(HEMP, DARK, 0.15), points, 4.4)

    def _draw_basket(self, canvas: Canvas, rules: RopeRules, knot: float, time_s: float) -> None:
        """The hen rides in it; hauled too hard she lifts her wings."""
        surface = canvas.surface
        bob = 0.0 if self._still else 0.7 * math.sin(1.9 * time_s)
        self._sheet["hen"].draw(surface, MIDDLE, knot + bob)
        wing = "hen_wing_up" if rules.fray > 0.4 else "hen_wing"
        self._sheet[wing].draw(surface, MIDDLE, knot + bob)
        self._sheet["basket"].draw(surface, MIDDLE, knot)
        shine(surface, canvas.at((MIDDLE, knot)), (canvas.length(66),) * 2, LIT, 0.2 + 0.3 * rules.glow)
        canvas.disc(DARK, (MIDDLE, knot), 10)
        canvas.disc(rules.lay.strands[1], (MIDDLE, knot), 8)
        canvas.disc(mixed(rules.lay.strands[1], LIGHT, 0.5), (MIDDLE - 2, knot - 2), 3)
