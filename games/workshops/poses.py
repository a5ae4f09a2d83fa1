"""How figures move: parts that turn, hands that go along, an arm that is raised for something made."""

from __future__ import annotations

import math

from musclewood.games.kit.canvas import Point
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.paper import Sheet

POSES = 20  # of a swing


class Poses:
    """One sheet turned about a stage point, in steps that are too small to be seen (a degree,
    unless told otherwise)."""

    def __init__(self, sheet: Sheet, pivot: tuple[float, float], step_degrees: float = 1.0) -> None:
        self._sheet, self._pivot, self._step = sheet, pivot, step_degrees
        self._made: dict[int, Sheet] = {}

    def at(self, degrees: float) -> Sheet:
        """Turned anticlockwise by so many degrees."""
        number = round(degrees / self._step)
        if number not in self._made:
            self._made[number] = self._sheet.turned(number * self._step, self._pivot) if number else self._sheet
        return self._made[number]


class Swing:
    """One sheet turned to evenly spaced angles from `first` to `last`, in degrees, so that play only blits."""

    def __init__(self, sheet: Sheet, pivot: tuple[float, float], first: float, last: float) -> None:
        self._made = [sheet.turned(first + (last - first) * n / (POSES - 1), pivot) for n in range(POSES)]

    def at(self, share: float) -> Sheet:
        """So far along the way, 0..1."""
        return self._made[round(min(max(share, 0.0), 1.0) * (POSES - 1))]


def turned_about(pivot: Point, point: Point, degrees: float) -> Point:
    """Where a point goes when the part it belongs to turns anticlockwise about its pivot, as `Poses.at` turns it."""
    turn, arm = math.radians(degrees), (point[0] - pivot[0], point[1] - pivot[1])
    return (
        pivot[0] + arm[0] * math.cos(turn) + arm[1] * math.sin(turn),
        pivot[1] - arm[0] * math.sin(turn) + arm[1] * math.cos(turn),
    )


def raised(cheer: float) -> float:
    """How far an arm is up, 0..1, while joy over something made goes from 1 to 0: soon up, and
    down before it is over."""
    return smooth(min(1.0, 3 * cheer)) * smooth(min(1.0, 6 * (1 - cheer)))
