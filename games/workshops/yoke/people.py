"""Who is at the bridge: the carrier under her yoke, the elder who waits for water, the dog."""

from __future__ import annotations

import math

import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.paper import PaperBox, Sheet
from musclewood.games.workshops.yoke.places import DECK, WAIST, Point, carrier_x, elbow_of, hooks, shoulders_y, tilt
from musclewood.games.workshops.yoke.rules import YokeRules

TILTS, STEEPEST = 45, 44.0  # poses of the yoke; degrees of the outermost
LEANS, LEANING = 15, 0.3  # poses of her upper body; its share of the yoke's tilt
SKIRTS, SKIRT = 24, 162.0  # poses of the skirt between kneeling and standing; its height when she stands
GRIP = 66.0  # along the yoke to a hand
BONES, UPPER, LOWER = 72, 50.0, 54.0  # poses of either half of an arm, and their lengths
SWINGS = 9  # poses of a pail
HOOK_LIGHT = (255, 206, 120)
ELDER_SHOULDER = (84.0, 498.0)


class People:
    """The yoke's ends are where the two muscles are, in the same frame; all else answers in its own time."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = ("carrier_boots", "hand", "knob", "knob_lit", "drop", "elder", "frame", "dog")
        self._sheet = {name: box.sheet(f"yoke/{name}.svg") for name in names}
        yoke, torso, head = (box.sheet(f"yoke/{name}.svg") for name in ("yoke", "carrier_torso", "carrier_head"))
        self._yokes = [yoke.turned(STEEPEST - 2 * STEEPEST * n / (TILTS - 1), (0.0, 0.0)) for n in range(TILTS)]
        lean = LEANING * STEEPEST
        self._torsos = [torso.turned(lean - 2 * lean * n / (LEANS - 1), (0.0, WAIST)) for n in range(LEANS)]
        self._heads = [head.turned(lean - 2 * lean * n / (LEANS - 1), (0.0, WAIST)) for n in range(LEANS)]
        self._skirts = _skirts(box.sheet("yoke/carrier_skirt.svg"))
        bones = (box.sheet("yoke/upper_arm.svg"), box.sheet("yoke/forearm.svg"))
        self._bones = [[bone.turned(360.0 * n / BONES, (0.0, 0.0)) for n in range(BONES)] for bone in bones]
        pail = box.sheet("yoke/pail.svg")
        self._pails = [pail.turned(3.0 * (n - SWINGS // 2), (0.0, 0.0)) for n in range(SWINGS)]
        arm, tail = box.sheet("yoke/elder_arm.svg"), box.sheet("yoke/dog_tail.svg")
        self._waves = [arm.turned(9.0 * n, ELDER_SHOULDER) for n in range(9)]
        self._wags = [tail.turned(6.0 * (n - 3), (10.0, -20.0)) for n in range(7)]

    def draw_near(self, canvas: Canvas, rules: YokeRules, time_s: float) -> None:
        """Those who wait at the spring."""
        up = smooth(min(1.0, 4 * rules.cheer)) * smooth(min(1.0, 5 * (1 - rules.cheer)))
        self._sheet["frame"].draw(canvas.surface)
        self._sheet["elder"].draw(canvas.surface)
        self._waves[round(up * 8)].draw(canvas.surface)
        glad = 0.25 + 0.75 * up
        wag = 3 if self._still else round(3 + 3 * glad * math.sin(time_s * (2.0 + 9.0 * up)))
        self._wags[wag].draw(canvas.surface, 168.0, 577.0)
        self._sheet["dog"].draw(canvas.surface, 160.0, 576.0)

    def draw_carrier(self, canvas: Canvas, rules: YokeRules, time_s: float) -> None:
        """From the boots up; the yoke lies behind her head and before her shoulders."""
        x, shoulders = carrier_x(rules.place), shoulders_y(rules.ends)
        turn = math.degrees(tilt(rules.ends))
        lean = self._pose(turn, LEANS)
        bob = (
            0.0 if self._still else -2.0 * abs(math.sin(math.pi * rules.paces)) * min(1.0, rules.walked + rules.carried)
        )
        breath = 0.0 if self._still else 0.9 * math.sin(1.5 * time_s)
        bob += breath * (1 - min(1.0, rules.walked + rules.carried))
        waist = shoulders + WAIST + bob
        self._sheet["carrier_boots"].draw(canvas.surface, x, DECK - 2)
        tall = (DECK - 4 - waist) / SKIRT
        skirt = self._skirts[round(min(max(tall, 0.0), 1.0) * (SKIRTS - 1))]
        skirt.draw(canvas.surface, x, waist)
        self._torsos[lean].draw(canvas.surface, x, shoulders + bob)
        left, right = hooks(rules.place, rules.ends)
        middle = ((left[0] + right[0]) / 2, (left[1] + right[1]) / 2)
        self._pail(canvas, rules, 0, left, time_s)
        self._pail(canvas, rules, 1, right, time_s)
        self._yokes[self._pose(turn, TILTS)].draw(canvas.surface, *middle)
        self._heads[lean].draw(canvas.surface, x, shoulders + bob)
        for side in (-1, 1):
            self._arm(canvas, (x + 33 * side, shoulders + bob + 8), _along(middle, turn, GRIP * side), side)
        for number, hook in enumerate((left, right)):
            self._knob(canvas, hook, rules.within[number])

    @staticmethod
    def _pose(turn: float, poses: int) -> int:
        return round((min(max(turn / STEEPEST, -1.0), 1.0) + 1) / 2 * (poses - 1))

    def _arm(self, canvas: Canvas, shoulder: Point, hand: Point, side: int) -> None:
        """Sleeve and forearm, from the shoulder out to the elbow and up to the yoke."""
        elbow = elbow_of(shoulder, hand, UPPER, LOWER, side)
        self._bones[0][_bone(shoulder, elbow)].draw(canvas.surface, *shoulder)
        self._bones[1][_bone(elbow, hand)].draw(canvas.surface, *elbow)
        self._sheet["hand"].draw(canvas.surface, *hand)

    def _knob(self, canvas: Canvas, hook: Point, within: float) -> None:
        """The end of the yoke: a lamp that burns while it lies between the ropes."""
        shine(canvas.surface, canvas.at(hook), (canvas.length(64),) * 2, HOOK_LIGHT, 0.5 * within)
        self._sheet["knob_lit" if within > 0.5 else "knob"].draw(canvas.surface, *hook)

    def _pail(self, canvas: Canvas, rules: YokeRules, side: int, hook: Point, time_s: float) -> None:
        """It always hangs plumb; it swings and loses water when its end is too low or too high."""
        spilling = rules.spilling[side]
        swing = 0.0 if self._still else (0.35 * rules.carried + 1.6 * spilling) * math.sin(4.2 * time_s + 1.3 * side)
        pose = min(max(round(SWINGS // 2 + swing), 0), SWINGS - 1)
        self._pails[pose].draw(canvas.surface, *hook)
        if spilling < 0.1:
            return
        for number in range(7):
            fall = 0.5 if self._still else (1.15 * time_s + number / 7 + 0.13 * side) % 1.0
            across = (1 if number % 2 else -1) * (22 + 5 * (number % 3) + 10 * fall)
            if number < 7 * spilling + 1:
                place = (hook[0] + across, hook[1] + 48 - 10 * math.sin(math.pi * min(2 * fall, 1.0)) + 170 * fall**2)
                self._sheet["drop"].draw(canvas.surface, *place)


def _skirts(skirt: Sheet) -> list[Sheet]:
    """The skirt from spread on the planks to its full length; wider as it is lower."""
    width, height = skirt.surface.get_size()
    made = []
    for n in range(SKIRTS):
        tall, wide = 0.16 + 0.84 * n / (SKIRTS - 1), 1.28 - 0.28 * n / (SKIRTS - 1)
        image = pygame.transform.smoothscale(skirt.surface, (round(width * wide), max(2, round(height * tall))))
        made.append(Sheet(image, skirt.x * wide, skirt.y * tall, skirt.scale))
    return made


def _along(middle: Point, turn: float, way: float) -> Point:
    """A point on the yoke."""
    angle = math.radians(turn)
    return middle[0] + way * math.cos(angle), middle[1] + way * math.sin(angle)


def _bone(joint: Point, end: Point) -> int:
    """Which pose points from one joint to the next; the first hangs straight down, the others go on anticlockwise."""
    degrees = math.degrees(math.atan2(end[0] - joint[0], end[1] - joint[1]))
    return round(degrees / 360 * BONES) % BONES
