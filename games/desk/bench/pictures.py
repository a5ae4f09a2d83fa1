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
from musclewood.games.running.traces import COLUMNS
from numpy.typing import NDArray

SCALE_W = 116.0  # room for what the edges of the paper mean
GAUGE_W = 46.0
PERCENT_H = 34.0
EDGE = 4.0  # between the ends of the scale and those of the box
HUGE = 92.0  # read from across a room: about 3 cm on a laptop's screen, as on an eye chart at 6 m (our choice)


def scale(canvas: Canvas, theme: Theme, box: Box, edge_uv: float, *, envelope: bool) -> None:
    """The paper that a trace is written on: its lines, and what its edges mean in µV. An envelope has no other side of
    nought."""
    middle, half = box.top + box.height / 2, box.height / 2 - EDGE
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        y = middle - share * half
        nought = share == (-1.0 if envelope else 0.0)
        canvas.line(quiet_ink(theme), [(box.left, y), (box.right, y)], 3 if nought else 2)
    texts = (f"+{edge_uv:g} µV", "0", f"−{edge_uv:g} µV")
    if envelope:
        texts = (f"{edge_uv:g} µV", f"{edge_uv / 2:g} µV", "0")
    broad = theme.letters.measure(canvas, list(texts), FINE)[0]
    size = FINE * min(1.0, (SCALE_W - 20) / broad)  # large letters, and thousands of µV, stay on the paper
    for share, text in zip((1.0, 0.0, -1.0), texts, strict=True):
        theme.letters.write(canvas, text, (box.left - 8, middle - share * half), size, theme.ink, anchor="midright")


class Ink:
    """A channel's trace on its paper, a stroke a column. Only strokes that are others now are written anew: a sixtieth
    of a second brings two of four hundred."""

    def __init__(self, ground: pygame.Surface, area: pygame.Rect) -> None:
        self._area = area
        self._paper = ground.subsurface(area)
        self._written = self._paper.copy()
        strokes = min(COLUMNS, area.width)
        self._edges = (np.arange(strokes + 1) * area.width // strokes).tolist()
        self._first = np.arange(strokes) * COLUMNS // strokes  # column of each stroke; a small window has fewer strokes
        self._spans = np.zeros((2, strokes), dtype=int)  # above and below in pixels; nothing where they are alike

    def write(self, low: NDArray[np.float64], high: NDArray[np.float64], colour: Colour, reach: int) -> None:
        """Lowest and highest, shape (400,), as shares of `reach` pixels from the middle; NaN where nothing is."""
        known = np.isfinite(low) & np.isfinite(high)
        middle = self._area.height // 2
        above = middle - reach * np.clip(np.where(known, high, -1.0), -1.0, 1.0)
        below = middle - reach * np.clip(np.where(known, low, 1.0), -1.0, 1.0) + 2
        spans = np.array(
            [
                np.minimum.reduceat(np.where(known, above, np.inf), self._first),
                np.maximum.reduceat(np.where(known, below, -np.inf), self._first),
            ]
        )
        spans = np.where(np.isfinite(spans), spans, 0.0).astype(int)
        for stroke in np.flatnonzero((spans != self._spans).any(axis=0)).tolist():
            left, right = self._edges[stroke], self._edges[stroke + 1]
            top, bottom = spans[:, stroke].tolist()
            self._written.blit(self._paper, (left, 0), (left, 0, right - left, self._area.height))
            self._written.fill(colour, (left, top, right - left, bottom - top))
        self._spans = spans

    def show(self, surface: pygame.Surface) -> None:
        surface.blit(self._written, self._area)


def pen(canvas: Canvas, box: Box, column: int) -> None:
    """Where the trace is written now."""
    x = box.left + (column + 1) * box.width / COLUMNS
    canvas.line(palette().accent["vermilion"], [(x, box.top), (x, box.bottom)], 3)


def gauge(canvas: Canvas, theme: Theme, box: Box, level: float, band: tuple[float, float] | None) -> None:
    """An effort from 0 to 100 % as a column that fills, with the band that is asked for; below it the number, or a dash
    while no reference is known."""
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
    text = f"{100 * level:.0f} %" if math.isfinite(level) else "–"
    size = min(DENSE, PERCENT_H / theme.letters.line_height(1.0))
    theme.letters.write(canvas, text, (box.centre[0], box.bottom + 4), size, theme.ink, anchor="midtop")


def seconds(canvas: Canvas, theme: Theme, box: Box, left_s: float) -> None:
    """Whole seconds that are left, as large as the box."""
    text = str(max(0, math.ceil(left_s - 1e-6)))
    theme.letters.write(canvas, text, box.centre, min(HUGE, box.height), theme.ink, bold=True, anchor="center")
