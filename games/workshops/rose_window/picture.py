"""The rose window's picture: the evening behind, the wheel in the middle, its people, and the roses on their rack."""

from __future__ import annotations

import math

from musclewood.games.engine.rep_events import RepView
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.evening import Evening, Land
from musclewood.games.kit.light import shine, veil
from musclewood.games.kit.motion import Motes, smooth
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup
from musclewood.games.workshops.poses import Poses
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
NIGHT_VEIL, LAMP, CORD, CORD_DARK = (92, 108, 176), (255, 190, 100), (233, 217, 184), (64, 48, 52)
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
        self._lantern = stage.box.sheet("rose_window/lantern.svg")
        leaf, shard = stage.box.sheet("rose_window/leaf.svg"), stage.box.sheet("rose_window/shard.svg")
        self._leaves = [leaf.turned(30.0 * n, (11.0, 7.0)).surface for n in range(12)]
        self._shards = [shard.turned(40.0 * n, (8.0, 8.0)).surface for n in range(9)]
        self._chips, self._falling = Motes(5, 16), Motes(4, 6)
        self._roses = Keeping(RACK, rose_image, stage.reduced_motion)
        self._evening: Evening | None = None
        self._last_s: float | None = None

    def settle(self) -> None:
        """Finish what threads are painting, so that a still shows everything."""
        self._roses.painter.settle()
        if self._evening:
            self._evening.settle()

    def draw(self, canvas: Canvas, rules: RoseRules, view: RepView, time_s: float) -> None:
        """One frame. `time_s` only ever grows; it drives what drifts and breathes."""
        step_s = 0.0 if self._last_s is None else min(max(time_s - self._last_s, 0.0), 0.1)
        self._last_s = time_s
        if self._evening is None:
            self._evening = LAND.evening(self._box, canvas.surface.get_size())
        self._evening.show(rules.windows_lit)
        self._evening.draw(canvas.surface, step_s)
        self._roses.draw_kept(canvas, rules)
        self._wheel.draw(canvas, rules)
        self._people.draw(canvas, rules, time_s)
        self._drift(canvas, rules, step_s)
        veil(canvas.surface, NIGHT_VEIL, rules.rest * (0.4 + 0.6 * abs(rules.evening - 0.5)))
        self._lamps(canvas, rules)
        self._roses.draw_carried(canvas, rules)

    def _lamps(self, canvas: Canvas, rules: RoseRules) -> None:
        night = 1.0 - smooth((rules.evening - 0.55) / 0.4)
        for x, y in LANTERNS:
            self._lantern.draw(canvas.surface, x, y)
            shine(canvas.surface, canvas.at((x, y + 22)), (canvas.length(280), canvas.length(200)), LAMP, 0.34 * night)

    def _drift(self, canvas: Canvas, rules: RoseRules, step_s: float) -> None:
        """Pushed too far the glass chips: splinters fall and are wasted. Leaves fall now and then."""
        place = at(rules.turn, rules.iron)
        if self._still:
            image = self._shards[2]
            image.set_alpha(round(220 * rules.strain))
            for n in range(4):
                canvas.paste(image, (place[0] - 24 + 16 * n, place[1] + 20 + 9 * (n % 2)), "center")
            return
        self._chips.step(step_s, 11.0 * rules.strain if rules.strain > 0.15 else 0.0, place, (4, 60), 1.2)
        self._falling.step(step_s, 0.3, (720, 60), (26, 30), 14.0)
        for mote in self._chips.all:
            image = self._shards[int(mote.spin / 40) % 9]
            image.set_alpha(round(230 * (1 - mote.share)))
            canvas.paste(image, (mote.x, mote.y + 90 * mote.age_s**2), "center")
        for leaf in self._falling.all:
            image = self._leaves[int(leaf.spin / 30 + leaf.age_s * 2.0) % 12]
            x = 60 + (leaf.x * 7.3) % 1180 + 18 * math.sin(leaf.age_s * 1.3 + leaf.spin)
            canvas.paste(image, (x, leaf.y), "center")


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
        angle, arm = math.radians(turn), (GRIP[0] - SHOULDER[0], GRIP[1] - SHOULDER[1])
        hand = (
            SHOULDER[0] + arm[0] * math.cos(angle) + arm[1] * math.sin(angle),
            SHOULDER[1] - arm[0] * math.sin(angle) + arm[1] * math.cos(angle),
        )
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
        up = smooth(min(1.0, 3 * rules.cheer)) * smooth(min(1.0, 6 * (1 - rules.cheer)))
        wind = 0.0 if self._still else 12.0 * math.sin(6 * math.pi * rules.turn)
        self._winding.at(round((-30.0 + wind) * (1 - up) - 84.0 * up)).draw(surface)
