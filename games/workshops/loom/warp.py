"""The loom's web: the dyed warp that comes in from the right, the race with its combs and shuttle, the cloth on the left.

Read from afar: the dyed way is the pattern, and it is seen before it arrives; the two combs on the race are its band; the
shuttle is the effort; the knotted tassel at the way's end is the end of the repetition.
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
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops.loom.bands import woven
from musclewood.games.workshops.loom.designs import FINE, Design, Yarn, grid
from musclewood.games.workshops.loom.rules import LoomRules
from numpy.typing import NDArray

TOP, BOTTOM = 300.0, 524.0  # of the web: heights 1 and 0
LEFT, FELL, RIGHT = 279.0, 622.0, 984.0  # the cloth beam, where weft becomes cloth, the warp beam
CELL = 8.0  # stage px along the warp for one cell
LONG = CELL * PROFILE_POINTS  # of one pattern
PULLEYS = ((246.0, 268.0), (640.0, 268.0))
TUNED, CLEAR, LINT = (120, 210, 170), (246, 236, 210), (150, 140, 150)
ROLL_LEAST, ROLL_MOST = 20.0, 46.0


def height_y(height: float) -> float:
    """Stage y of a height on the cloth."""
    return BOTTOM - height * (BOTTOM - TOP)


class Web:
    """Draws warp, cloth, combs and shuttle; keeps the pictures of the pattern now on the loom."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        names = ("shuttle", "comb_low", "comb_high", "roller", "race")
        self._sheet = {name: box.sheet(f"loom/{name}.svg") for name in names}
        self._threads: pygame.Surface | None = None
        self._plain: pygame.Surface | None = None
        self._dyer = ThreadPoolExecutor(max_workers=1, thread_name_prefix="dyer")
        self._way: tuple[object, Future[tuple[pygame.Surface, pygame.Surface]]] | None = None
        self._cloth: tuple[object, int, pygame.Surface] | None = None

    def draw(self, canvas: Canvas, rules: LoomRules) -> None:
        """All that is stretched between the beams."""
        fell = canvas.at((FELL, TOP))
        start = FELL - rules.at_s / rules.hold_s * LONG  # where the pattern begins
        self._draw_warp(canvas, rules, start)
        self._draw_cloth(canvas, rules, start)
        self._draw_way(canvas, rules, start, fell[0])
        self._draw_roll(canvas, rules)
        self._sheet["roller"].draw(canvas.surface)
        self._sheet["race"].draw(canvas.surface)
        self._draw_combs(canvas, rules)
        self._draw_shuttle(canvas, rules)

    def settle(self) -> None:
        """Wait for the pattern that is being dyed; for stills."""
        if self._way is not None:
            self._way[1].result()

    # --- the warp, dyed ahead --------------------------------------------------------------------------------------
    def _draw_warp(self, canvas: Canvas, rules: LoomRules, start: float) -> None:
        area = canvas.area((FELL, TOP, RIGHT - FELL, BOTTOM - TOP))
        if self._threads is None:
            self._threads = _warp(area.size, canvas.scale)
        canvas.surface.blit(self._threads, area)

    def _draw_way(self, canvas: Canvas, rules: LoomRules, start: float, fell_px: int) -> None:
        """Dyed in full before the fell, only its edges behind it, where the cloth shows what was made of it."""
        key = (rules.place, round(rules.half, 3), rules.finished)
        if self._way is None or self._way[0] != key:
            moments = np.linspace(0, rules.hold_s, round(LONG * canvas.scale))
            middle = np.asarray([rules.pattern_height(moment) for moment in moments])
            self._way = (key, self._dyer.submit(_dyed, middle, rules.half, rules.design.yarn, canvas.scale))
            if rules.place == len(rules.before):
                self.settle()  # the first is there from the beginning; later ones while the warp is wound on
        if rules.finished or not self._way[1].done():
            return
        dyed, edges = self._way[1].result()
        surface, corner = canvas.surface, canvas.at((start, TOP))
        surface.set_clip(canvas.area((FELL, TOP - 30, RIGHT - FELL, BOTTOM - TOP + 60)))
        surface.blit(dyed, corner)
        self._draw_tassel(canvas, rules, start + LONG)
        surface.set_clip(canvas.area((LEFT, TOP, FELL - LEFT, BOTTOM - TOP)))
        if rules.woven:
            surface.blit(edges, corner)
        surface.set_clip(None)

    def _draw_tassel(self, canvas: Canvas, rules: LoomRules, x: float) -> None:
        """A knotted cord across the warp: here the pattern ends."""
        dark, light = (60, 39, 32), (240, 154, 60)
        canvas.line(dark, [(x, TOP + 2), (x, BOTTOM - 2)], 7)
        canvas.line(light, [(x, TOP + 2), (x, BOTTOM - 2)], 4)
        for y in np.arange(TOP + 12, BOTTOM, 40):
            canvas.disc(dark, (x, float(y)), 7)
            canvas.disc(light, (x, float(y)), 5)

    # --- the cloth behind the fell ------------------------------------------------------------------------------------
    def _draw_cloth(self, canvas: Canvas, rules: LoomRules, start: float) -> None:
        area = canvas.area((LEFT, TOP, FELL - LEFT, BOTTOM - TOP))
        if self._plain is None:
            self._plain = _plain_cloth((area.width + canvas.length(4 * CELL), area.height), canvas.scale)
        surface = canvas.surface
        surface.set_clip(area)
        shift = canvas.length(4 * CELL) - round((-start * canvas.scale) % canvas.length(4 * CELL))
        surface.blit(self._plain, (area.left - shift, area.top))
        if rules.woven:
            picture = self._woven(canvas, rules)
            picture.set_alpha(round(255 * rules.unpicked) if rules.unpicked > 0 else None)
            done = round(len(rules.woven) * CELL * canvas.scale)
            surface.blit(picture, canvas.at((start, TOP)), (0, 0, done, area.height))
        surface.set_clip(None)
        edge = canvas.at((FELL, 0))[0]
        surface.fill((250, 240, 214), (edge - canvas.length(2), area.top, canvas.length(3), area.height))

    def _woven(self, canvas: Canvas, rules: LoomRules) -> pygame.Surface:
        """The cells made so far; a new one is added when it is finished."""
        key, count = (rules.place, rules.attempt), len(rules.woven)
        if self._cloth is None or self._cloth[0] != key or self._cloth[1] > count:
            size = (round(LONG * canvas.scale), round((BOTTOM - TOP) * canvas.scale))
            self._cloth = (key, 0, pygame.Surface(size, 0, 32))
        _, drawn, picture = self._cloth
        if drawn < count:
            _add_cells(picture, rules.woven, drawn, rules.design, canvas.scale)
            self._cloth = (key, count, picture)
        return picture

    def _draw_roll(self, canvas: Canvas, rules: LoomRules) -> None:
        """The cloth beam, thicker with every band."""
        wide = ROLL_LEAST + (ROLL_MOST - ROLL_LEAST) * rules.wound
        area = canvas.area((LEFT - wide * 0.55, TOP - 6, wide, BOTTOM - TOP + 12))
        columns = 10
        for n in range(columns):
            turn = math.sin(math.pi * (n + 0.5) / columns)
            colour = tuple(round(part * (0.5 + 0.5 * turn)) for part in (226, 206, 170))
            left, right = area.left + area.width * n // columns, area.left + area.width * (n + 1) // columns
            canvas.surface.fill(colour, (left, area.top, right - left, area.height))
        for y in (area.top - canvas.length(9), area.bottom):
            pygame.draw.rect(
                canvas.surface,
                (60, 39, 32),
                (area.left - canvas.length(3), y, area.width + canvas.length(6), canvas.length(9)),
                border_radius=canvas.length(3),
            )

    # --- at the race --------------------------------------------------------------------------------------------------
    def _draw_combs(self, canvas: Canvas, rules: LoomRules) -> None:
        """The gap between the combs is the band, to scale."""
        for name, side in (("comb_high", 1), ("comb_low", -1)):
            y = height_y(rules.gate + side * rules.half)
            self._sheet[name].draw(canvas.surface, FELL, y)
            for x in (FELL - 34, FELL + 110):
                spot = canvas.at((x, y - side * 6))
                shine(canvas.surface, spot, (canvas.length(44),) * 2, TUNED, 0.75 * rules.glow)

    def _draw_shuttle(self, canvas: Canvas, rules: LoomRules) -> None:
        y = height_y(rules.shuttle)
        light = 0.2 + 0.35 * rules.glow
        shine(canvas.surface, canvas.at((FELL + 6, y)), (canvas.length(90),) * 2, (255, 205, 130), light)
        self._draw_weft(canvas, rules, y)
        self._sheet["shuttle"].draw(canvas.surface, FELL, y)
        bobbin = canvas.area((FELL + 24, y - 5, 28, 10))
        pygame.draw.rect(canvas.surface, rules.design.yarn.line, bobbin, border_radius=canvas.length(4))
        shade = mixed(rules.design.yarn.line, (0, 0, 0), 0.3)
        for n in range(1, 5):
            canvas.line(shade, [(FELL + 24 + 5.6 * n, y - 4), (FELL + 22 + 5.6 * n, y + 4)], 1.2)

    def _draw_weft(self, canvas: Canvas, rules: LoomRules, y: float) -> None:
        """The thread from the cloth's edge through the shed to the shuttle's eye."""
        colour: Colour = rules.design.yarn.line
        away = y - height_y(rules.thread)
        points = [(FELL - 1, BOTTOM - 2), (FELL + 3, (BOTTOM + y) / 2), (FELL + 2, y + 6), (FELL + 4 - 0.1 * away, y)]
        canvas.line(mixed(colour, (250, 246, 226), 0.25), points, 3)


# --- pictures made once -------------------------------------------------------------------------------------------------
def _thread_rows(height_px: int, scale: float) -> np.ndarray:
    """Where within its thread each pixel row lies, -1..1."""
    pitch = max(4.0 * scale, 2.0)
    return np.asarray((np.arange(height_px) % pitch) / pitch * 2 - 1)


def _warp(size: tuple[int, int], scale: float) -> pygame.Surface:
    """Undyed threads with the evening between them."""
    rows = _thread_rows(size[1], scale)
    body = np.clip(1.35 - np.abs(rows) * 1.5, 0, 1)
    rng = np.random.default_rng(4)
    tint = 1 + 0.05 * rng.standard_normal(size[1])
    picture = pygame.Surface(size, pygame.SRCALPHA, 32)
    shade = np.asarray((150, 138, 158)) * (0.72 + 0.28 * (1 - np.abs(rows + 0.2)))[:, None] * tint[:, None]
    pygame.surfarray.pixels3d(picture)[:] = np.clip(shade, 0, 255).astype(np.uint8)[None]
    pygame.surfarray.pixels_alpha(picture)[:] = (150 * body + 70).astype(np.uint8)[None]
    return picture


def _dyed(middle: NDArray[np.float64], half: float, yarn: Yarn, scale: float) -> tuple[pygame.Surface, pygame.Surface]:
    """The way of the pattern on the warp, and its bare edges. middle: its height at each pixel along the warp."""
    size = (middle.size, round((BOTTOM - TOP) * scale))
    half = max(half, 2.0 / (BOTTOM - TOP))
    height = 1 - (np.arange(size[1]) + 0.5) / size[1]
    away = np.abs(height[None, :] - middle[:, None]) / half
    soft = 1.2 / (half * size[1])
    rows = _thread_rows(size[1], scale)[None, :]
    shade = 0.78 + 0.3 * (1 - np.abs(rows))
    dyed = np.asarray(yarn.fill, dtype=np.float64) * 0.72 + np.asarray((255, 236, 200)) * 0.28
    rgb = np.clip(dyed[None, None, :] * shade[..., None], 0, 255) * np.ones((size[0], 1, 1))
    core = np.abs(height[None, :] - middle[:, None]) < 1.5 / (BOTTOM - TOP)
    rgb[core] = (252, 240, 208)
    rim = np.clip(1 - np.abs(away - 1 + 2 * soft) / (2.6 * soft), 0, 1)
    rgb = rgb * (1 - rim[..., None]) + np.asarray((252, 240, 208)) * rim[..., None]
    inside = np.clip((1 - away) / soft + 1.0, 0, 1)
    edge = 255 * np.clip(1 - np.abs(away - 1) / (2.2 * soft), 0, 1)
    dashes = (np.arange(size[0]) // max(1, round(5 * scale))) % 2  # light and dark by turns: seen on every yarn
    stitched = np.where(dashes[:, None, None] == 1, (252, 246, 226), (30, 29, 56)) * np.ones((1, size[1], 1))
    return _picture(rgb, 245 * inside), _picture(stitched, edge)


def _picture(rgb: np.ndarray, alpha: np.ndarray) -> pygame.Surface:
    picture = pygame.Surface(alpha.shape, pygame.SRCALPHA, 32)
    pygame.surfarray.pixels3d(picture)[:] = np.clip(rgb, 0, 255).astype(np.uint8)
    pygame.surfarray.pixels_alpha(picture)[:] = np.clip(alpha, 0, 255).astype(np.uint8)
    return picture


def _plain_cloth(size: tuple[int, int], scale: float) -> pygame.Surface:
    """Tabby with a thin stripe every few cells: what lies between two bands."""
    cell = max(1, round(CELL * scale / 2))
    shape = (-(-size[0] // cell), -(-size[1] // cell))
    threads = np.zeros(shape, dtype=np.uint8)
    threads[np.arange(shape[0]) % 8 == 3] = 1
    colours = np.asarray([(214, 198, 168), (190, 168, 136)], dtype=np.float64)
    return pygame.transform.scale(woven(threads, colours, (cell, cell)), (shape[0] * cell, shape[1] * cell))


def _add_cells(picture: pygame.Surface, heights: list[float], first: int, design: Design, scale: float) -> None:
    """Weave the cells from `first` on; rows run upwards on the loom."""
    tall = picture.get_height()
    threads = grid(np.asarray(heights), design)[FINE * first :, ::-1]
    fine = woven(threads, design.colours, (6, 6))
    left, right = round(first * CELL * scale), round(len(heights) * CELL * scale)
    picture.blit(pygame.transform.smoothscale(fine, (right - left, tall)), (left, 0))
