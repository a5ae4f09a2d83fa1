"""What the pictures of workshops share: the evening behind, and what drifts or shines before it. Draws, and reads the
rules."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from musclewood.games.kit.canvas import Canvas, Point
from musclewood.games.kit.evening import Evening
from musclewood.games.kit.light import shine, veil
from musclewood.games.kit.motion import Motes, smooth
from musclewood.games.kit.paper import Sheet
from musclewood.games.workshops.craft import Craft

LONGEST_STEP_S = 0.1  # what is missed while nothing is drawn is not made up for
NIGHT_VEIL, LAMP = (92, 108, 176), (255, 190, 100)


class Backdrop:
    """The evening, begun with the first frame since it has that frame's size in pixels."""

    def __init__(self, begin: Callable[[tuple[int, int]], Evening]) -> None:
        self._begin = begin
        self._evening: Evening | None = None
        self._last_s: float | None = None

    def draw(self, canvas: Canvas, lit: float, time_s: float) -> float:
        """One frame, with this share of the windows lit. Returns the seconds since the frame before."""
        step_s = 0.0 if self._last_s is None else min(max(time_s - self._last_s, 0.0), LONGEST_STEP_S)
        self._last_s = time_s
        if self._evening is None:
            self._evening = self._begin(canvas.surface.get_size())
        self._evening.show(lit)
        self._evening.draw(canvas.surface, step_s)
        return step_s

    def settle(self) -> None:
        """Finish what a thread is painting, so that a still shows everything."""
        if self._evening:
            self._evening.settle()


def night_of(rules: Craft) -> float:
    """How much a lamp is needed, 1 until the last part of the evening, when day comes."""
    return 1.0 - smooth((rules.evening - 0.55) / 0.4)


def dim(canvas: Canvas, rules: Craft, least: float = 0.4, more: float = 0.6) -> None:
    """The world is quiet while the muscle rests; `least` in the middle of the evening, and `more` at its ends."""
    veil(canvas.surface, NIGHT_VEIL, rules.rest * (least + more * abs(rules.evening - 0.5)))


class FallingLeaves:
    """A leaf now and then; with reduced motion none."""

    def __init__(self, leaf: Sheet, still: bool) -> None:
        self._poses = [leaf.turned(30.0 * n, (11.0, 7.0)).surface for n in range(12)]
        self._still, self._falling = still, Motes(4, 6)

    def draw(self, canvas: Canvas, step_s: float) -> None:
        if self._still:
            return
        self._falling.step(step_s, 0.3, (720, 60), (26, 30), 14.0)
        for leaf in self._falling.all:
            image = self._poses[int(leaf.spin / 30 + leaf.age_s * 2.0) % 12]
            x = 60 + (leaf.x * 7.3) % 1180 + 18 * math.sin(leaf.age_s * 1.3 + leaf.spin)
            canvas.paste(image, (x, leaf.y), "center")


class Chips:
    """What springs off where effort is wasted. `at_most` of them fly at a time."""

    def __init__(self, chip: Sheet, centre: Point, seed: int, at_most: int) -> None:
        self._poses = [chip.turned(40.0 * n, centre).surface for n in range(9)]
        self._flying = Motes(seed, at_most)

    def fly(
        self, canvas: Canvas, step_s: float, per_s: float, at: Point, away: Point, life_s: float, falls: float = 0.0
    ) -> None:
        """So many a second set out from `at`; `falls` in stage units a second²."""
        self._flying.step(step_s, per_s, at, away, life_s)
        for mote in self._flying.all:
            image = self._poses[int(mote.spin / 40) % 9]
            image.set_alpha(round(230 * (1 - mote.share)))
            canvas.paste(image, (mote.x, mote.y + falls * mote.age_s**2), "center")

    def lie(self, canvas: Canvas, strength: float, places: Iterable[Point]) -> None:
        """With reduced motion: they only come and go."""
        image = self._poses[2]
        image.set_alpha(round(220 * strength))
        for place in places:
            canvas.paste(image, place, "center")


class Lanterns:
    """They hang at these places and shine until it is day."""

    def __init__(self, lantern: Sheet, places: Sequence[Point], reach: tuple[float, float] = (280.0, 200.0)) -> None:
        self._lantern, self._places, self._reach = lantern, places, reach

    def draw(self, canvas: Canvas, rules: Craft, strength: float = 0.34) -> None:
        size = (canvas.length(self._reach[0]), canvas.length(self._reach[1]))
        for x, y in self._places:
            self._lantern.draw(canvas.surface, x, y)
            shine(canvas.surface, canvas.at((x, y + 22)), size, LAMP, strength * night_of(rules))
