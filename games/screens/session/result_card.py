"""What happened in the last attempt, in words and as a picture: the effort against its band, and how far the thing came."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import numpy as np
import pygame
from musclewood.games.engine.results import ALIKE, Result
from musclewood.games.engine.shelf import product_of
from musclewood.games.engine.teacher import Help
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.palette import palette
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Look, Widget, sentence
from musclewood.games.kit.words import Words
from musclewood.games.screens.base.products import draw_product

CARD = (484.0, 24.0, 250.0, 176.0)  # the sky between the words and the moon
WORDS_WIDTH = 330.0
NO_DAY = date(2000, 1, 1)  # what is seen here is not kept
RISE_S, DEMO_SLOWER, DEMO_PAUSE_S = 0.6, 1.5, 1.2  # a demonstration takes half as long again; our choice


def told_in(words: Words, workshop: str, result: Result, help_: Help) -> list[str]:
    """The sentences: what happened, by how much, and what to do next time; or the help there is."""
    told = [words(what_key(workshop, result))]
    if result.figure:
        values = {name: _figure(words, value) for name, value in result.values.items()}
        told.append(words(f"result.figure.{result.figure}", **values))
    if help_:
        told.append(words(f"result.help.{help_}"))
    elif not result.made:
        told.append(words(f"result.next.{result.code}"))
    if result.unseen:
        told.insert(0, words("result.unseen"))
    return told


def what_key(workshop: str, result: Result) -> str:
    """The key of what happened; a miss is told in the workshop's own words."""
    if result.made:
        return f"result.good.{result.good}"
    return f"result.alike.{result.code}" if result.code in ALIKE else f"result.{workshop}.{result.code}"


def _figure(words: Words, value: float) -> str:
    text = f"{value:g}"
    return text.replace(".", ",") if words.language == "de" else text


def result_card(
    canvas: Canvas, theme: Theme, workshop: str, result: Result, help_: Help, clock: Callable[[], float]
) -> list[Widget]:
    """Picture and words side by side. `clock` tells the seconds that a demonstration moves by."""
    left, top, width, height = CARD
    told = " ".join(told_in(theme.words, workshop, result, help_))
    words = sentence(canvas, theme, told, (left + width + 12, top), WORDS_WIDTH, Look(size=SMALL, margin=16))

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        shown = help_ in ("shown", "easier", "rest")
        _draw(canvas, theme, box, workshop, result, clock() if shown and not theme.still else None, shown)

    return [Widget(Box(left, top, width, height), picture=draw), words]


def _draw(
    canvas: Canvas, theme: Theme, box: Box, workshop: str, result: Result, time_s: float | None, shown: bool
) -> None:
    plot = Box(box.left + 16, box.top + 16, box.width - 96, box.height - 32)
    _plot(canvas, theme, plot, result, time_s, shown)
    thing = Box(plot.right + 10, box.top + 50, 60, 76)
    _draw_thing(canvas, theme, thing, workshop, result)


def _plot(canvas: Canvas, theme: Theme, box: Box, result: Result, time_s: float | None, shown: bool) -> None:
    """The band as a strip of lamplight with firm edges, the effort as a line of ink, what was meant as dots."""
    lasts_s = max(result.hold_s + 2 * RISE_S, result.rep.held_s + 0.2, 0.6)
    top = 1.25 * max(result.high if result.high < 1.2 else result.low, result.low, *result.profile, 0.05)
    top = max(top, 1.6 * result.low)

    def at(when_s: float, level: float) -> Point:
        share = min(max(level / top, 0.0), 1.0)
        return box.left + box.width * when_s / lasts_s, box.bottom - box.height * share

    paper = palette().paper
    lower, upper = _edges(result)
    times = np.linspace(0, result.hold_s, len(lower)) + (0.0 if result.pattern else RISE_S)
    edge_low = [at(t, y) for t, y in zip(times, lower, strict=True)]
    edge_high = [at(t, min(y, top)) for t, y in zip(times, upper, strict=True)]
    canvas.shape(paper["lamp-deep"], [*edge_high, *reversed(edge_low)])
    for edge in (edge_low, edge_high):
        _line(canvas, theme.ink, edge, 2)
    _line(canvas, theme.ink, [(box.left, box.bottom), (box.right, box.bottom)], 2)
    if result.profile:
        steps = np.linspace(0, result.rep.held_s, len(result.profile))
        way = [at(0.0, 0.0), *(at(t, y) for t, y in zip(steps, result.profile, strict=True))]
        _line(canvas, theme.ink, way, 5)
    if result.opposite is not None and result.code in ("helped", "unlike"):
        _line(canvas, palette().accent["vermilion"], [at(0, result.opposite), at(lasts_s, result.opposite)], 4)
    if shown:
        _dots(canvas, theme, [at(t, y) for t, y in _meant(result)], time_s, lasts_s)


def _edges(result: Result) -> tuple[list[float], list[float]]:
    """Lower and upper edge of what was asked, over its time."""
    if not result.pattern:
        return [result.low] * 2, [result.high] * 2
    middle, half = (result.low + result.high) / 2, (result.high - result.low) / 2
    way = [middle * point for point in result.pattern]
    return [max(0.0, level - half) for level in way], [level + half for level in way]


def _meant(result: Result) -> list[Point]:
    """(s, level) of how it is meant, twenty points a way."""
    if result.code == "rest" or result.kind == "relax":
        return [(t, 0.01) for t in np.linspace(0, result.hold_s, 20)]
    lower, upper = _edges(result)
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


def _line(canvas: Canvas, colour: tuple[int, int, int], points: list[Point], width: float) -> None:
    if len(points) > 1:
        canvas.line(colour, points, width)


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
