"""Who is at the bridge: the carrier under her yoke, the elder who waits for water, the dog."""

from __future__ import annotations

import math

import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.paper import PaperBox, Sheet
from musclewood.games.workshops.poses import Poses
from musclewood.games.workshops.yoke.places import DECK, WAIST, Point, carrier_x, elbow_of, hooks, shoulders_y, tilt
from musclewood.games.workshops.yoke.rules import YokeRules

LEANING = 0.3  # of the yoke's tilt that her upper body takes up
SKIRTS, SKIRT = 24, 162.0  # poses of the skirt between kneeling and standing; its height when she stands
GRIP = 66.0  # along the yoke to a hand
UPPER, LOWER = 50.0, 54.0  # lengths of either half of an arm
HOOK_LIGHT = (255, 206, 120)
ELDER_SHOULDER, TAIL_ROOT = (84.0, 498.0), (10.0, -20.0)


class People:
    """The yoke's ends are where the two muscles are, in the same frame; all else answers in its own time."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = ("carrier_boots", "hand", "knob", "knob_lit", "drop", "elder", "frame", "dog")
        self._sheet = {name: box.sheet(f"yoke/{name}.svg") for name in names}
        self._yoke = Poses(box.sheet("yoke/yoke.svg"), (0.0, 0.0))
        self._torso = Poses(box.sheet("yoke/carrier_torso.svg"), (0.0, WAIST))
        self._head = Poses(box.sheet("yoke/carrier_head.svg"), (0.0, WAIST))
        self._bones = [Poses(box.sheet(f"yoke/{name}.svg"), (0.0, 0.0), 3.0) for name in ("upper_arm", "forearm")]
        self._pails = Poses(box.sheet("yoke/pail.svg"), (0.0, 0.0))
        self._wave = Poses(box.sheet("yoke/elder_arm.svg"), ELDER_SHOULDER, 3.0)
        self._tail = Poses(box.sheet("yoke/dog_tail.svg"), TAIL_ROOT)
        self._skirts = _skirts(box.sheet("yoke/carrier_skirt.svg"))

    def draw_near(self, canvas: Canvas, rules: YokeRules, time_s: float) -> None:
        """Those who wait at the spring."""
        up = smooth(min(1.0, 4 * rules.cheer)) * smooth(min(1.0, 5 * (1 - rules.cheer)))
        self._sheet["frame"].draw(canvas.surface)
        self._sheet["elder"].draw(canvas.surface)
        self._wave.at(72.0 * up).draw(canvas.surface)
        glad = 0.25 + 0.75 * up
        wag = 0.0 if self._still else 18.0 * glad * math.sin(time_s * (2.0 + 9.0 * up))
        self._tail.at(wag).draw(canvas.surface, 168.0, 577.0)
        self._sheet["dog"].draw(canvas.surface, 160.0, 576.0)

    def draw_carrier(self, canvas: Canvas, rules: YokeRules, time_s: float) -> None:
        """From the boots up; the yoke lies behind her head and before her shoulders."""
        x, shoulders = carrier_x(rules.along), shoulders_y(rules.ends)
        turn = math.degrees(tilt(rules.ends))
        walking = min(1.0, rules.walked + rules.borne)
        bob = -2.0 * abs(math.sin(math.pi * rules.paces)) * walking + 0.9 * math.sin(1.5 * time_s) * (1 - walking)
        bob = 0.0 if self._still else bob
        waist = shoulders + WAIST + bob
        self._sheet["carrier_boots"].draw(canvas.surface, x, DECK - 2)
        tall = (DECK - 4 - waist) / SKIRT
        skirt = self._skirts[round(min(max(tall, 0.0), 1.0) * (SKIRTS - 1))]
        skirt.draw(canvas.surface, x, waist)
        self._torso.at(-LEANING * turn).draw(canvas.surface, x, shoulders + bob)
        left, right = hooks(rules.along, rules.ends)
        middle = ((left[0] + right[0]) / 2, (left[1] + right[1]) / 2)
        self._pail(canvas, rules, 0, left, time_s)
        self._pail(canvas, rules, 1, right, time_s)
        self._yoke.at(-turn).draw(canvas.surface, *middle)
        self._head.at(-LEANING * turn).draw(canvas.surface, x, shoulders + bob)
        for side in (-1, 1):
            self._arm(canvas, (x + 33 * side, shoulders + bob + 8), _along(middle, turn, GRIP * side), side)
        for number, hook in enumerate((left, right)):
            self._knob(canvas, hook, rules.within[number])

    def _arm(self, canvas: Canvas, shoulder: Point, hand: Point, side: int) -> None:
        """Sleeve and forearm, from the shoulder out to the elbow and up to the yoke."""
        elbow = elbow_of(shoulder, hand, UPPER, LOWER, side)
        self._bones[0].at(_direction(shoulder, elbow)).draw(canvas.surface, *shoulder)
        self._bones[1].at(_direction(elbow, hand)).draw(canvas.surface, *elbow)
        self._sheet["hand"].draw(canvas.surface, *hand)

    def _knob(self, canvas: Canvas, hook: Point, within: float) -> None:
        """The end of the yoke: a lamp that burns while it lies between the ropes."""
        shine(canvas.surface, canvas.at(hook), (canvas.length(64),) * 2, HOOK_LIGHT, 0.5 * within)
        self._sheet["knob_lit" if within > 0.5 else "knob"].draw(canvas.surface, *hook)

    def _pail(self, canvas: Canvas, rules: YokeRules, side: int, hook: Point, time_s: float) -> None:
        """It always hangs plumb; it swings and loses water when its end is too low or too high."""
        spilling = rules.spilling[side]
        swing = 0.0 if self._still else (0.35 * rules.borne + 1.6 * spilling) * math.sin(4.2 * time_s + 1.3 * side)
        self._pails.at(3.0 * swing).draw(canvas.surface, *hook)
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


def _direction(joint: Point, end: Point) -> float:
    """Degrees anticlockwise from straight down, from one joint to the next."""
    return math.degrees(math.atan2(end[0] - joint[0], end[1] - joint[1]))
