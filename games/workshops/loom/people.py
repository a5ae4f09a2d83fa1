"""Who is at the loom: the weaver at his cord, the girl who winds yarn, a sheep that looks on."""

from __future__ import annotations

import math

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.paper import PaperBox, Sheet
from musclewood.games.workshops.loom.rules import LoomRules
from musclewood.games.workshops.loom.warp import edge_x, row_y
from musclewood.games.workshops.poses import raised, turned_about

NEARER = 176.0  # how far from where he is drawn the weaver sits
PULLEYS = ((430.0, 266.0), (850.0, 266.0))
SHOULDER, GRIP = (152.0, 450.0), (238.0, 436.0)  # his arm turns about the first; the second is his hand in the drawing
ARM_UP, ARM_DOWN = 26.0, -34.0  # degrees
NECK, ELBOW, AXLE = (672.0, 580.0), (476.0, 640.0), (579.0, 634.0)
POSES = 24
CORD, CORD_DARK = (233, 217, 184), (86, 66, 60)


def poses(sheet: Sheet, pivot: tuple[float, float], first: float, last: float) -> list[Sheet]:
    """A part turned to evenly spaced angles, so that play only blits."""
    return [sheet.turned(first + (last - first) * n / (POSES - 1), pivot) for n in range(POSES)]


def pose(of: list[Sheet], share: float) -> Sheet:
    return of[round(min(max(share, 0.0), 1.0) * (POSES - 1))]


class People:
    """The weaver pulls exactly as hard as the muscle works; the others answer in their own time."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = ("weaver", "sheep", "winder")
        self._sheet = {name: box.sheet(f"loom/{name}.svg") for name in names}
        self._arm = poses(box.sheet("loom/weaver_arm.svg"), SHOULDER, ARM_UP, ARM_DOWN)
        self._head = poses(box.sheet("loom/sheep_head.svg"), NECK, -10.0, 12.0)
        self._winding = poses(box.sheet("loom/winder_arm.svg"), ELBOW, -7.0, 10.0)
        self._cheer = poses(box.sheet("loom/winder_arm.svg"), ELBOW, 0.0, 58.0)
        self._swift = poses(box.sheet("loom/swift.svg"), (0.0, 0.0), 0.0, 57.5)

    def _draw_sheep(self, canvas: Canvas, rules: LoomRules, time_s: float) -> None:
        """It chews, and looks up for a finished band."""
        chew = 0.5 if self._still else 0.5 + 0.3 * math.sin(time_s * 2.3) * (0.5 + 0.5 * math.sin(time_s * 0.31))
        look = smooth(min(1.0, 2.5 * rules.cheer))
        self._sheet["sheep"].draw(canvas.surface)
        pose(self._head, chew * (1 - look)).draw(canvas.surface)

    def draw(self, canvas: Canvas, rules: LoomRules, time_s: float) -> None:
        self._draw_sheep(canvas, rules, time_s)
        self._draw_cord(canvas, rules)
        self._sheet["weaver"].draw(canvas.surface, dx=NEARER)
        pose(self._arm, rules.shuttle).draw(canvas.surface, dx=NEARER)
        self._draw_winder(canvas, rules, time_s)

    def _draw_cord(self, canvas: Canvas, rules: LoomRules) -> None:
        """From his hand over both pulleys and down the posts to the shuttles: he draws the halves apart."""
        x, hand_y = turned_about(SHOULDER, GRIP, ARM_UP + (ARM_DOWN - ARM_UP) * rules.shuttle)
        hand = (NEARER + x, hand_y)
        y = row_y(min(max(rules.at_s / rules.hold_s, 0.0), 1.0))
        (left, over), (right, above) = PULLEYS
        for colour, width in ((CORD_DARK, 4.0), (CORD, 2.0)):
            canvas.line(colour, [hand, (left - 10, over), (left, over - 11), (right, above - 11)], width)
            for x, way in ((left + 12, -1), (right - 12, 1)):
                canvas.line(colour, [(x, over), (x + 4 * -way, y), (edge_x(rules.shuttle, way) + 70 * way, y)], width)

    def _draw_winder(self, canvas: Canvas, rules: LoomRules, time_s: float) -> None:
        """She winds while cloth is made, and lifts her hand for a finished band."""
        up = raised(rules.cheer)
        turning = 0.0 if self._still else time_s * (0.35 + 1.1 * rules.glow)
        self._swift[int(turning * POSES) % POSES].draw(canvas.surface, *AXLE)
        self._sheet["winder"].draw(canvas.surface)
        swing = 0.5 if self._still else 0.5 + 0.5 * math.sin(2 * math.pi * turning)
        (pose(self._cheer, up) if up > 0.02 else pose(self._winding, swing)).draw(canvas.surface)
