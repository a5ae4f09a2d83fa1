"""What happened in the last attempt, in words and as a picture: the effort against its band, and how far the thing
came."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pygame
from musclewood.games.engine.results import Result
from musclewood.games.engine.shelf import product_of
from musclewood.games.engine.teacher import Help
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.palette import palette
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Look, Widget, sentence
from musclewood.games.screens.base.products import NO_DAY, draw_product
from musclewood.games.screens.base.told import RISE_S, EffortPlot, edges_of, effort_of, told_in

CARD = (484.0, 24.0, 250.0, 176.0)  # the sky between the words and the moon
WORDS_WIDTH = 330.0
DEMO_SLOWER, DEMO_PAUSE_S = 1.5, 1.2  # a demonstration takes half as long again; our choice


def result_card(
    canvas: Canvas, theme: Theme, workshop: str, result: Result, help_: Help, clock: Callable[[], float]
) -> list[Widget]:
    """Picture and words side by side. `clock` tells the seconds that a demonstration moves by."""
    left, top, width, height = CARD
    told = " ".join(told_in(theme.words, workshop, result, help_))
    words = sentence(canvas, theme, told, (left + width + 12, top), WORDS_WIDTH, Look(size=SMALL, margin=16))

    shown = help_ in ("shown", "easier", "rest")
    moved_by = clock if shown and not theme.still else None  # a still card is kept, and must not keep a page

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        _draw(canvas, theme, box, workshop, result, moved_by() if moved_by else None, shown)

    return [Widget(Box(left, top, width, height), picture=draw, still=moved_by is None), words]


def _draw(
    canvas: Canvas, theme: Theme, box: Box, workshop: str, result: Result, time_s: float | None, shown: bool
) -> None:
    plot = Box(box.left + 16, box.top + 16, box.width - 96, box.height - 32)
    _plot(canvas, theme, plot, result, time_s, shown)
    thing = Box(plot.right + 10, box.top + 50, 60, 76)
    _draw_thing(canvas, theme, thing, workshop, result)


def _plot(canvas: Canvas, theme: Theme, box: Box, result: Result, time_s: float | None, shown: bool) -> None:
    """The effort against its band; the muscle that should have stayed out of it; what was meant, as dots."""
    plot = EffortPlot(box, effort_of(result))
    plot.draw(canvas, theme)
    if result.opposite is not None and result.code in ("helped", "unlike"):
        canvas.line(
            palette().accent["vermilion"], [plot.at(0, result.opposite), plot.at(plot.lasts_s, result.opposite)], 4
        )
    if shown:
        _dots(canvas, theme, [plot.at(t, y) for t, y in _meant(result)], time_s, plot.lasts_s)


def _meant(result: Result) -> list[Point]:
    """(s, level) of how it is meant, twenty points a way."""
    if result.code == "rest" or result.kind == "relax":
        return [(t, 0.01) for t in np.linspace(0, result.hold_s, 20)]
    lower, upper = edges_of(result)
    middle = [(a + min(b, 2 * a)) / 2 for a, b in zip(lower, upper, strict=True)]
    if result.pattern:
        times = np.linspace(0, result.hold_s, len(middle))
        return [(t, float(np.interp(t, times, middle))) for t in np.linspace(0, result.hold_s, 24)]
    hold = np.linspace(RISE_S, RISE_S + result.hold_s, 14)
    up = [(t, middle[0] * t / RISE_S) for t in np.linspace(0, RISE_S, 5)[:-1]]
    down = [(RISE_S + result.hold_s + t, middle[0] * (1 - t / RISE_S)) for t in np.linspace(0, RISE_S, 5)[1:]]
    return [*up, *((t, middle[0]) for t in hold), *down]


def _dots(canvas: Canvas, theme: Theme, way: list[Point], time_s: float | None, lasts_s: float) -> None:
    for at in way:
        canvas.disc(theme.ink, at, 2.5)
    if time_s is not None:
        period_s = DEMO_SLOWER * lasts_s + DEMO_PAUSE_S
        share = min(1.0, (time_s % period_s) / (DEMO_SLOWER * lasts_s))
        at = way[round(share * (len(way) - 1))]
        canvas.disc(theme.ink, at, 10)
        canvas.disc(palette().paper["lamp"], at, 7)


def _draw_thing(canvas: Canvas, theme: Theme, box: Box, workshop: str, result: Result) -> None:
    """The thing that was being made, as far as it came."""
    draw_product(canvas, box, product_of(result.rep, workshop, NO_DAY))
    if result.share < 1:
        gone = Box(box.left - 4, box.top - 4, box.width + 8, (box.height + 8) * (1 - result.share))
        area = canvas.area(gone)
        paper = pygame.Surface(area.size)
        paper.fill(theme.slip)
        paper.set_alpha(215)
        canvas.surface.blit(paper, area)
