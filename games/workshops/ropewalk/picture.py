"""The rope walk's picture: the evening behind, the walk across the middle, its people, and the coils on their pegs."""

from __future__ import annotations

import math
from functools import partial

from musclewood.games.engine.rep_events import RepView
from musclewood.games.kit.canvas import Canvas, Point
from musclewood.games.kit.evening import Land
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup
from musclewood.games.workshops.backdrop import Backdrop, Chips, FallingLeaves, Lanterns, dim
from musclewood.games.workshops.poses import Poses, raised, turned_about
from musclewood.games.workshops.rack import Keeping, Rack
from musclewood.games.workshops.ropewalk.coils import coil_image
from musclewood.games.workshops.ropewalk.rules import RopeRules
from musclewood.games.workshops.ropewalk.walk import HOOKS, MIDDLE, Walk, knot_y

LAND = Land(
    layers=(
        ("ropewalk/far.svg", 14.0),
        ("ropewalk/village.svg", 7.0),
        ("ropewalk/yard.svg", 0.0),
        ("ropewalk/front.svg", -8.0),
    ),
    lit=("ropewalk/village.svg",),
    horizon=420.0,
    sun=(760.0, 330.0),
    until_x=980.0,
)
RACK = Rack(1006.0, 230.0, (414.0, 482.0, 556.0), 62.0, (632.0, 420.0), 150.0)
LANTERNS = ((980.0, 404.0), (1256.0, 404.0))
FEET, HANDS, LEAN = (214.0, 632.0), (316.0, 478.0), 19.0  # the maker turns about her feet; how far, in degrees
SHOULDER = (848.0, 534.0)


class RopePicture:
    """Reads `RopeRules`; holds nothing but pictures and the drift of fibres and leaves."""

    def __init__(self, stage: PictureSetup) -> None:
        self._box, self._still = stage.box, stage.reduced_motion
        self._walk = Walk(stage.box, stage.reduced_motion)
        self._people = People(stage.box, stage.reduced_motion)
        self._lanterns = Lanterns(stage.box.sheet("ropewalk/lantern.svg"), LANTERNS)
        self._leaves = FallingLeaves(stage.box.sheet("ropewalk/leaf.svg"), stage.reduced_motion)
        self._fibres = Chips(stage.box.sheet("ropewalk/fibre.svg"), (9.0, 7.0), 6, 18)
        self._coils = Keeping(RACK, coil_image, stage.reduced_motion)
        self._backdrop = Backdrop(partial(LAND.evening, stage.box))

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._coils.painter.settle()
        self._backdrop.settle()

    def draw(self, canvas: Canvas, rules: RopeRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = self._backdrop.draw(canvas, rules.windows_lit, time_s)
        self._coils.draw_kept(canvas, rules)
        hands = self._people.draw_maker(canvas, rules)
        self._walk.draw(canvas, rules, hands, time_s)
        self._people.draw_boy(canvas, rules, time_s)
        self._drift(canvas, rules, step_s)
        self._leaves.draw(canvas, step_s)
        dim(canvas, rules)
        self._lanterns.draw(canvas, rules)
        self._coils.draw_carried(canvas, rules)

    def _drift(self, canvas: Canvas, rules: RopeRules, step_s: float) -> None:
        """Hauled too hard the rope frays: fibres spring off and are lost."""
        at = (MIDDLE, knot_y(rules.haul) - 6)
        if self._still:
            self._fibres.lie(canvas, rules.fray, [(at[0] - 46 + 30 * n, at[1] - 16 - 9 * (n % 2)) for n in range(4)])
        else:
            self._fibres.fly(canvas, step_s, 12.0 * rules.fray if rules.fray > 0.15 else 0.0, at, (26, -34), 1.8)


class People:
    """The rope maker leans back exactly as hard as the muscle works; the others answer in their own time."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        self._maker = Poses(box.sheet("ropewalk/maker.svg"), FEET, 0.5)
        self._boy, self._dog = box.sheet("ropewalk/boy.svg"), box.sheet("ropewalk/dog.svg")
        self._arm = Poses(box.sheet("ropewalk/boy_arm.svg"), SHOULDER)

    def draw_maker(self, canvas: Canvas, rules: RopeRules) -> Point:
        """Draws her and gives the place of her hands."""
        lean = LEAN * rules.haul - 3.0
        self._maker.at(lean).draw(canvas.surface)
        return turned_about(FEET, HANDS, lean)

    def draw_boy(self, canvas: Canvas, rules: RopeRules, time_s: float) -> None:
        """He turns the hooks while rope is laid, and waves for a finished coil; the dog sleeps through it all."""
        breath = 0.0 if self._still else 0.8 * math.sin(1.6 * time_s)
        self._dog.draw(canvas.surface, dy=-abs(breath))
        self._boy.draw(canvas.surface)
        up = raised(rules.cheer)
        wind = 0.0 if self._still else 14.0 * math.sin(2 * math.pi * 0.9 * rules.turn)
        reach = math.degrees(math.atan2(SHOULDER[1] - HOOKS[1], HOOKS[0] - SHOULDER[0]))
        self._arm.at(round((0.4 * reach + wind) * (1 - up) + 78.0 * up)).draw(canvas.surface)
