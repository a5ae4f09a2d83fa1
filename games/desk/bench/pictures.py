"""What moves on the bench: the raw signal as ink on paper, the effort as a column, the seconds left. Drawing only
reads."""

from __future__ import annotations

import math

import numpy as np
import pygame
from musclewood.games.desk.base.pieces import DENSE, FINE, quiet_ink
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import Colour, mixed, palette
from musclewood.games.kit.theme import Theme
from musclewood.games.running.traces import COLUMNS, Trace
from numpy.typing import NDArray

GAUGE_W = 46.0
HUGE = 92.0  # read from across a room: about 3 cm on a laptop's screen, as on an eye chart at 6 m (our choice)


def trace(canvas: Canvas, theme: Theme, box: Box, drawn: Trace, channel: int) -> None:
    """The last eight seconds of a channel, written round and round, with what the edge of the paper means in µV."""
    middle, half = box.top + box.height / 2, box.height / 2 - 4
    low, high, now = drawn.columns(channel)
    scale = drawn.scale_uv(channel)
    grid = quiet_ink(theme)
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        y = middle - share * half
        canvas.line(grid, [(box.left, y), (box.right, y)], 2 if share else 3)
    step = box.width / COLUMNS
    _ink(canvas, theme.ink, Box(box.left, middle - half, box.width, 2 * half), low / scale, high / scale)
    if drawn.running:
        x = box.left + (now + 1) * step
        canvas.line(palette().accent["vermilion"], [(x, box.top), (x, box.bottom)], 3)
    write = theme.letters.write
    write(canvas, f"+{scale:g} µV", (box.left - 8, middle - half), FINE, theme.ink, anchor="midright")
    write(canvas, "0", (box.left - 8, middle), FINE, theme.ink, anchor="midright")
    write(canvas, f"-{scale:g} µV", (box.left - 8, middle + half), FINE, theme.ink, anchor="midright")


def _ink(canvas: Canvas, colour: Colour, box: Box, low: NDArray[np.float64], high: NDArray[np.float64]) -> None:
    """A stroke a column, from its lowest to its highest share of the scale; sixty times a
    second, so in whole pixels."""
    known = np.flatnonzero(np.isfinite(low) & np.isfinite(high))
    area, surface = canvas.area(box), canvas.surface
    middle, reach = area.top + area.height / 2, area.height / 2
    across = (area.left + (known + 0.5) * area.width / COLUMNS).astype(int).tolist()
    above = (middle - reach * np.clip(high[known], -1.0, 1.0)).astype(int).tolist()
    below = (middle - reach * np.clip(low[known], -1.0, 1.0) + 1).astype(int).tolist()
    broad = max(1, math.ceil(area.width / COLUMNS))
    for x, top, bottom in zip(across, above, below, strict=True):
        pygame.draw.line(surface, colour, (x, top), (x, bottom), broad)


def column(canvas: Canvas, theme: Theme, box: Box, level: float, band: tuple[float, float] | None) -> None:
    """An effort from 0 to 100 % as a column that fills, with the band that is asked for."""
    top = max(1.0, 1.1 * band[1]) if band else 1.0

    def y(value: float) -> float:
        return box.bottom - box.height * min(1.0, max(0.0, value / top))

    pygame.draw.rect(canvas.surface, mixed(theme.slip, palette().paper["slip-shade"], 0.8), canvas.area(box))
    if band:
        asked = Box(box.left - 8, y(band[1]), box.width + 16, y(band[0]) - y(band[1]))
        pygame.draw.rect(canvas.surface, mixed(palette().accent["green"], theme.slip, 0.45), canvas.area(asked))
        pygame.draw.rect(canvas.surface, theme.ink, canvas.area(asked), canvas.length(3))
    if math.isfinite(level) and level > 0:
        filled = Box(box.left + 6, y(level), box.width - 12, box.bottom - y(level))
        pygame.draw.rect(canvas.surface, palette().accent["blue"], canvas.area(filled))
    pygame.draw.rect(canvas.surface, theme.ink, canvas.area(box), canvas.length(3))


def seconds(canvas: Canvas, theme: Theme, box: Box, left_s: float) -> None:
    """Whole seconds that are left, as large as the box."""
    text = str(max(0, math.ceil(left_s - 1e-6)))
    theme.letters.write(canvas, text, box.centre, min(HUGE, box.height), theme.ink, bold=True, anchor="center")


def percent(canvas: Canvas, theme: Theme, box: Box, level: float) -> None:
    """The level under its column; a dash while no reference is known."""
    text = f"{100 * level:.0f} %" if math.isfinite(level) else "–"
    theme.letters.write(canvas, text, (box.centre[0], box.bottom + 6), DENSE, theme.ink, anchor="midtop")
