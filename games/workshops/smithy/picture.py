"""The smithy's picture: the evening behind, the drop hammer in the middle, its people, and the keys on their board."""

from __future__ import annotations

import math
from functools import partial

import pygame
from musclewood.games.engine.rep_events import RepView
from musclewood.games.kit.canvas import Canvas, Point
from musclewood.games.kit.evening import Land
from musclewood.games.kit.motion import Motes, smooth
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup
from musclewood.games.workshops.backdrop import Backdrop, FallingLeaves, Lanterns, dim
from musclewood.games.workshops.poses import Poses, raised, turned_about
from musclewood.games.workshops.rack import Keeping, Rack
from musclewood.games.workshops.smithy.hammer import BLOCK, Hammer
from musclewood.games.workshops.smithy.keys import key_image
from musclewood.games.workshops.smithy.rules import SmithyRules

LAND = Land(
    layers=(
        ("smithy/far.svg", 14.0),
        ("smithy/village.svg", 7.0),
        ("smithy/yard.svg", 0.0),
        ("smithy/front.svg", -8.0),
    ),
    lit=("smithy/village.svg",),
    horizon=420.0,
    sun=(420.0, 330.0),
    until_x=980.0,
)
RACK = Rack(1006.0, 230.0, (410.0, 478.0, 552.0), 64.0, (640.0, 500.0), 150.0, lift=60.0)
LANTERNS = ((980.0, 404.0), (1256.0, 404.0))
SHOULDER, GRIP, HIGH, LOW = (430.0, 452.0), (502.0, 430.0), 32.0, -22.0  # her arm: turned as far at rest and at most
ELBOW, FLUE = (810.0, 524.0), (868.0, 240.0)
STEAM, SMOKE = (226, 226, 240), (86, 78, 96)
PUFFS = 5


class SmithyPicture:
    """Reads `SmithyRules`; holds nothing but pictures and the drift of steam and leaves."""

    def __init__(self, stage: PictureSetup) -> None:
        self._box, self._still = stage.box, stage.reduced_motion
        self._hammer = Hammer(stage.box, stage.reduced_motion)
        self._people = People(stage.box, stage.reduced_motion)
        self._lanterns = Lanterns(stage.box.sheet("smithy/lantern.svg"), LANTERNS)
        self._leaves = FallingLeaves(stage.box.sheet("smithy/leaf.svg"), stage.reduced_motion)
        self._puffs = {colour: _tinted(stage.box, colour) for colour in (STEAM, SMOKE)}
        self._steam, self._smoke = Motes(6, 14), Motes(9, 16)
        self._keys = Keeping(RACK, key_image, stage.reduced_motion)
        self._backdrop = Backdrop(partial(LAND.evening, stage.box))

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._keys.painter.settle()
        self._backdrop.settle()

    def draw(self, canvas: Canvas, rules: SmithyRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = self._backdrop.draw(canvas, rules.windows_lit, time_s)
        self._keys.draw_kept(canvas, rules)
        self._people.draw_behind(canvas, rules)
        self._hammer.draw(canvas, rules, self._people.hand(rules), time_s, step_s)
        self._people.draw(canvas, rules, time_s)
        self._drift(canvas, rules, step_s)
        self._leaves.draw(canvas, step_s)
        dim(canvas, rules)
        self._lanterns.draw(canvas, rules)
        self._keys.draw_carried(canvas, rules)

    def _drift(self, canvas: Canvas, rules: SmithyRules, step_s: float) -> None:
        """A missed bar steams; lifted too hard, the fire is blown to dark smoke."""
        if self._still:
            for n in range(3):
                self._paste(canvas, SMOKE, 1 + n, 210 * rules.strain, (FLUE[0] + 12 * n, FLUE[1] - 30 * n))
                self._paste(canvas, STEAM, 1 + n, 150 * rules.steam, (BLOCK[0] - 20 + 20 * n, BLOCK[1] - 24 * n))
            return
        self._steam.step(step_s, 12.0 if rules.steam > 0.4 else 0.0, BLOCK, (4, -46), 1.3)
        self._smoke.step(step_s, 1.0 + 9.0 * rules.strain, FLUE, (14, -40), 2.6)
        for motes, colour, alpha in ((self._steam, STEAM, 120), (self._smoke, SMOKE, 90 + 130 * rules.strain)):
            for mote in motes.all:
                shown = alpha * smooth(4 * mote.share) * (1 - mote.share)
                self._paste(canvas, colour, min(int(mote.share * PUFFS), PUFFS - 1), shown, (mote.x, mote.y))

    def _paste(self, canvas: Canvas, colour: tuple[int, int, int], size: int, alpha: float, at: Point) -> None:
        image = self._puffs[colour][size]
        image.set_alpha(round(alpha))
        canvas.paste(image, at, "center")


def _tinted(box: PaperBox, colour: tuple[int, int, int]) -> list[pygame.Surface]:
    puff = box.sheet("smithy/puff.svg").surface
    shades = []
    for n in range(PUFFS):
        wide = round((0.4 + 0.8 * n / (PUFFS - 1)) * puff.get_width())
        image = pygame.transform.smoothscale(puff, (wide, wide))
        image.fill((*colour, 255), special_flags=pygame.BLEND_RGBA_MULT)
        shades.append(image)
    return shades


class People:
    """The smith pulls exactly as hard as the muscle works; her grandfather minds the fire."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        self._sheet = {name: box.sheet(f"smithy/{name}.svg") for name in ("smith", "elder", "walker", "bellows")}
        self._arm = Poses(box.sheet("smithy/arm.svg"), SHOULDER)
        self._far = Poses(box.sheet("smithy/arm_far.svg"), SHOULDER)
        self._fan = Poses(box.sheet("smithy/elder_arm.svg"), ELBOW)

    @staticmethod
    def _turn(rules: SmithyRules) -> float:
        return HIGH + (LOW - HIGH) * rules.lift

    def hand(self, rules: SmithyRules) -> Point:
        """Where her hand holds the rope."""
        return turned_about(SHOULDER, GRIP, self._turn(rules))

    def draw_behind(self, canvas: Canvas, rules: SmithyRules) -> None:
        """Her far arm, which is a tool of her own making."""
        self._far.at(self._turn(rules) - 4.0).draw(canvas.surface)

    def draw(self, canvas: Canvas, rules: SmithyRules, time_s: float) -> None:
        surface = canvas.surface
        self._sheet["smith"].draw(surface)
        self._arm.at(self._turn(rules)).draw(surface)
        self._sheet["bellows"].draw(surface)
        self._sheet["elder"].draw(surface)
        up = raised(rules.cheer)
        fan = 0.0 if self._still else 6.0 * math.sin(2.2 * time_s) * (0.4 + 0.6 * rules.heat)
        self._fan.at(round(fan * (1 - up) - 52.0 * up)).draw(surface)
        self._sheet["walker"].draw(surface)
