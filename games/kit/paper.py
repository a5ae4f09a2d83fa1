"""Cut paper: an SVG file becomes one or more sheets of paper, each with shadow, grain and a lit edge.

The art is drawn in stage coordinates: the viewBox of a file says where on the 1280x720 stage it lies, so no table of
places is needed beside it. Every top-level ``<g>`` of a file is a sheet of its own that throws its shadow on the sheets
below it; ``data-lift``, ``data-grain`` and ``data-rim`` on the group change how it is cut (see `Cut`). Colours are
named as in assets/palette.toml, ``fill="var(--brick)"``, so that one file can be cut for dusk, night and dawn.

    box = PaperBox(canvas.scale)
    box.bake_behind(["kiln/land.svg", "kiln/kiln.svg"])    # in a thread, while another screen is up
    box.sheet("kiln/land.svg", "night").draw(canvas.surface)

SDL_image draws paths, shapes and gradients; it knows no filters, text, clips, masks or ``<use>``.
"""

from __future__ import annotations

import io
import re
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from html import escape
from importlib.resources import files
from typing import NamedTuple
from xml.parsers import expat

import numpy as np
import pygame
from musclewood.games.kit.blur import blurred, blurred_tile
from musclewood.games.kit.palette import Hour, Season, hexadecimal, palette
from numpy.typing import NDArray

SVG = "http://www.w3.org/2000/svg"
SHADOW = (16, 14, 48)  # dark blue: a shadow of the evening sky, our choice
SHADOW_STEP = 4  # shadows are soft, so they are blurred at a quarter of the size
GRAIN_PX = 512
BAND_PX = 64
# A drawing of a quarter of the size tells where its sheets lie; a tip that is lost in it is not longer than its edge.
GLANCE_STEP, GLANCE_EDGE, GLANCE_FROM_PX = 4, 2, 128 * 128
Frame = tuple[float, float, float, float]
FRAMING = ("viewBox", "width", "height", "preserveAspectRatio")


@dataclass(frozen=True)
class Cut:
    """How a sheet is cut and lit. Lengths in stage px, strengths in 8-bit levels, shadow as a fraction."""

    lift: float = 6.0  # how far the shadow falls; it is blurred by as much
    shadow: float = 0.42
    grain: float = 7.0
    rim: float = 30.0


@dataclass(frozen=True)
class Sheet:
    """A finished picture and the stage place of its upper left corner (which includes the room its shadow needs)."""

    surface: pygame.Surface
    x: float
    y: float
    scale: float

    def draw(self, target: pygame.Surface, dx: float = 0.0, dy: float = 0.0) -> None:
        """Blit onto a surface of the stage's pixels, moved by (dx, dy) stage px."""
        target.blit(self.surface, (round((self.x + dx) * self.scale), round((self.y + dy) * self.scale)))

    def turned(self, degrees: float, pivot: tuple[float, float]) -> Sheet:
        """This sheet turned anticlockwise about a stage point; for arms, tails, doors."""
        # Of a copy: a surface is locked while it is turned, and the screen may be drawing this sheet from another
        # thread.
        turned = pygame.transform.rotozoom(self.surface.copy(), degrees, 1.0)
        middle = pygame.Vector2(self.surface.get_size()) / 2
        arm = (pygame.Vector2(self.x, self.y) - pivot) * self.scale + middle
        corner = arm.rotate(-degrees) - pygame.Vector2(turned.get_size()) / 2
        return Sheet(turned, pivot[0] + corner.x / self.scale, pivot[1] + corner.y / self.scale, self.scale)


class PaperBox:
    """All sheets at one pixel scale, baked once. Safe to bake from other threads while the screen is drawn.

    Each sheet has a lock of its own: whoever draws waits for the sheet it needs and never for another that is being
    baked.
    """

    def __init__(self, scale: float) -> None:
        self.scale = scale
        self._sheets: dict[tuple[str, Hour], Sheet] = {}
        self._locks: dict[tuple[str, Hour], threading.Lock] = {}

    def sheet(self, name: str, hour: Hour = "dusk", soon: tuple[Hour, ...] = ()) -> Sheet:
        """The sheet of an art file (path below assets/art), baked now if it has not been; with it those of hours that
        are wanted `soon`, for which most is known then. FileNotFoundError if there is no such file."""
        key = (name, hour)
        ready = self._sheets.get(key)
        if ready is not None:
            return ready
        with self._locks.setdefault(key, threading.Lock()):
            if key not in self._sheets:
                hours = (hour, *(other for other in soon if (name, other) not in self._sheets and other != hour))
                baked = bake_alike([art_text(name, one) for one in hours], self.scale)
                for one, sheet in zip(hours[1:], baked[1:], strict=True):
                    self._sheets.setdefault((name, one), sheet)
                self._sheets[key] = baked[0]
        return self._sheets[key]

    def bake_behind(
        self,
        names: Iterable[str],
        hours: Iterable[Hour] = ("dusk",),
        then: Callable[[], object] | None = None,
        before_each: Callable[[], object] = lambda: None,
    ) -> threading.Thread:
        """Bake in the background, and afterwards do there whatever else is slow, such as making the picture of the
        sheets.

        `before_each` may wait until there is time for one more. Returns the running thread so that a screen can wait
        for it.
        """
        wanted = [(name, hour) for hour in hours for name in names]

        def work() -> None:
            for name, hour in wanted:
                before_each()
                self.sheet(name, hour)
            before_each()
            if then is not None:
                then()

        thread = threading.Thread(target=work, name="paper", daemon=True)
        thread.start()
        return thread

    def ready(self, names: Iterable[str], hour: Hour = "dusk") -> bool:
        """Whether all of these are baked, without waiting for one that is being baked."""
        return all((name, hour) in self._sheets for name in names)


def art_text(name: str, hour: Hour = "dusk", season: Season | None = None) -> str:
    """The text of an art file with the colours of hour and season put in. KeyError names a colour the palette lacks."""
    text = files("musclewood.assets").joinpath("art", *name.split("/")).read_text(encoding="utf-8")
    colours = palette().named(hour, season)
    return re.sub(r"var\(--([a-z-]+)\)", lambda found: hexadecimal(colours[found[1]]), text)


def bake(svg: str, scale: float) -> Sheet:
    """All sheets of one SVG file, laid on one another. ValueError if the file has no viewBox."""
    return bake_alike([svg], scale)[0]


def bake_alike(svgs: Sequence[str], scale: float) -> list[Sheet]:
    """The same of files that differ in their colours alone: where their sheets lie, and how light falls on them, is
    found out once."""
    coloured = [_taken_apart(svg) for svg in svgs]
    head = coloured[0][0]
    if "viewBox" not in head:
        raise ValueError("art needs a viewBox: it says where on the stage the picture lies")
    x, y, width, height = (float(part) for part in head["viewBox"].replace(",", " ").split())
    sheets = list(zip(*(_sheets_of(*one) for one in coloured), strict=True))
    margin = max((alike[0][1].lift * 3 for alike in sheets), default=0.0)
    frame = (x - margin, y - margin, width + 2 * margin, height + 2 * margin)
    size = (max(1, round(frame[2] * scale)), max(1, round(frame[3] * scale)))
    results = [pygame.Surface(size, pygame.SRCALPHA, 32) for _ in svgs]
    for alike in sheets:
        text, cut = alike[0]
        room = round(cut.lift * 3 * scale) + SHADOW_STEP
        where = _whereabouts(text, frame, size, room) if len(sheets) > 1 else pygame.Rect((0, 0), size)  # one fills it
        if where.width and where.height:
            drawn = [_drawn(text, _part_of(frame, size, where), where.size) for text, _ in alike]
            _lay([result.subsurface(where) for result in results], drawn, cut, scale)
    if pygame.display.get_init() and pygame.display.get_surface() is not None:
        results = [result.convert_alpha() for result in results]
    return [Sheet(result, frame[0], frame[1], scale) for result in results]


def rasterise(svg: str, frame: Frame, size: tuple[int, int]) -> pygame.Surface:
    """The part `frame` (x, y, width, height in the file's units) of an SVG, drawn at `size` pixels."""
    head, parts = _taken_apart(svg)
    return _drawn(_unframed(head, *(part.text for part in parts)), frame, size)


def _unframed(head: dict[str, str], *inner: str) -> str:
    """The text of a drawing that does not say yet which part of it is wanted, and how large."""
    kept = [f' {name}="{escape(value)}"' for name, value in head.items() if name not in FRAMING]
    return f"<svg{''.join(kept)}>{''.join(inner)}</svg>"


def _drawn(text: str, frame: Frame, size: tuple[int, int]) -> pygame.Surface:
    view = " ".join(f"{value:.3f}" for value in frame)
    framing = f'<svg viewBox="{view}" width="{size[0]}" height="{size[1]}" preserveAspectRatio="none"'
    drawn = pygame.image.load(io.BytesIO(text.replace("<svg", framing, 1).encode()), "art.svg")
    surface = pygame.Surface(size, pygame.SRCALPHA, 32)
    drawn.set_alpha(None)
    surface.blit(drawn, (0, 0))
    return surface


def _whereabouts(text: str, frame: Frame, size: tuple[int, int], room: int) -> pygame.Rect:
    """Where something is drawn, with `room` round it, in pixels; found in a small drawing, since most sheets cover
    little of their file's stage, and drawing costs as much for empty paper."""
    whole = pygame.Rect((0, 0), size)
    if size[0] * size[1] <= GLANCE_FROM_PX:
        return whole
    small = (-(-size[0] // GLANCE_STEP), -(-size[1] // GLANCE_STEP))
    seen = _drawn(text, _part_of(frame, size, pygame.Rect(0, 0, small[0] * GLANCE_STEP, small[1] * GLANCE_STEP)), small)
    found = seen.get_bounding_rect()
    if not (found.width and found.height):
        return found
    found = found.inflate(2 * GLANCE_EDGE, 2 * GLANCE_EDGE)
    found = pygame.Rect(*(side * GLANCE_STEP for side in found))
    return found.inflate(2 * room, 2 * room).clip(whole)


def _part_of(frame: Frame, size: tuple[int, int], where: pygame.Rect) -> Frame:
    """The part of a frame of so many pixels that some of these show."""
    across, down = frame[2] / size[0], frame[3] / size[1]
    return frame[0] + where.x * across, frame[1] + where.y * down, where.width * across, where.height * down


def lay(base: pygame.Surface, sheet: pygame.Surface, cut: Cut, scale: float) -> None:
    """Make paper of a flat picture and lay it on `base` (same size), its shadow under it."""
    _lay([base], [sheet], cut, scale)


def _lay(bases: Sequence[pygame.Surface], sheets: Sequence[pygame.Surface], cut: Cut, scale: float) -> None:
    """The same of several that differ in their colours alone."""
    where = sheets[0].get_bounding_rect()
    if where.width == 0 or where.height == 0:
        return
    room = round(cut.lift * 3 * scale) + SHADOW_STEP
    where = where.inflate(2 * room, 2 * room).clip(sheets[0].get_rect())
    parts = [sheet.subsurface(where).copy() for sheet in sheets]
    soft = _soft_alpha(parts[0], max(0.8, cut.lift * scale))
    if cut.lift > 0 and cut.shadow > 0:
        drop = round(cut.lift * scale)
        shadow = _shadow(soft, where.size, cut.shadow)
        for base in bases:
            base.blit(shadow, (where.x, where.y + drop))
    _light(parts, soft, cut, scale)
    for base, part in zip(bases, parts, strict=True):
        base.blit(part, where.topleft)


class _Part(NamedTuple):
    """What lies directly in a drawing: its name, its attributes, and all of its text."""

    name: str
    attributes: dict[str, str]
    text: str


def _taken_apart(svg: str) -> tuple[dict[str, str], list[_Part]]:
    """The outermost element's attributes and its parts. Each keeps its own text: to write it down again would take
    longer than to draw it. Raises expat.ExpatError."""
    whole, parser = svg.encode(), expat.ParserCreate()
    opened: list[tuple[dict[str, str], int]] = []
    head: dict[str, str] = {}
    parts: list[_Part] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        opened.append((attributes if opened else head, parser.CurrentByteIndex))
        if len(opened) == 1:
            head.update(attributes)

    def end(name: str) -> None:
        attributes, begins = opened.pop()
        if len(opened) == 1:
            stops = parser.CurrentByteIndex  # the beginning of an end tag, but behind an element without one
            stops = whole.index(b">", stops) + 1 if whole.startswith(b"</", stops) else stops
            parts.append(_Part(name, attributes, whole[begins:stops].decode()))

    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.Parse(whole, True)
    return head, parts


def _sheets_of(head: dict[str, str], parts: list[_Part]) -> list[tuple[str, Cut]]:
    """Each top-level group as a drawing of its own, with the file's gradients."""
    shared = [part.text for part in parts if part.name == "defs"]
    sheets = []
    for group in parts:
        if group.name != "defs":
            given = {
                name: float(value)
                for name in ("lift", "shadow", "grain", "rim")
                if (value := group.attributes.get(f"data-{name}"))
            }
            sheets.append((_unframed(head, *shared, group.text), replace(Cut(), **given)))
    return sheets


def _soft_alpha(part: pygame.Surface, blur_px: float) -> NDArray[np.float32]:
    """The sheet's alpha, blurred, at 1/SHADOW_STEP of its size: (w, h) in 0..1."""
    width, height = part.get_size()
    small = pygame.transform.smoothscale(part, (-(-width // SHADOW_STEP), -(-height // SHADOW_STEP)))
    alpha = pygame.surfarray.pixels_alpha(small).astype(np.float32) / np.float32(255)
    return blurred(alpha, blur_px / SHADOW_STEP)  # paper that meets the edge goes on beyond it


def _enlarged(soft: NDArray[np.float32], size: tuple[int, int]) -> pygame.Surface:
    small = pygame.Surface(soft.shape, pygame.SRCALPHA, 32)
    small.fill((*SHADOW, 0))
    pygame.surfarray.pixels_alpha(small)[:] = (soft * 255).astype(np.uint8)
    return pygame.transform.smoothscale(small, size)


def _shadow(soft: NDArray[np.float32], size: tuple[int, int], strength: float) -> pygame.Surface:
    return _enlarged(soft * strength, size)


def _light(parts: Sequence[pygame.Surface], soft: NDArray[np.float32], cut: Cut, scale: float) -> None:
    """Grain, a light rim on upper edges, a darker one below, and the slight swell of thick paper; in place,
    on parts that are all of one shape.

    All fields lie in memory as pixels do, row by row: across the rows it would take three times as long.
    """
    size = parts[0].get_size()
    alpha = pygame.surfarray.pixels_alpha(parts[0]).astype(np.int16)
    swell = pygame.surfarray.pixels_alpha(_enlarged(soft, size)).astype(np.int16)
    edge = max(1, round(1.4 * scale))
    reach = max(2, round(cut.lift * scale))
    above, below = np.clip(alpha - _moved(alpha, edge), 0, 255), np.clip(alpha - _moved(alpha, -edge), 0, 255)
    thick = _moved(swell, -reach) - _moved(swell, reach)
    grain_there, lit = grain_over(size), [pygame.surfarray.pixels3d(part) for part in parts]
    for top in range(0, size[1], BAND_PX):  # in bands: a large sheet would take thirty megabytes for a moment
        band = slice(top, top + BAND_PX)
        shade = grain_there[:, band] * np.float32(cut.grain)
        shade += above[:, band] * np.float32(cut.rim / 255)
        shade -= below[:, band] * np.float32(cut.rim / 255 * 0.6)
        shade += thick[:, band] * np.float32(cut.rim / 255 * 0.45)
        for pixels in lit:
            for channel in range(3):
                pixels[:, band, channel] = np.clip(pixels[:, band, channel] + shade, 0, 255)


def _moved(field: NDArray[np.int16], down_px: int) -> NDArray[np.int16]:
    """The field (w, h) moved down by some pixels; what comes in over the edge repeats the edge."""
    moved = np.empty_like(field)
    if down_px > 0:
        step = min(down_px, field.shape[1])
        moved[:, step:] = field[:, : field.shape[1] - step]
        moved[:, :step] = field[:, :1]
    else:
        step = min(-down_px, field.shape[1])
        moved[:, : field.shape[1] - step] = field[:, step:]
        moved[:, field.shape[1] - step :] = field[:, -1:]
    return moved


def grain_over(size: tuple[int, int]) -> NDArray[np.float32]:
    """As much paper texture as fills the size: (w, h), row by row in memory."""
    rows = grain().T
    return np.tile(rows, (-(-size[1] // GRAIN_PX), -(-size[0] // GRAIN_PX)))[: size[1], : size[0]].T


@cache
def grain() -> NDArray[np.float32]:
    """One seamless tile of paper texture (GRAIN_PX, GRAIN_PX), row by row in memory, spread about 1: fine grain,
    cloudiness, fibres."""
    random = np.random.default_rng(71)
    noise = random.standard_normal((3, GRAIN_PX, GRAIN_PX)).astype(np.float32)
    fine, cloud = blurred_tile(noise[0], (0.8, 0.8))[0], blurred_tile(noise[1], (9.0, 9.0))[0]
    along, across = blurred_tile(noise[2], (0.6, 5.0), (5.0, 0.6))
    fibre = np.maximum(along / along.std() - 1.6, 0) + np.maximum(across / across.std() - 1.6, 0)
    mixed = fine / fine.std() * 0.75 + cloud / cloud.std() * 0.2 + fibre * 0.7
    return np.asfortranarray(mixed - mixed.mean(), dtype=np.float32)
