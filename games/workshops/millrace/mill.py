"""Inside the mill: grain runs out of the hopper, the stones turn, the sack fills. That is the hold, and what is left of
it."""

from __future__ import annotations

import math

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.millrace.rules import MillraceRules

AXIS = 932.0
HOPPER_TOP, HOPPER_FOOT = 337.0, 378.0  # stage heights of a full and of an empty hopper
SACK_TOP, SACK_FOOT = 518.0, 608.0
GRAIN, GRAIN_LIGHT, FURROW, FLOUR = (222, 170, 72), (246, 208, 120), (112, 106, 124), (250, 244, 228)
LAMP = (255, 196, 110)


def grain_top(share: float) -> float:
    """Stage y of the grain in the hopper's window."""
    return HOPPER_FOOT - (HOPPER_FOOT - HOPPER_TOP) * share


def flour_top(share: float) -> float:
    """Stage y of the flour in the open sack."""
    return SACK_FOOT - (SACK_FOOT - SACK_TOP) * share


class Works:
    """Hopper, stones and sack."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = ("stone", "hopper", "chute", "sack_frame", "sack_limp", "sack_full", "bunting")
        self._sheet = {name: box.sheet(f"millrace/{name}.svg") for name in names}

    def draw(self, canvas: Canvas, rules: MillraceRules, time_s: float) -> None:
        surface = canvas.surface
        warm = 0.14 + 0.3 * rules.race
        shine(surface, canvas.at((AXIS, 420)), (canvas.length(330), canvas.length(240)), LAMP, warm)
        shine(surface, canvas.at((AXIS, 560)), (canvas.length(300), canvas.length(190)), LAMP, warm)
        shake = 0.0 if self._still else 1.1 * rules.race * math.sin(time_s * 31.0)
        self._sheet["stone"].draw(surface)
        self._furrows(canvas, rules)
        self._sheet["hopper"].draw(surface, dx=shake)
        self._grain(canvas, rules, shake)
        self._sheet["sack_frame"].draw(surface)
        self._sheet["chute"].draw(surface)
        if len(rules.made) < rules.asked or rules.ground > 0:
            self._sack(canvas, rules)
        if "bunting" in rules.gains:
            self._sheet["bunting"].draw(surface)

    def _furrows(self, canvas: Canvas, rules: MillraceRules) -> None:
        """Cuts in the runner's rim come round the front and vanish at the side."""
        for n in range(9):
            turn = rules.wheel * 1.8 + n * 2 * math.pi / 9
            if math.cos(turn) > 0.1:
                x = AXIS + 56 * math.sin(turn)
                canvas.line(FURROW, [(x, 413), (x + 5 * math.sin(turn), 434)], 1.0 + 3.0 * math.cos(turn))

    def _grain(self, canvas: Canvas, rules: MillraceRules, shake: float) -> None:
        top = grain_top(rules.grain)
        if rules.grain > 0.01:
            wide = 11 + 25 * (HOPPER_FOOT - top) / (HOPPER_FOOT - HOPPER_TOP)
            x = AXIS + shake
            canvas.shape(GRAIN, [(x - wide, top), (x + wide, top), (x + 11, HOPPER_FOOT), (x - 11, HOPPER_FOOT)])
            canvas.line(GRAIN_LIGHT, [(x - wide + 1, top), (x + wide - 1, top)], 2.4)
        if rules.race > 0.1:
            canvas.line(GRAIN, [(AXIS, 394), (AXIS, 405)], 1.0 + 3.0 * rules.race)

    def _sack(self, canvas: Canvas, rules: MillraceRules) -> None:
        """Dark cloth while it is empty; flour stands in it as high as time was earned."""
        surface, top = canvas.surface, flour_top(rules.ground)
        self._sheet["sack_limp"].draw(surface)
        if rules.ground > 0:
            surface.set_clip(canvas.area((870, top, 124, 620 - top)))
            self._sheet["sack_full"].draw(surface)
            surface.set_clip(None)
            if 0 < rules.ground < 1:
                canvas.line(FLOUR, [(898, top), (932, top - 5), (966, top)], 3.0)
        if rules.race > 0.1:
            canvas.line(FLOUR, [(AXIS, 508), (AXIS, top)], 1.0 + 4.0 * smooth(rules.race))
            shine(
                surface, canvas.at((AXIS, top - 4)), (canvas.length(84), canvas.length(26)), (210, 190, 150), rules.race
            )
