"""The harebell that shows the muscle: upright between two reeds while it is quiet, bent over the second when it stirs.

The second reed stands just where the quiet limit is. A thread of dew hangs between the two as long as the stalk keeps
within them.
"""

from __future__ import annotations

import math

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import Motes
from musclewood.games.kit.paper import PaperBox, Sheet
from musclewood.games.workshops.hide.rules import FULL_BEND, HideRules

FOOT, TIP = (612.0, 714.0), (622.0, 424.0)
REED_FOOT = (656.0, 712.0)
THREAD = ((558.0, 400.0), (702.0, 400.0))  # of dew, from reed to reed
UPRIGHT, PER_LIMIT = 1.5, -13.5  # degrees, anticlockwise: with no effort, and for each multiple of the limit
POSES = 61
DEW, BELL = (170, 205, 240), (110, 160, 230)


def turn_of(bend: float) -> float:
    """Degrees of the stalk for an effort as a multiple of the quiet limit."""
    return UPRIGHT + PER_LIMIT * min(max(bend, 0.0), FULL_BEND)


def tip_of(bend: float) -> tuple[float, float]:
    """Stage place of the topmost bell."""
    turn = math.radians(turn_of(bend))
    x, y = TIP[0] - FOOT[0], TIP[1] - FOOT[1]
    return FOOT[0] + x * math.cos(turn) + y * math.sin(turn), FOOT[1] - x * math.sin(turn) + y * math.cos(turn)


class Stalk:
    """Harebell, reeds and dew; every pose is made once."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        self._left = box.sheet("hide/reed_left.svg")
        right, bell = box.sheet("hide/reed_right.svg"), box.sheet("hide/harebell.svg")
        self._poses: list[Sheet | None] = [None] * POSES
        self._bell, self._right = bell, right
        self._pushed: list[Sheet | None] = [None] * 12
        self._drops = Motes(9, 10)
        for n in range(POSES // 2):  # the usual ones beforehand, the wild ones when they are first wanted
            self._pose(n)

    def draw(self, canvas: Canvas, rules: HideRules, step_s: float) -> None:
        self._left.draw(canvas.surface)
        push = min(max(rules.bend - 1.0, 0.0) / (FULL_BEND - 1.0), 1.0)
        self._reed(round(push * (len(self._pushed) - 1))).draw(canvas.surface)
        self._draw_dew(canvas, rules, step_s)
        self._pose(round(rules.bend / FULL_BEND * (POSES - 1))).draw(canvas.surface)
        x, y = tip_of(rules.bend)
        shine(canvas.surface, canvas.at((x, y + 24)), (canvas.length(150),) * 2, BELL, 0.1 + 0.4 * rules.glow)

    def _pose(self, number: int) -> Sheet:
        number = min(max(number, 0), POSES - 1)
        found = self._poses[number]
        if found is None:
            found = self._poses[number] = self._bell.turned(turn_of(number / (POSES - 1) * FULL_BEND), FOOT)
        return found

    def _reed(self, number: int) -> Sheet:
        """The second reed, pushed aside by a stalk that leans on it."""
        found = self._pushed[number]
        if found is None:
            found = self._pushed[number] = self._right.turned(-16.0 * number / (len(self._pushed) - 1), REED_FOOT)
        return found

    def _draw_dew(self, canvas: Canvas, rules: HideRules, step_s: float) -> None:
        """Drops on a spider's thread; they fall when the stalk tears at it."""
        whole = 1.0 - rules.stirred
        (x0, y0), (x1, y1) = THREAD
        if whole > 0.25:
            points = [
                (x0 + (x1 - x0) * t, y0 + (y1 - y0) * t + 44 * 4 * t * (1 - t)) for t in (n / 10 for n in range(11))
            ]
            canvas.line((200, 212, 232), points, 1.6)
            for n, (x, y) in enumerate(points[1:-1]):
                size = 3.6 if n % 2 else 2.6
                canvas.disc((226, 238, 252), (x, y + 2), size * whole)
                shine(canvas.surface, canvas.at((x, y + 2)), (canvas.length(26),) * 2, DEW, 0.2 + 0.5 * rules.glow)
        if self._still:
            return
        self._drops.step(step_s, 7.0 if rules.stirred > 0.3 else 0.0, ((x0 + x1) / 2, y0 + 36), (0, 120), 1.2)
        for drop in self._drops.all:
            canvas.disc((200, 220, 245), (drop.x + 3 * (drop.spin / 60 - 3), drop.y), 2.4)
