"""Who is at the mill: the miller at his lever, the helper by the sacks, the otter on the sluice, cat and mice."""

from __future__ import annotations

import math

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.millrace.rules import MillraceRules
from musclewood.games.workshops.poses import Swing

SHOULDER, REACH = (92.0, 486.0), 61.0
ARM_UP, ARM_DOWN = 44.0, -30.0  # degrees; from a closed hatch to a wide open one
LEVER, LEFT_ARM, RIGHT_ARM = (208.0, 334.0), 88.0, 52.0
LEVER_UP, LEVER_DOWN = -9.0, 13.0  # its right end, in degrees above the horizontal
HELPERS_SHOULDER = (1005.0, 519.0)
WOOD, WOOD_LIGHT, ROPE, HATCH = (92, 60, 46), (150, 104, 68), (226, 208, 168), (74, 49, 66)
MICE = ((1078.0, 615.0), (846.0, 470.0))


class People:
    """The miller pulls just as hard as the muscle works; the others answer in their own time."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = ("miller", "cane", "helper", "otter", "cat", "mouse")
        self._sheet = {name: box.sheet(f"millrace/{name}.svg") for name in names}
        self._arm = Swing(box.sheet("millrace/miller_arm.svg"), SHOULDER, ARM_UP, ARM_DOWN)
        self._cheer = Swing(box.sheet("millrace/helper_arm.svg"), HELPERS_SHOULDER, 0.0, -122.0)
        self._head = Swing(box.sheet("millrace/otter_head.svg"), (470.0, 214.0), 0.0, -26.0)
        self._tail = Swing(box.sheet("millrace/cat_tail.svg"), (1206.0, 412.0), -6.0, 8.0)

    def draw(self, canvas: Canvas, rules: MillraceRules, time_s: float) -> None:
        self._draw_lever(canvas, rules.water)
        self._sheet["cane"].draw(canvas.surface)
        self._sheet["miller"].draw(canvas.surface)
        self._arm.at(rules.water).draw(canvas.surface)
        self._draw_otter(canvas, rules, time_s)
        self._draw_helper(canvas, rules.cheer, time_s)
        self._draw_beasts(canvas, rules, time_s)

    def _draw_lever(self, canvas: Canvas, effort: float) -> None:
        """Hatch, lever and rope: the hatch is up as far as the hand is down."""
        share = min(max(effort, 0.0), 1.0)
        turn = math.radians(LEVER_UP + (LEVER_DOWN - LEVER_UP) * share)
        left = (LEVER[0] - LEFT_ARM * math.cos(turn), LEVER[1] + LEFT_ARM * math.sin(turn))
        right = (LEVER[0] + RIGHT_ARM * math.cos(turn), LEVER[1] - RIGHT_ARM * math.sin(turn))
        arm = math.radians(ARM_UP + (ARM_DOWN - ARM_UP) * share)
        hand = (SHOULDER[0] + REACH * math.cos(arm), SHOULDER[1] - REACH * math.sin(arm))
        lift = 22.0 * share
        canvas.surface.fill(HATCH, canvas.area((255, 272 - lift, 11, 32)))
        canvas.surface.fill(WOOD_LIGHT, canvas.area((255, 272 - lift, 11, 3)))
        canvas.line((52, 50, 74), [right, (260, 302 - lift)], 3.0)
        canvas.line(WOOD, [left, right], 8.0)
        canvas.line(WOOD_LIGHT, [(left[0], left[1] - 2), (right[0], right[1] - 2)], 2.0)
        canvas.disc((52, 50, 74), LEVER, 4.0)
        canvas.line(ROPE, [left, hand, (hand[0] + 2, hand[1] + 34)], 2.4)

    def _draw_otter(self, canvas: Canvas, rules: MillraceRules, time_s: float) -> None:
        """Asleep on the beam; it looks up when the sluice comes down under it."""
        self._sheet["otter"].draw(canvas.surface)
        breath = 0.0 if self._still else 0.06 * (1 + math.sin(time_s * 1.5))
        self._head.at(max(smooth(rules.gate * 1.1 - 0.25), breath)).draw(canvas.surface)

    def _draw_helper(self, canvas: Canvas, cheer: float, time_s: float) -> None:
        up = smooth(min(1.0, 3 * cheer)) * smooth(min(1.0, 6 * (1 - cheer)))
        hop = 0.0 if self._still else -3.0 * up * abs(math.sin(time_s * 5.0))
        self._sheet["helper"].draw(canvas.surface, dy=hop)
        self._cheer.at(up).draw(canvas.surface, dy=hop)

    def _draw_beasts(self, canvas: Canvas, rules: MillraceRules, time_s: float) -> None:
        """They come as the mill grows known, and stay."""
        if "cat" in rules.gains:
            swing = 0.5 if self._still else 0.5 + 0.5 * math.sin(time_s * 0.9) * math.sin(time_s * 0.23)
            self._tail.at(swing).draw(canvas.surface)
            self._sheet["cat"].draw(canvas.surface)
        for name, (x, y) in zip(("mouse", "mice"), MICE, strict=True):
            if name in rules.gains:
                peek = 0.0 if self._still else 5.0 * smooth(3 * math.sin(time_s * 0.31 + x) - 1.6)
                self._sheet["mouse"].draw(canvas.surface, x + peek, y)
