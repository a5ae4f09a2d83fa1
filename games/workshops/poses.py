"""A part of a figure that turns: each pose is made when it is first wanted, and kept."""

from __future__ import annotations

from musclewood.games.kit.paper import Sheet


class Poses:
    """One sheet turned about a stage point, in steps that are too small to be seen (a degree, unless told otherwise)."""

    def __init__(self, sheet: Sheet, pivot: tuple[float, float], step_degrees: float = 1.0) -> None:
        self._sheet, self._pivot, self._step = sheet, pivot, step_degrees
        self._made: dict[int, Sheet] = {}

    def at(self, degrees: float) -> Sheet:
        """Turned anticlockwise by so many degrees."""
        number = round(degrees / self._step)
        if number not in self._made:
            self._made[number] = self._sheet.turned(number * self._step, self._pivot) if number else self._sheet
        return self._made[number]
