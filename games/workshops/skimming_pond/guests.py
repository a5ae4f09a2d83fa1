"""What the weeks bring to the pond: lilies, birds, stones on the cairn, lights on the water. It only ever grows."""

from __future__ import annotations

import math
from dataclasses import dataclass

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.poses import Poses
from musclewood.games.workshops.skimming_pond.rules import PondRules

Pond = tuple[float, float]


@dataclass(frozen=True)
class Guest:
    """Something that stays from so many prints on, at a stage point; `afloat` things bob and drift a little."""

    sheet: str
    from_count: int
    at: Pond
    afloat: bool = True


GUESTS = (
    Guest("lily", 0, (1046, 588)),
    Guest("heron", 6, (150, 500), afloat=False),
    Guest("lily", 10, (262, 548)),
    Guest("duck", 16, (884, 462)),
    Guest("lily_flower", 22, (1080, 586)),
    Guest("cairn", 28, (322, 636), afloat=False),
    Guest("raft", 36, (226, 498)),
    Guest("duck", 46, (938, 470)),
    Guest("lily", 56, (1150, 548)),
    Guest("lily_flower", 64, (258, 538)),
    Guest("swan", 76, (312, 462)),
    Guest("raft", 90, (392, 520)),
    Guest("cairn", 104, (390, 652), afloat=False),
    Guest("otter", 120, (980, 556)),
    Guest("lily_flower", 140, (1148, 538)),
    Guest("swan", 160, (216, 444)),
    Guest("raft", 184, (118, 470)),
    Guest("raft", 210, (1016, 512)),
)
HERON_NECK = (150.0, 500.0)
RAFT_LIGHT = (255, 200, 110)


def present(count: int) -> tuple[Guest, ...]:
    """Those that a shelf of so many prints has brought, the furthest away first."""
    return tuple(sorted((guest for guest in GUESTS if count >= guest.from_count), key=lambda guest: guest.at[1]))


class Guests:
    """Draws them. What is made this evening brings the next in at once."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        self._sheet = {name: box.sheet(f"skimming_pond/{name}.svg") for name in {guest.sheet for guest in GUESTS}}
        self._neck = Poses(box.sheet("skimming_pond/heron_neck.svg"), (8.0, 4.0))

    def draw(self, canvas: Canvas, rules: PondRules, time_s: float) -> None:
        """All that are there; they rock a little more while the water is stirred."""
        for number, guest in enumerate(present(len(rules.before) + len(rules.made))):
            x, y = guest.at
            if guest.afloat and not self._still:
                x += 5 * math.sin(0.21 * time_s + 2 * number)
                y += (0.8 + 1.4 * rules.stir) * math.sin(1.3 * time_s + 1.7 * number)
            self._sheet[guest.sheet].draw(canvas.surface, x, y)
            if guest.sheet == "raft":
                shine(canvas.surface, canvas.at((x, y - 10)), (canvas.length(74),) * 2, RAFT_LIGHT, 0.55)
                shine(canvas.surface, canvas.at((x, y + 12)), (canvas.length(60), canvas.length(18)), RAFT_LIGHT, 0.4)
            elif guest.sheet == "heron":
                self._draw_neck(canvas, rules.cheer, time_s)

    def _draw_neck(self, canvas: Canvas, cheer: float, time_s: float) -> None:
        """The heron looks after a stone that skips, and now and then at the water."""
        idle = 0.0 if self._still else smooth(3 * math.sin(0.31 * time_s) - 2)
        bow = max(idle, smooth(min(1.0, 4 * cheer)) * 0.5)
        self._neck.at(-35.0 * bow).draw(canvas.surface, *HERON_NECK)
