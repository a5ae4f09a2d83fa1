"""Two small drawings on a patient's card: how strong the muscle is lately, and how much of the order was done."""

from __future__ import annotations

from collections.abc import Sequence

import pygame
from musclewood.games.desk.base.pieces import FINE, quiet_ink
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import mixed, palette
from musclewood.games.kit.theme import Theme

NICE = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)


def nice_top(largest: float) -> float:
    """A round number at or above the largest value."""
    if largest <= 0:
        return 1.0
    ten = 10.0 ** (len(str(int(largest))) - 1) if largest >= 1 else 1.0
    return next((step * ten for step in NICE if step * ten >= largest), 10.0 * ten)


def strength(
    canvas: Canvas,
    theme: Theme,
    box: Box,
    days: Sequence[int],
    track_uv: Sequence[float],
    low_uv: float,
    high_uv: float,
) -> None:
    """The estimates by day as a line with a dot each; today's interval as a bracket at its end. Units: µV, days."""
    top = nice_top(max([*track_uv, high_uv]))
    plot = _plot(theme, box)
    _frame(canvas, theme, plot, [(0.0, "0"), (top / 2, f"{top / 2:g}"), (top, f"{top:g} µV")], top)
    if not days:
        return
    span = max(1, days[-1] - days[0])

    def at(day: int, value: float) -> tuple[float, float]:
        return plot.left + 10 + (plot.width - 40) * (day - days[0]) / span, plot.bottom - plot.height * value / top

    points = [at(day, value) for day, value in zip(days, track_uv, strict=True)]
    blue = palette().accent["blue"]
    end_x = points[-1][0] + 16
    low, high = at(days[-1], low_uv)[1], at(days[-1], high_uv)[1]
    for ends in (
        [(end_x, high), (end_x, low)],
        [(end_x - 7, high), (end_x + 7, high)],
        [(end_x - 7, low), (end_x + 7, low)],
    ):
        canvas.line(theme.ink, ends, 3)
    if len(points) > 1:
        canvas.line(blue, points, 4)
    for point in points if len(points) <= 24 else points[-1:]:
        canvas.disc(theme.ink, point, 5)
        canvas.disc(blue, point, 3)
    write = theme.letters.write
    first = theme.words("desk.card.days-before", count=days[-1] - days[0])
    if span > 1:
        write(canvas, first, (plot.left, plot.bottom + 6), FINE, theme.ink)
    write(canvas, theme.words("desk.card.latest"), (plot.right, plot.bottom + 6), FINE, theme.ink, anchor="topright")


def weeks(canvas: Canvas, theme: Theme, box: Box, kept_pct: Sequence[float | None]) -> None:
    """One column a week, the latest on the right; a week without any order is a dash."""
    plot = _plot(theme, box)
    _frame(canvas, theme, plot, [(0.0, "0"), (50.0, "50"), (100.0, "100 %")], 100.0)
    step = min(64.0, plot.width / max(1, len(kept_pct)))
    left = plot.right - step * len(kept_pct)
    for number, value in enumerate(kept_pct):
        middle = left + step * (number + 0.5)
        if value is None:
            canvas.line(theme.ink, [(middle - 6, plot.bottom - 8), (middle + 6, plot.bottom - 8)], 3)
            continue
        height = max(3.0, plot.height * min(value, 100.0) / 100)
        column = canvas.area(Box(middle - step * 0.26, plot.bottom - height, step * 0.52, height))
        pygame.draw.rect(canvas.surface, mixed(palette().accent["sky"], theme.slip, 0.25), column)
        pygame.draw.rect(canvas.surface, theme.ink, column, canvas.length(2))
    write = theme.letters.write
    write(canvas, theme.words("desk.card.weeks", count=len(kept_pct)), (plot.left, plot.bottom + 6), FINE, theme.ink)


def _plot(theme: Theme, box: Box) -> Box:
    """Where the curve goes: room for the scale on the left and for words below."""
    scale = theme.letters.text_scale
    return Box(box.left + 78 * scale, box.top + 14 * scale, box.width - 78 * scale - 26, box.height - 6 - 42 * scale)


def _frame(canvas: Canvas, theme: Theme, plot: Box, marks: Sequence[tuple[float, str]], top: float) -> None:
    for value, text in marks:
        y = plot.bottom - plot.height * value / top
        canvas.line(quiet_ink(theme) if value else theme.ink, [(plot.left, y), (plot.right, y)], 2)
        theme.letters.write(canvas, text, (plot.left - 8, y), FINE, theme.ink, anchor="midright")
