"""The bench's picture, sixty times a second: what stands still is kept as one picture, and the moving things are drawn
over it."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable

import pygame
from musclewood.games.desk.bench import pictures, sheets
from musclewood.games.examining.steps import Shown
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.running.bench import Bench

MOST_CHANNELS = 2


class Live:
    """Draws up to two channels of a bench below each other on the sheet `box`. On the sheet `across`, for whoever is at
    the other end of the room: the seconds left, and the effort while a band is asked for."""

    def __init__(self, bench: Bench, box: Box, across: Box) -> None:
        self.bench, self._box, self._across = bench, box, across
        self._still_for: Hashable = None
        self._ground: pygame.Surface | None = None
        self._inks: list[pictures.Ink] = []

    @property
    def channels(self) -> int:
        return min(MOST_CHANNELS, self.bench.channels)

    def row(self, channel: int) -> Box:
        """What belongs to one channel."""
        height = self._box.height / self.channels
        return Box(self._box.left, self._box.top + channel * height, self._box.width, height)

    def plot(self, channel: int) -> Box:
        """The paper of its trace."""
        row = self.row(channel)
        return Box(
            row.left + pictures.SCALE_W,
            row.top + 40,
            row.width - pictures.SCALE_W - pictures.GAUGE_W - 44,
            row.height - 82,
        )

    def draw(
        self, canvas: Canvas, theme: Theme, shown: Shown | None, laid_out: Hashable, still: Callable[[Canvas], None]
    ) -> None:
        """`still` draws the page itself; it is asked again only when `laid_out` is another or a scale has grown."""
        trace = self.bench.trace
        columns = [trace.columns(channel) for channel in range(self.channels)]
        edges_uv = [trace.scale_uv(channel) for channel in range(self.channels)]
        self._lay_ground(canvas, theme, (laid_out, id(theme), tuple(edges_uv)), still, edges_uv)
        for channel, (low, high, now) in enumerate(columns):
            plot, edge_uv, ink = self.plot(channel), edges_uv[channel], self._inks[channel]
            shares = low / edge_uv, high / edge_uv
            if trace.envelope:
                shares = 2 * shares[0] - 1, 2 * shares[1] - 1
            ink.write(*shares, theme.ink, canvas.length(plot.height / 2 - pictures.EDGE))
            ink.show(canvas.surface)
            if trace.running:
                pictures.pen(canvas, plot, now)
            level, band = self._effort(channel, shown)
            gauge = Box(plot.right + 22, plot.top, pictures.GAUGE_W, plot.height)
            pictures.gauge(canvas, theme, gauge, level, band)
            if band:
                pictures.gauge(canvas, theme, sheets.large_gauge(self._across), level, band)
        if shown is not None and shown.doing not in ("place", "pain", "keep"):
            pictures.seconds(canvas, theme, sheets.clock(self._across, beside=shown.band is not None), shown.left_s)

    def _lay_ground(
        self, canvas: Canvas, theme: Theme, now: Hashable, still: Callable[[Canvas], None], edges_uv: list[float]
    ) -> None:
        if self._ground is not None and now == self._still_for:
            canvas.surface.blit(self._ground, (0, 0))
            return
        still(canvas)
        plots = [self.plot(channel) for channel in range(self.channels)]
        for plot, edge_uv in zip(plots, edges_uv, strict=True):
            pictures.scale(canvas, theme, plot, edge_uv, envelope=self.bench.trace.envelope)
        self._ground = canvas.surface.copy()
        self._inks = [pictures.Ink(self._ground, canvas.area(plot)) for plot in plots]
        self._still_for = now

    def _effort(self, channel: int, shown: Shown | None) -> tuple[float, tuple[float, float] | None]:
        """What the gauge of a channel shows: the level, NaN where 100 % is not known, and the band that is asked
        for."""
        last = self.bench.last
        level = last.activation[channel] if last else math.nan
        known = channel in self.bench.references
        worked = shown is not None and any(one.channel == channel for one in shown.subjects[:1])
        if shown is not None and worked and not known:
            level = shown.level or math.nan
        return level if known or worked else math.nan, shown.band if shown and worked else None
