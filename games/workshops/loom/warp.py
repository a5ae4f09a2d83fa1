"""The loom's web: a cloth that grows row by row from below, and the figure that is dyed into the warp above it.

Read from afar: the figure is the pattern, and the whole of it is seen before it is woven; its seam is the band; the two
shuttles, one for each half, are the effort; how far the cloth has grown is the time.
"""

from __future__ import annotations

import math
from concurrent.futures import Future, ThreadPoolExecutor

import numpy as np
import pygame
from musclewood.games.engine.judging import PROFILE_POINTS
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.palette import Colour, mixed
from musclewood.games.kit.paper import PaperBox, Sheet
from musclewood.games.workshops.loom.bands import woven
from musclewood.games.workshops.loom.designs import FINE, Design, Yarn, grid
from musclewood.games.workshops.loom.rules import LoomRules
from numpy.typing import NDArray

MIDDLE, HALF = 640.0, 160.0  # of the web: where it is folded in thought, and how far height 1 lies from there
TOP, BASE = 304.0, 552.0  # the warp beam, and where the first row is woven
LONG = 240.0  # stage px from the first row of a pattern to its last
RAISED = 26.0  # how far the batten hangs above the cloth before a pattern begins
TUNED, STITCH = (120, 210, 170), (252, 240, 208)
ROLL_LEAST, ROLL_MOST = 8.0, 24.0


def row_y(share: float) -> float:
    """Stage y of the row at a share of the pattern: the first lies at the bottom."""
    return BASE - LONG * share


def edge_x(height: float, side: int) -> float:
    """Stage x of a height on the cloth, in its left (-1) or right (1) half."""
    return MIDDLE + side * HALF * height


class Web:
    """Draws warp, cloth, batten, marks and shuttles; keeps the pictures of the pattern now on the loom."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        self._sheet = {name: box.sheet(f"loom/{name}.svg") for name in ("shuttle", "mark", "batten", "warp_beam")}
        self._left = _mirrored(self._sheet["shuttle"])
        self._threads: pygame.Surface | None = None
        self._dyer = ThreadPoolExecutor(max_workers=1, thread_name_prefix="dyer")
        self._way: tuple[object, Future[tuple[pygame.Surface, pygame.Surface]]] | None = None
        self._cloth: tuple[object, int, pygame.Surface] | None = None

    def draw(self, canvas: Canvas, rules: LoomRules) -> None:
        """All that is stretched between the beams."""
        fell = row_y(min(max(rules.at_s / rules.hold_s, 0.0), 1.0))
        self._draw_warp(canvas)
        self._draw_figure(canvas, rules, fell)
        self._draw_cloth(canvas, rules)
        self._draw_roll(canvas, rules)
        self._sheet["warp_beam"].draw(canvas.surface)
        beat = fell - RAISED * min(1.0, max(-rules.at_s, 0.0) / 0.6)
        self._draw_batten(canvas, rules, beat)

    def settle(self) -> None:
        """Wait for the pattern that is being dyed; for stills."""
        if self._way is not None:
            self._way[1].result()

    # --- the warp, dyed ahead --------------------------------------------------------------------------------------
    def _draw_warp(self, canvas: Canvas) -> None:
        area = canvas.area((MIDDLE - HALF, TOP - 8, 2 * HALF, BASE - TOP + 14))
        if self._threads is None:
            self._threads = _warp(area.size, canvas.scale)
        canvas.surface.blit(self._threads, area)

    def _draw_figure(self, canvas: Canvas, rules: LoomRules, fell: float) -> None:
        """The whole figure in the warp above the cloth; of what is woven already only its seam
        is shown, on the cloth."""
        key = (rules.place, round(rules.half, 3), rules.finished)
        if self._way is None or self._way[0] != key:
            moments = np.linspace(0, rules.hold_s, round(LONG * canvas.scale))[::-1]
            asked = np.asarray([rules.pattern_height(float(moment)) for moment in moments])
            self._way = (key, self._dyer.submit(_dyed, asked, rules.half, rules.design.yarn, canvas.scale))
            if rules.place == len(rules.before):
                self.settle()  # the first is there from the beginning; later ones while the cloth is wound on
        if rules.finished or not self._way[1].done():
            return
        dyed, _ = self._way[1].result()
        canvas.surface.set_clip(canvas.area((MIDDLE - HALF, 0, 2 * HALF, fell)))
        canvas.surface.blit(dyed, canvas.at((MIDDLE - HALF, BASE - LONG)))
        canvas.surface.set_clip(None)

    # --- the cloth ---------------------------------------------------------------------------------------------------
    def _draw_cloth(self, canvas: Canvas, rules: LoomRules) -> None:
        if not rules.woven:
            return
        picture, surface = self._woven(canvas, rules), canvas.surface
        picture.set_alpha(round(255 * rules.unpicked) if rules.unpicked > 0 else None)
        top = row_y(len(rules.woven) / PROFILE_POINTS)
        area = canvas.area((MIDDLE - HALF, top, 2 * HALF, BASE - top))
        part = pygame.Rect(0, picture.get_height() - area.height, area.width, area.height)
        surface.blit(picture, area, part)
        if self._way is not None and self._way[1].done():
            _, seam = self._way[1].result()
            surface.blit(seam, area, part)
        edge = canvas.length(3)
        surface.fill((250, 240, 214), (area.left, area.top - edge // 2, area.width, edge))

    def _woven(self, canvas: Canvas, rules: LoomRules) -> pygame.Surface:
        """The rows made so far, from below; a new one is added when it is finished."""
        key, count = (rules.place, rules.attempt), len(rules.woven)
        if self._cloth is None or self._cloth[0] != key or self._cloth[1] > count:
            size = canvas.area((MIDDLE - HALF, BASE - LONG, 2 * HALF, LONG)).size
            self._cloth = (key, 0, pygame.Surface(size, 0, 32))
        _, drawn, picture = self._cloth
        if drawn < count:
            _add_rows(picture, rules.woven, drawn, rules.design)
            self._cloth = (key, count, picture)
        return picture

    def _draw_roll(self, canvas: Canvas, rules: LoomRules) -> None:
        """The cloth beam below, thicker with every band."""
        tall = ROLL_LEAST + (ROLL_MOST - ROLL_LEAST) * rules.wound
        area = canvas.area((MIDDLE - HALF - 4, BASE, 2 * HALF + 8, tall))
        rows = 8
        for n in range(rows):
            turn = math.sin(math.pi * (n + 0.7) / (rows + 0.4))
            colour = tuple(round(part * (0.5 + 0.5 * turn)) for part in (226, 206, 170))
            top, bottom = area.top + area.height * n // rows, area.top + area.height * (n + 1) // rows
            canvas.surface.fill(colour, (area.left, top, area.width, bottom - top))
        for x in (area.left - canvas.length(7), area.right):
            box = pygame.Rect(x, area.top - canvas.length(3), canvas.length(7), area.height + canvas.length(6))
            pygame.draw.rect(canvas.surface, (60, 39, 32), box, border_radius=canvas.length(3))

    # --- at the batten
    # -------------------------------------------------------------------------------------------------
    def _draw_batten(self, canvas: Canvas, rules: LoomRules, y: float) -> None:
        """On each side two leaves of brass point at the seam's edges; between them the shuttle wants to stand."""
        surface = canvas.surface
        self._sheet["batten"].draw(surface, MIDDLE, y)
        for side in (-1, 1):
            for edge in (-1, 1):
                x = edge_x(min(max(rules.gate + edge * rules.half, 0.0), 1.0), side)
                self._sheet["mark"].draw(surface, x, y - 2)
                shine(surface, canvas.at((x, y - 26)), (canvas.length(52),) * 2, TUNED, 0.8 * rules.glow)
            self._draw_shuttle(canvas, rules, side, y)

    def _draw_shuttle(self, canvas: Canvas, rules: LoomRules, side: int, y: float) -> None:
        x = edge_x(rules.shuttle, side)
        light = 0.2 + 0.35 * rules.glow
        shine(canvas.surface, canvas.at((x, y)), (canvas.length(84),) * 2, (255, 205, 130), light)
        colour: Colour = rules.design.yarn.line
        canvas.line(mixed(colour, (250, 246, 226), 0.25), [(MIDDLE, y + 1), (x, y + 1)], 3)
        (self._sheet["shuttle"] if side > 0 else self._left).draw(canvas.surface, x, y)
        bobbin = canvas.area((x + (24 if side > 0 else -52), y - 5, 28, 10))
        pygame.draw.rect(canvas.surface, colour, bobbin, border_radius=canvas.length(4))


# --- pictures made once
# -------------------------------------------------------------------------------------------------
def _mirrored(sheet: Sheet) -> Sheet:
    """The same sheet for the other half of the web, turned about the axis x = 0."""
    wide = sheet.surface.get_width() / sheet.scale
    return Sheet(pygame.transform.flip(sheet.surface, True, False), -sheet.x - wide, sheet.y, sheet.scale)


def _threads_of(width_px: int, scale: float) -> NDArray[np.float64]:
    """Where within its thread each pixel column lies, -1..1."""
    pitch = max(4.0 * scale, 2.0)
    return np.asarray((np.arange(width_px) % pitch) / pitch * 2 - 1)


def _warp(size: tuple[int, int], scale: float) -> pygame.Surface:
    """Undyed threads with the evening between them."""
    columns = _threads_of(size[0], scale)
    body = np.clip(1.35 - np.abs(columns) * 1.5, 0, 1)
    tint = 1 + 0.05 * np.random.default_rng(4).standard_normal(size[0])
    shade = np.asarray((150, 138, 158)) * (0.72 + 0.28 * (1 - np.abs(columns + 0.2)))[:, None] * tint[:, None]
    picture = pygame.Surface(size, pygame.SRCALPHA, 32)
    pygame.surfarray.pixels3d(picture)[:] = np.clip(shade, 0, 255).astype(np.uint8)[:, None]
    pygame.surfarray.pixels_alpha(picture)[:] = (150 * body + 70).astype(np.uint8)[:, None]
    return picture


def _dyed(asked: NDArray[np.float64], half: float, yarn: Yarn, scale: float) -> tuple[pygame.Surface, pygame.Surface]:
    """The figure on the warp, and its bare seam. asked: its height at each pixel row, from the
    last row (above) down."""
    size = (round(2 * HALF * scale), asked.size)
    half = max(half, 2.0 / HALF)
    out = np.abs((np.arange(size[0]) + 0.5) / size[0] * 2 - 1)[:, None]  # 0 in the middle, 1 at the selvedge
    away = np.abs(out - asked[None, :]) / half
    soft = 2.4 / (half * size[0])
    shade = (0.78 + 0.3 * (1 - np.abs(_threads_of(size[0], scale))))[:, None, None]
    fill = np.asarray(yarn.fill, dtype=np.float64) * 0.72 + np.asarray((255, 236, 200)) * 0.28
    rgb = np.clip(fill * shade, 0, 255) * np.ones((1, size[1], 1))
    rim = np.clip(1 - np.abs(away - 1 + 2 * soft) / (2.6 * soft), 0, 1)[..., None]
    rgb = rgb * (1 - rim) + np.asarray(STITCH) * rim
    seam = np.clip((1 - away) / soft + 1.0, 0, 1)
    within = np.clip((asked[None, :] - out) / half / soft, 0, 1)
    edge = 255 * np.clip(1 - np.abs(away - 1) / (2.2 * soft), 0, 1)
    dashes = (np.arange(size[1]) // max(1, round(5 * scale))) % 2  # light and dark by turns: seen on every yarn
    stitched = np.where(dashes[None, :, None] == 1, (252, 246, 226), (30, 29, 56)) * np.ones((size[0], 1, 1))
    return _picture(rgb, np.maximum(245 * seam, 96 * within)), _picture(stitched, edge)


def _picture(rgb: NDArray[np.float64], alpha: NDArray[np.float64]) -> pygame.Surface:
    picture = pygame.Surface(alpha.shape, pygame.SRCALPHA, 32)
    pygame.surfarray.pixels3d(picture)[:] = np.clip(rgb, 0, 255).astype(np.uint8)
    pygame.surfarray.pixels_alpha(picture)[:] = np.clip(alpha, 0, 255).astype(np.uint8)
    return picture


def _add_rows(picture: pygame.Surface, heights: list[float], first: int, design: Design) -> None:
    """Weave the rows from `first` on, upwards; both halves mirror each other."""
    half = grid(np.asarray(heights), design)[FINE * first :]
    both = np.concatenate([half[:, ::-1], half], axis=1).T[:, ::-1]  # (across, from the last row down)
    wide, tall = picture.get_size()
    top, bottom = (tall - round(tall * count / PROFILE_POINTS) for count in (len(heights), first))
    picture.blit(pygame.transform.smoothscale(woven(both, design.colours, (6, 6)), (wide, bottom - top)), (0, top))
