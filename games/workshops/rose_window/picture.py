"""The rose window's picture: the evening behind, the wheel in the middle, its people, and the roses on their rack."""

from __future__ import annotations

import math
from functools import partial

from musclewood.games.engine.rep_events import RepView
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.evening import Land
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup
from musclewood.games.workshops.backdrop import Backdrop, Chips, FallingLeaves, Lanterns, dim
from musclewood.games.workshops.poses import Poses, raised, turned_about
from musclewood.games.workshops.rack import Keeping, Rack
from musclewood.games.workshops.rose_window.roses import rose_image
from musclewood.games.workshops.rose_window.rules import RoseRules
from musclewood.games.workshops.rose_window.wheel import MIDDLE, Wheel, at

LAND = Land(
    layers=(
        ("rose_window/far.svg", 14.0),
        ("rose_window/village.svg", 7.0),
        ("rose_window/yard.svg", 0.0),
        ("rose_window/front.svg", -8.0),
    ),
    lit=("rose_window/village.svg",),
    horizon=420.0,
    sun=(300.0, 330.0),
    until_x=980.0,
)
RACK = Rack(1006.0, 230.0, (412.0, 480.0, 554.0), 62.0, MIDDLE, 300.0, lift=40.0)
CORD, CORD_DARK = (233, 217, 184), (64, 48, 52)
LANTERNS = ((980.0, 404.0), (1256.0, 404.0))
SHOULDER, GRIP, FORWARD, BACK = (326.0, 448.0), (398.0, 444.0), 8.0, 40.0
PULLEY, RIM = (414.0, 412.0), (462.0, 412.0)
ELBOW, CRANK = (930.0, 530.0), (884.0, 500.0)


class RosePicture:
    """Reads `RoseRules`; holds nothing but pictures and the drift of splinters and leaves."""

    def __init__(self, stage: PictureSetup) -> None:
        self._box, self._still = stage.box, stage.reduced_motion
        self._wheel = Wheel(stage.box, stage.reduced_motion)
        self._people = People(stage.box, stage.reduced_motion)
        self._lanterns = Lanterns(stage.box.sheet("rose_window/lantern.svg"), LANTERNS)
        self._leaves = FallingLeaves(stage.box.sheet("rose_window/leaf.svg"), stage.reduced_motion)
        self._shards = Chips(stage.box.sheet("rose_window/shard.svg"), (8.0, 8.0), 5, 16)
        self._roses = Keeping(RACK, rose_image, stage.reduced_motion)
        self._backdrop = Backdrop(partial(LAND.evening, stage.box))

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._roses.painter.settle()
        self._backdrop.settle()

    def draw(self, canvas: Canvas, rules: RoseRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = self._backdrop.draw(canvas, rules.windows_lit, time_s)
        self._roses.draw_kept(canvas, rules)
        self._wheel.draw(canvas, rules)
        self._people.draw(canvas, rules, time_s)
        self._drift(canvas, rules, step_s)
        self._leaves.draw(canvas, step_s)
        dim(canvas, rules)
        self._lanterns.draw(canvas, rules)
        self._roses.draw_carried(canvas, rules)

    def _drift(self, canvas: Canvas, rules: RoseRules, step_s: float) -> None:
        """Pushed too far the glass chips: splinters fall and are wasted."""
        x, y = at(rules.turn, rules.iron)
        if self._still:
            self._shards.lie(canvas, rules.strain, [(x - 24 + 16 * n, y + 20 + 9 * (n % 2)) for n in range(4)])
        else:
            chips_per_s = 11.0 * rules.strain if rules.strain > 0.15 else 0.0
            self._shards.fly(canvas, step_s, chips_per_s, (x, y), (4, 60), 1.2, falls=90.0)


class People:
    """The glazier pulls exactly as hard as the muscle works; the girl winds the arm round."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        self._sheet = {name: box.sheet(f"rose_window/{name}.svg") for name in ("glazier", "girl", "doves")}
        self._arm = Poses(box.sheet("rose_window/glazier_arm.svg"), SHOULDER)
        self._winding = Poses(box.sheet("rose_window/girl_arm.svg"), ELBOW)
        self._crank = Poses(box.sheet("rose_window/crank.svg"), (0.0, 0.0), 4.0)

    def draw(self, canvas: Canvas, rules: RoseRules, time_s: float) -> None:
        surface = canvas.surface
        turn = -(FORWARD + (BACK - FORWARD) * rules.iron)
        hand = turned_about(SHOULDER, GRIP, turn)
        for colour, width in ((CORD_DARK, 5.0), (CORD, 2.8)):
            canvas.line(colour, [hand, PULLEY, RIM], width)
        canvas.disc(CORD_DARK, PULLEY, 11)
        canvas.disc((160, 118, 80), PULLEY, 8)
        self._sheet["glazier"].draw(surface)
        self._arm.at(turn).draw(surface)
        hop = (
            0.0 if self._still else -6.0 * math.sin(math.pi * min(1.0, 2.4 * (1 - rules.cheer))) * (rules.cheer > 0.58)
        )
        self._sheet["doves"].draw(surface, dy=hop)
        self._crank.at((-1080.0 * rules.turn) % 360.0).draw(surface, *CRANK)
        self._sheet["girl"].draw(surface)
        up = raised(rules.cheer)
        wind = 0.0 if self._still else 12.0 * math.sin(6 * math.pi * rules.turn)
        self._winding.at(round((-30.0 + wind) * (1 - up) - 84.0 * up)).draw(surface)
