"""Where things are on the yoke's stage. Pure numbers."""

from __future__ import annotations

import math

Point = tuple[float, float]

DECK = 572.0
NEAR, FAR = 412.0, 792.0  # the carrier's middle at either end of the bridge
LOW_YOKE, TRAVEL = 470.0, 240.0  # stage height of an end that is not lifted, and how far effort 1 lifts it
HALF_YOKE = 132.0  # from the yoke's middle to a hook
STANDING = 318.0  # her shoulders when she stands upright
SHOULDERS = 6.0  # below the yoke
WAIST = 84.0  # below her shoulders


def end_y(height: float) -> float:
    """Stage height of a yoke's end, or of a rope, by its height 0..1."""
    return LOW_YOKE - TRAVEL * height


def carrier_x(place: float) -> float:
    """Stage x of her middle by how far she is over the bridge."""
    return NEAR + (FAR - NEAR) * place


def hooks(place: float, ends: tuple[float, float]) -> tuple[Point, Point]:
    """The two hooks that the pails hang from."""
    x, turn = carrier_x(place), tilt(ends)
    middle = (end_y(ends[0]) + end_y(ends[1])) / 2
    across, down = HALF_YOKE * math.cos(turn), HALF_YOKE * math.sin(turn)
    return (x - across, middle - down), (x + across, middle + down)


def tilt(ends: tuple[float, float]) -> float:
    """Radians by which the yoke is turned; positive where its right end hangs lower."""
    return math.asin(max(-0.7, min(0.7, (end_y(ends[1]) - end_y(ends[0])) / (2 * HALF_YOKE))))


def shoulders_y(ends: tuple[float, float]) -> float:
    """Height of her shoulders: under the yoke, but no higher than she stands; beyond that her arms lift it."""
    return max((end_y(ends[0]) + end_y(ends[1])) / 2 + SHOULDERS, STANDING)


def elbow_of(shoulder: Point, hand: Point, upper: float, lower: float, side: int) -> Point:
    """Where an elbow must be between two joints, bent outwards and down; side -1 left, 1 right."""
    x, y = hand[0] - shoulder[0], hand[1] - shoulder[1]
    away = min(max(math.hypot(x, y), abs(upper - lower) + 0.1), upper + lower - 0.1)
    bend = math.acos((upper**2 + away**2 - lower**2) / (2 * upper * away))
    angle = math.atan2(y, x) + side * bend
    return shoulder[0] + upper * math.cos(angle), shoulder[1] + upper * math.sin(angle)
