"""A session as a graph: what was asked as a band, what was done as ink, each repetition with its verdict. Drawing only
reads."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pygame
from musclewood.games.desk.base.pieces import FINE, quiet_ink
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import mixed, palette
from musclewood.games.kit.theme import Theme
from musclewood.profiles.journal.records import RepRecord

EDGE_LEFT, EDGE_LOW = 70.0, 34.0  # room for what the axes mean
GAP = 0.18  # of a place, between two repetitions side by side
LEAST_SPAN_S = 20.0


def draw_reps(canvas: Canvas, theme: Theme, box: Box, reps: Sequence[RepRecord], *, over_time: bool) -> None:
    """The repetitions of one exercise: along the session's minutes, or each in a place of its own."""
    plot = Box(box.left + EDGE_LEFT, box.top + 16, box.width - EDGE_LEFT - 12, box.height - EDGE_LOW - 16)
    top = _top(reps)
    _frame(canvas, theme, plot, top)
    places = _along_time(reps, plot) if over_time else _side_by_side(reps, plot)
    for rep, (left, width) in zip(reps, places, strict=True):
        _asked(canvas, theme, plot, top, rep, left, width)
    for rep, (left, width) in zip(reps, places, strict=True):
        _done(canvas, theme, plot, top, rep, left, width)
    _below(canvas, theme, plot, reps, places, over_time)


def _top(reps: Sequence[RepRecord]) -> float:
    """A round level above all that was asked or done, %."""
    most = max(
        (max(rep.target_pct_mvc + rep.tolerance_pct_mvc, *_levels(rep), rep.mean_pct_mvc) for rep in reps), default=50
    )
    return 10.0 * math.ceil(max(20.0, 1.08 * most) / 10.0)


def _levels(rep: RepRecord) -> list[float]:
    return [value for value in rep.effort_profile if math.isfinite(value)] or [0.0]


def _y(plot: Box, top: float, level: float) -> float:
    return plot.bottom - plot.height * min(1.0, max(0.0, level / top))


def _frame(canvas: Canvas, theme: Theme, plot: Box, top: float) -> None:
    for share in (0.0, 0.5, 1.0):
        y = plot.bottom - share * plot.height
        canvas.line(quiet_ink(theme), [(plot.left, y), (plot.right, y)], 2)
        theme.letters.write(canvas, f"{share * top:g} %", (plot.left - 8, y), FINE, theme.ink, anchor="midright")


def _along_time(reps: Sequence[RepRecord], plot: Box) -> list[tuple[float, float]]:
    first = min((rep.onset_s for rep in reps), default=0.0)
    span = max(LEAST_SPAN_S, max((rep.offset_s for rep in reps), default=0.0) - first)
    return [
        (plot.left + plot.width * (rep.onset_s - first) / span, max(2.0, plot.width * rep.held_s / span))
        for rep in reps
    ]


def _side_by_side(reps: Sequence[RepRecord], plot: Box) -> list[tuple[float, float]]:
    each = plot.width / max(6, len(reps))
    return [(plot.left + each * (number + GAP / 2), each * (1 - GAP)) for number in range(len(reps))]


def _asked(canvas: Canvas, theme: Theme, plot: Box, top: float, rep: RepRecord, left: float, width: float) -> None:
    """The band that was asked for at the time; where at least the target was asked for, a line with no upper edge."""
    low, high = rep.target_pct_mvc - rep.tolerance_pct_mvc, rep.target_pct_mvc + rep.tolerance_pct_mvc
    if rep.tolerance_pct_mvc <= 0:
        high = top
    area = canvas.area(Box(left, _y(plot, top, high), max(3.0, width), _y(plot, top, low) - _y(plot, top, high)))
    pygame.draw.rect(canvas.surface, mixed(palette().accent["green"], theme.slip, 0.55), area)
    for level in (low, high) if rep.tolerance_pct_mvc > 0 else (low,):
        y = _y(plot, top, level)
        canvas.line(theme.ink, [(left, y), (left + max(3.0, width), y)], 2)


def _done(canvas: Canvas, theme: Theme, plot: Box, top: float, rep: RepRecord, left: float, width: float) -> None:
    """The effort over the repetition; the opposite's mean as a dashed line where it was measured."""
    levels = [value if math.isfinite(value) else 0.0 for value in rep.effort_profile]
    if len(levels) > 1:
        step = width / (len(levels) - 1)
        way = [(left + number * step, _y(plot, top, value)) for number, value in enumerate(levels)]
        canvas.line(palette().accent["blue"], way, 3)
    else:  # a hand-over without courses still has the mean
        y = _y(plot, top, rep.mean_pct_mvc)
        canvas.line(palette().accent["blue"], [(left, y), (left + width, y)], 3)
    other = rep.opposite_mean_pct_mvc
    if other is not None and math.isfinite(other):
        y, dash = _y(plot, top, other), max(4.0, width / 7)
        for start in range(0, 7, 2):
            canvas.line(palette().accent["vermilion"], [(left + start * dash, y), (left + (start + 0.9) * dash, y)], 4)


def _below(
    canvas: Canvas,
    theme: Theme,
    plot: Box,
    reps: Sequence[RepRecord],
    places: Sequence[tuple[float, float]],
    time: bool,
) -> None:
    """A disc for what counted, a ring for what did not; and where the first and the last repetition stand."""
    y = plot.bottom + 11
    for rep, (left, width) in zip(reps, places, strict=True):
        middle = (left + width / 2, y)
        canvas.disc(theme.ink, middle, 6)
        if rep.verdict != "counted":
            canvas.disc(theme.slip, middle, 4)
    if reps and time:
        minutes = (reps[-1].offset_s - reps[0].onset_s) / 60
        write = theme.letters.write
        write(canvas, f"{minutes:.1f} min", (plot.right - 4, plot.top + 4), FINE, theme.ink, anchor="topright")
