"""Where things are on the pond's stage: the arm and its hand, and a stone's way over the water. Pure numbers."""

from __future__ import annotations

import math

Point = tuple[float, float]

HIP, SHOULDER = (602.0, 516.0), (606.0, 404.0)  # the upper body turns about the one, the arm about the other
ARM = 131.0  # from the shoulder to the stone in the hand
REED_REACH = 152.0  # the reeds' tips stand just outside the hand's way
HANGING, ROUND = -10.0, 168.0  # degrees of the arm, backwards from straight down: at rest, and of the whole way
LEAN_FORWARD, LEAN_BACK = 4.0, -9.0  # degrees of the upper body at rest and at the end of the way
SHORE, LANDING = 396.0, 604.0  # stage heights of the far bank's waterline and of the first touch


def arm_angle(swing: float) -> float:
    """Degrees backwards from hanging straight down."""
    return HANGING + ROUND * swing


def lean(swing: float) -> float:
    """Degrees by which the upper body leans forwards."""
    return LEAN_FORWARD + (LEAN_BACK - LEAN_FORWARD) * min(max(swing, 0.0), 1.0)


def shoulder_at(swing: float) -> Point:
    """Where the shoulder is when the body leans as it does then."""
    turn = math.radians(lean(swing))
    x, y = SHOULDER[0] - HIP[0], SHOULDER[1] - HIP[1]
    return HIP[0] + x * math.cos(turn) - y * math.sin(turn), HIP[1] + x * math.sin(turn) + y * math.cos(turn)


def hand_at(swing: float, reach: float = ARM, further: float = 0.0) -> Point:
    """The point at `reach` along the arm; `further` degrees are added, for what follows a throw."""
    x, y = shoulder_at(swing)
    angle = math.radians(arm_angle(swing) + further)
    return x - reach * math.sin(angle), y + reach * math.cos(angle)


def water_at(share: float) -> tuple[float, float, float]:
    """Stage place of a share of the way over the water, and how near it looks (1 at the landing stage)."""
    return 772.0 + 415.0 * share, LANDING - 172.0 * share**0.82, 1.0 - 0.62 * share
