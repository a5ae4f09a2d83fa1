"""Doors: what a workshop draws before its effort while a repetition is done without seeing it.

Three ways to close: two leaves that meet, a sheet that falls, a mist that drifts in. Each workshop says its own: the
way, the place, the stuff. Reads a share and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from musclewood.games.kit.palette import Colour

Stuff = Literal["iron", "planks", "reeds", "folds", "sheets"]


@dataclass(frozen=True)
class Door:
    """How one workshop closes. `box` is what it hides (left, top, width, height), `colour` and `line` are its own."""

    way: Literal["leaves", "falls", "drifts"]
    box: tuple[float, float, float, float]
    stuff: Stuff = "planks"
    colour: Colour = (84, 62, 58)
    line: Colour = (52, 38, 44)
