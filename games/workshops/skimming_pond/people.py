"""Who is at the pond: the skimmer whose arm the muscle draws back, the child who watches, and the reeds they aim by."""

from __future__ import annotations

import math

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.poses import Poses
from musclewood.games.workshops.skimming_pond.places import (
    HIP,
    REED_REACH,
    SHOULDER,
    Point,
    arm_angle,
    hand_at,
    lean,
    shoulder_at,
)
from musclewood.games.workshops.skimming_pond.rules import PondRules

FOLLOW = 62.0  # degrees the arm goes on after a throw
WAVING = 143.0  # degrees that the child's arm goes up
CHILD_SHOULDER = (706.0, 586.0)
LAMPS, LAMP_REACH = 5, 214.0  # sedge heads between the reeds that count the hold
SEDGE_FOOT = (418.0, 700.0)
STREAK = 12  # lights in the streak behind a quick hand
BOW = tuple(n / 8 for n in range(9))  # places along a stem of sedge
STEM, LIGHT, FIREFLY = (86, 104, 84), (255, 214, 130), (255, 196, 90)


class People:
    """The hand is where the muscle is, in the same frame; the others answer in their own time."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = ("stage", "skimmer", "child", "reed_low", "reed_high", "sedge", "sedge_lit", "stone", "lantern", "tuft")
        self._sheet = {name: box.sheet(f"skimming_pond/{name}.svg") for name in names}
        self._body = Poses(box.sheet("skimming_pond/skimmer_body.svg"), HIP)
        self._arm = Poses(box.sheet("skimming_pond/skimmer_arm.svg"), SHOULDER)
        self._wave = Poses(box.sheet("skimming_pond/child_arm.svg"), CHILD_SHOULDER, 3.0)

    def draw(self, canvas: Canvas, rules: PondRules, time_s: float) -> None:
        """The landing stage and all who are on it."""
        self._sheet["stage"].draw(canvas.surface)
        self._sheet["lantern"].draw(canvas.surface)
        shine(canvas.surface, canvas.at((532, 564)), (canvas.length(150),) * 2, FIREFLY, 0.35)
        self._draw_child(canvas, rules.cheer, time_s)
        self._reed(canvas, rules, "reed_high", rules.mark_high)
        self._lamps(canvas, rules, time_s)
        self._draw_skimmer(canvas, rules)
        self._reed(canvas, rules, "reed_low", rules.mark_low)
        self._sheet["tuft"].draw(canvas.surface)

    def _draw_skimmer(self, canvas: Canvas, rules: PondRules) -> None:
        self._sheet["skimmer"].draw(canvas.surface)
        self._body.at(-lean(rules.swing)).draw(canvas.surface)
        arm = self._arm.at(FOLLOW * follow_through(rules) - arm_angle(rules.swing))
        shoulder = shoulder_at(rules.swing)
        arm.draw(canvas.surface, shoulder[0] - SHOULDER[0], shoulder[1] - SHOULDER[1])
        if rules.in_hand:
            self._streak(canvas, rules)
            self._stone(canvas, hand_at(rules.swing), rules)

    def _streak(self, canvas: Canvas, rules: PondRules) -> None:
        """Light behind the stone, as long as the hand is quick: a slow effort leaves none."""
        quick = rules.swing - rules.trail
        if quick < 0.06:
            return
        for number in range(STREAK):
            share = number / STREAK
            spot = canvas.at(hand_at(rules.trail + quick * share))
            shine(canvas.surface, spot, (canvas.length(18 + 30 * share),) * 2, LIGHT, 0.6 * share * (1 - rules.murk))

    def _stone(self, canvas: Canvas, place: Point, rules: PondRules) -> None:
        """The stone in the hand; warm among the reeds, dull beyond them."""
        warmth = 0.25 + 0.6 * rules.glow
        shine(canvas.surface, canvas.at(place), (canvas.length(96),) * 2, LIGHT, warmth * (1 - rules.murk))
        self._sheet["stone"].draw(canvas.surface, *place)

    def _reed(self, canvas: Canvas, rules: PondRules, name: str, height: float) -> None:
        tip = hand_at(height, REED_REACH)
        self._sheet[name].draw(canvas.surface, *tip)
        shine(canvas.surface, canvas.at(tip), (canvas.length(70),) * 2, LIGHT, 0.6 * rules.glow)

    def _lamps(self, canvas: Canvas, rules: PondRules, time_s: float) -> None:
        """Sedge between the reeds: one head after the other is lit while the effort is held."""
        lit = math.floor(rules.held * LAMPS + 1e-6) if rules.in_hand else 0
        for number in range(LAMPS):
            height = rules.mark_low + (rules.mark_high - rules.mark_low) * (number + 0.5) / LAMPS
            x, y = hand_at(height, LAMP_REACH)
            foot = (SEDGE_FOOT[0] - 6 * number, SEDGE_FOOT[1])
            bow = [(foot[0] + (x - foot[0]) * t**2, foot[1] + (y + 9 - foot[1]) * t) for t in BOW]
            canvas.line(STEM, bow, 2.6)
            self._sheet["sedge_lit" if number < lit else "sedge"].draw(canvas.surface, x, y)
            if number < lit:
                breath = 1.0 if self._still else 0.85 + 0.15 * math.sin(5 * time_s + number)
                size = 64 if rules.let_go else 44
                shine(canvas.surface, canvas.at((x, y)), (canvas.length(size),) * 2, FIREFLY, 0.8 * breath)

    def _draw_child(self, canvas: Canvas, cheer: float, time_s: float) -> None:
        up = smooth(min(1.0, 4 * cheer)) * smooth(min(1.0, 5 * (1 - cheer)))
        swing = 0.0 if self._still else 1.2 * math.sin(time_s * 1.3)
        self._sheet["child"].draw(canvas.surface, dy=0.4 * swing)
        self._wave.at(WAVING * up).draw(canvas.surface, dy=0.4 * swing)


def follow_through(rules: PondRules) -> float:
    """0..1: how far the arm still goes on after a throw."""
    stone = rules.stone
    return math.sin(math.pi * min(stone.age_s / 0.42, 1.0)) if stone else 0.0
