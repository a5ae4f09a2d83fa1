"""The rope walk's picture: the evening behind, the walk across the middle, its people, and the coils on their pegs."""

from __future__ import annotations

import math

from musclewood.games.engine.rep_events import RepView
from musclewood.games.kit.canvas import Canvas, Point
from musclewood.games.kit.evening import Evening, Land
from musclewood.games.kit.light import shine, veil
from musclewood.games.kit.motion import Motes, smooth
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup
from musclewood.games.workshops.poses import Poses
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
NIGHT_VEIL, LAMP = (92, 108, 176), (255, 190, 100)
LANTERNS = ((980.0, 404.0), (1256.0, 404.0))
FEET, HANDS, LEAN = (214.0, 632.0), (316.0, 478.0), 19.0  # the maker turns about her feet; how far, in degrees
SHOULDER = (848.0, 534.0)


class RopePicture:
    """Reads `RopeRules`; holds nothing but pictures and the drift of fibres and leaves."""

    def __init__(self, stage: PictureSetup) -> None:
        self._box, self._still = stage.box, stage.reduced_motion
        self._walk = Walk(stage.box, stage.reduced_motion)
        self._people = People(stage.box, stage.reduced_motion)
        self._lantern = stage.box.sheet("ropewalk/lantern.svg")
        leaf, fibre = stage.box.sheet("ropewalk/leaf.svg"), stage.box.sheet("ropewalk/fibre.svg")
        self._leaves = [leaf.turned(30.0 * n, (11.0, 7.0)).surface for n in range(12)]
        self._fibres = [fibre.turned(40.0 * n, (9.0, 7.0)).surface for n in range(9)]
        self._frayed, self._falling = Motes(6, 18), Motes(4, 6)
        self._coils = Keeping(RACK, coil_image, stage.reduced_motion)
        self._evening: Evening | None = None
        self._last_s: float | None = None

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._coils.painter.settle()
        if self._evening:
            self._evening.settle()

    def draw(self, canvas: Canvas, rules: RopeRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = 0.0 if self._last_s is None else min(max(time_s - self._last_s, 0.0), 0.1)
        self._last_s = time_s
        if self._evening is None:
            self._evening = LAND.evening(self._box, canvas.surface.get_size())
        self._evening.show(rules.windows_lit)
        self._evening.draw(canvas.surface, step_s)
        self._coils.draw_kept(canvas, rules)
        hands = self._people.draw_maker(canvas, rules)
        self._walk.draw(canvas, rules, hands, time_s)
        self._people.draw_boy(canvas, rules, time_s)
        self._drift(canvas, rules, step_s)
        veil(canvas.surface, NIGHT_VEIL, rules.rest * (0.4 + 0.6 * abs(rules.evening - 0.5)))
        self._lamps(canvas, rules)
        self._coils.draw_carried(canvas, rules)

    def _lamps(self, canvas: Canvas, rules: RopeRules) -> None:
        night = 1.0 - smooth((rules.evening - 0.55) / 0.4)
        for x, y in LANTERNS:
            self._lantern.draw(canvas.surface, x, y)
            shine(canvas.surface, canvas.at((x, y + 22)), (canvas.length(280), canvas.length(200)), LAMP, 0.34 * night)

    def _drift(self, canvas: Canvas, rules: RopeRules, step_s: float) -> None:
        """Hauled too hard the rope frays: fibres spring off and are lost. Leaves fall now and then."""
        at = (MIDDLE, knot_y(rules.haul) - 6)
        if self._still:
            image = self._fibres[2]
            image.set_alpha(round(220 * rules.fray))
            for n in range(4):
                canvas.paste(image, (at[0] - 46 + 30 * n, at[1] - 16 - 9 * (n % 2)), "center")
            return
        self._frayed.step(step_s, 12.0 * rules.fray if rules.fray > 0.15 else 0.0, at, (26, -34), 1.8)
        self._falling.step(step_s, 0.3, (720, 60), (26, 30), 14.0)
        for mote in self._frayed.all:
            image = self._fibres[int(mote.spin / 40) % 9]
            image.set_alpha(round(230 * (1 - mote.share)))
            canvas.paste(image, (mote.x, mote.y), "center")
        for leaf in self._falling.all:
            image = self._leaves[int(leaf.spin / 30 + leaf.age_s * 2.0) % 12]
            x = 60 + (leaf.x * 7.3) % 1180 + 18 * math.sin(leaf.age_s * 1.3 + leaf.spin)
            canvas.paste(image, (x, leaf.y), "center")


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
        turn = math.radians(lean)
        arm = (HANDS[0] - FEET[0], HANDS[1] - FEET[1])
        return (
            FEET[0] + arm[0] * math.cos(turn) + arm[1] * math.sin(turn),
            FEET[1] - arm[0] * math.sin(turn) + arm[1] * math.cos(turn),
        )

    def draw_boy(self, canvas: Canvas, rules: RopeRules, time_s: float) -> None:
        """He turns the hooks while rope is laid, and waves for a finished coil; the dog sleeps through it all."""
        breath = 0.0 if self._still else 0.8 * math.sin(1.6 * time_s)
        self._dog.draw(canvas.surface, dy=-abs(breath))
        self._boy.draw(canvas.surface)
        up = smooth(min(1.0, 3 * rules.cheer)) * smooth(min(1.0, 6 * (1 - rules.cheer)))
        wind = 0.0 if self._still else 14.0 * math.sin(2 * math.pi * 0.9 * rules.turn)
        reach = math.degrees(math.atan2(SHOULDER[1] - HOOKS[1], HOOKS[0] - SHOULDER[0]))
        self._arm.at(round((0.4 * reach + wind) * (1 - up) + 78.0 * up)).draw(canvas.surface)
