"""An attempt in words and as a picture: the same beside the work and on the page afterwards.

The picture is the effort against what was asked of it: the band a strip of lamplight with firm edges, the effort a line
of ink.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.results import ALIKE, Result
from musclewood.games.engine.teacher import Help
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.palette import palette
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.words import Words

RISE_S = 0.6  # from the beginning of a willing effort to its band; our choice
LEAST_S, LEAST_LEVEL, HEADROOM, SEEN_ABOVE = 0.6, 0.05, 1.25, 1.6


def told_in(words: Words, workshop: str, result: Result, help_: Help) -> list[str]:
    """The sentences: what happened, by how much, and what to do next time; or the help there is."""
    told = what_happened(words, workshop, result)
    if help_:
        told.append(words(f"result.help.{help_}"))
    elif not result.made:
        told.append(words(f"result.next.{result.code}"))
    return told


def what_happened(words: Words, workshop: str, result: Result) -> list[str]:
    """What happened, and by how much."""
    told = [words("result.unseen")] if result.unseen else []
    told.append(words(what_key(workshop, result)))
    if result.figure:
        values = {name: figure_in(words, value) for name, value in result.values.items()}
        told.append(words(f"result.figure.{result.figure}", **values))
    return told


def what_key(workshop: str, result: Result) -> str:
    """The key of what happened; a miss is told in the workshop's own words."""
    if result.made:
        return f"result.good.{result.good}"
    return f"result.alike.{result.code}" if result.code in ALIKE else f"result.{workshop}.{result.code}"


def figure_in(words: Words, value: float) -> str:
    text = f"{value:g}"
    return text.replace(".", ",") if words.language == "de" else text


@dataclass(frozen=True)
class Effort:
    """Levels as fractions of the reference, times in seconds.

    profile: the effort, evenly spaced over `lasts_s`. lower, upper: the edges of what was asked, evenly spaced over
    `asked_s` from `begins_s` on; an `asked_s` of 0 says that only the level is known, not for how long.
    """

    profile: tuple[float, ...]
    lasts_s: float
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    begins_s: float = 0.0
    asked_s: float = 0.0


class EffortPlot:
    """Where times and levels lie in a box, and how the effort is drawn there; as high as others `beside` it."""

    def __init__(self, box: Box, effort: Effort, beside: Sequence[Effort] = ()) -> None:
        self.box, self._effort = box, effort
        self.lasts_s = max(effort.asked_s + 2 * effort.begins_s, effort.lasts_s + 0.2, LEAST_S)
        self._top = max(map(_top, (effort, *beside)))

    def at(self, when_s: float, level: float) -> Point:
        """Where a level at a time lies; what is above the box lies on its edge."""
        share = min(max(level / self._top, 0.0), 1.0)
        return self.box.left + self.box.width * when_s / self.lasts_s, self.box.bottom - self.box.height * share

    def draw(self, canvas: Canvas, theme: Theme, width: float = 5.0) -> None:
        """Band, ground and effort; `width` of the line of ink."""
        effort, box = self._effort, self.box
        first, span = (effort.begins_s, effort.asked_s) if effort.asked_s else (0.0, self.lasts_s)
        times = np.linspace(first, first + span, len(effort.lower))
        low = [self.at(t, y) for t, y in zip(times, effort.lower, strict=True)]
        high = [self.at(t, y) for t, y in zip(times, effort.upper, strict=True)]
        canvas.shape(palette().paper["lamp-deep"], [*high, *reversed(low)])
        for edge in (low, high, [(box.left, box.bottom), (box.right, box.bottom)]):
            canvas.line(theme.ink, edge, 2)
        if effort.profile:
            steps = np.linspace(0, effort.lasts_s, len(effort.profile))
            way = [self.at(0.0, 0.0), *(self.at(t, y) for t, y in zip(steps, effort.profile, strict=True))]
            canvas.line(theme.ink, way, width)


def _top(effort: Effort) -> float:
    """The highest level that is shown: above the effort and the band, but no band without an upper edge."""
    low, high = max(effort.lower), max(effort.upper)
    return max(HEADROOM * max(high if high < 1.2 else low, *effort.profile, LEAST_LEVEL), SEEN_ABOVE * low)


def effort_of(result: Result) -> Effort:
    """The attempt against what was asked of it."""
    lower, upper = edges_of(result)
    if (
        not OF_KIND[result.kind].pattern.steers and not result.pattern
    ):  # over too soon for its band to have a place in time
        return Effort(result.profile, result.rep.held_s, lower, upper)
    begins_s = 0.0 if result.pattern else RISE_S
    return Effort(result.profile, result.rep.held_s, lower, upper, begins_s, result.hold_s)


def edges_of(result: Result) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Lower and upper edge of what was asked, over its time."""
    if not result.pattern:
        return (result.low,) * 2, (result.high,) * 2
    middle, half = (result.low + result.high) / 2, (result.high - result.low) / 2
    way = [middle * point for point in result.pattern]
    return tuple(max(0.0, level - half) for level in way), tuple(level + half for level in way)
