"""Landscapes behind the screens: a sky, sheets of cut paper and lamplight, laid together once for each window size.

Baking takes about a second, so it happens in a thread; until then a bare evening sky stands in.
"""

import math
import queue
import threading
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pygame
from musclewood.games.kit.canvas import HEIGHT, bare_sky
from musclewood.games.kit.kept import kept
from musclewood.games.kit.palette import SKY_PLACES, Hour, Season, palette
from musclewood.games.kit.paper import PaperBox, Sheet, art_text, bake, grain_over
from numpy.typing import NDArray

Size = tuple[int, int]

SWAY, SWAY_S = 5.0, 17.0  # how far the foreground sways (stage px), and how slowly


@dataclass(frozen=True)
class Glow:
    """Lamplight round a point of the stage; `strength` is the share of the colour at its middle."""

    x: float
    y: float
    radius: float
    colour: str = "lamp-deep"
    strength: float = 0.5


@dataclass(frozen=True)
class Scene:
    """What lies behind a screen, from back to front. `horizon` is where the sky ends, as a share of the height.

    `near` are the sheets that stand nearest: they sway a little before the rest, which gives the picture its depth.
    """

    hour: Hour
    layers: tuple[str | Glow, ...]
    horizon: float = 0.5
    stars: int = 0
    season: Season | None = None
    near: tuple[str, ...] = ()


def sky(scene: Scene, size: Size) -> pygame.Surface:
    """The evening's colours from top to horizon, on paper."""
    column = _column(scene.hour, np.linspace(0.0, 1.0, size[1]) / scene.horizon)
    texture = grain_over(size) * np.float32(3.0)
    picture = pygame.Surface(size, 0, 32)
    pixels = pygame.surfarray.pixels3d(picture)
    for channel in range(3):
        shade = texture + column[None, :, channel].astype(np.float32)
        pixels[:, :, channel] = np.clip(shade, 0, 255)
    _sprinkle(pixels, scene, size)
    return picture


def _column(hour: Hour, rows: np.ndarray) -> np.ndarray:
    """Colours (rows, 3) of the sky at these heights: 0 is the top, 1 the horizon and all below it."""
    stops = np.array(palette().skies[hour], dtype=np.float32)
    return np.stack([np.interp(rows, SKY_PLACES, stops[:, part]) for part in range(3)], axis=-1)


def _sprinkle(pixels: np.ndarray, scene: Scene, size: Size) -> None:
    """Stars, thicker towards the top; places are the same at every size."""
    random = np.random.default_rng(11)
    side = max(1, round(size[1] / 480))
    for _ in range(scene.stars):
        x, y = random.uniform(0, 1), random.uniform(0, 1) ** 1.8 * scene.horizon * 0.8
        left, top = int(x * (size[0] - side)), int(y * size[1])
        star = pixels[left : left + side, top : top + side]
        star[:] = np.clip(star + random.uniform(40, 130), 0, 255)


@kept(4)
def light(radius: int, colour: tuple[int, int, int], strength: float) -> pygame.Surface:
    """A round pool of light, to be added to a picture; black where it gives none."""
    pool = pygame.Surface((2 * radius, 2 * radius), 0, 32)
    pixels = pygame.surfarray.pixels3d(pool)
    for channel in range(3):
        quarter = (_fall_of_light(radius) * (strength * colour[channel])).astype(np.uint8)
        half = np.concatenate((quarter, quarter[::-1]))
        pixels[:, :, channel] = np.concatenate((half, half[:, ::-1]), axis=1)
    return pool


@lru_cache(maxsize=16)
def _fall_of_light(radius: int) -> NDArray[np.float32]:
    """The share of a light that is left in the upper left quarter of its pool: a flame asks for it in every picture."""
    across = np.linspace(-1, 1, 2 * radius)[:radius]
    distance = np.sqrt(across[:, None] ** 2 + across[None, :] ** 2)
    return np.asarray(np.clip(1 - distance, 0, 1) ** 2.2, dtype=np.float32)


def add_glow(picture: pygame.Surface, glow: Glow, hour: Hour, scale: float) -> None:
    """Add lamplight to a picture of the whole stage."""
    pool = light(max(2, round(glow.radius * scale)), palette().named(hour)[glow.colour], round(glow.strength, 2))
    at = pool.get_rect(center=(round(glow.x * scale), round(glow.y * scale)))
    picture.blit(pool, at, special_flags=pygame.BLEND_RGB_ADD)


@kept(8)
def cut(name: str, hour: Hour, scale: float, season: Season | None = None) -> Sheet:
    """One art file (without its ending) in the colours of hour and season. KeyError for a colour nobody named."""
    return bake(art_text(f"{name}.svg", hour, season), scale)


def lay_together(scene: Scene, size: Size) -> pygame.Surface:
    """The finished picture of a scene."""
    picture = sky(scene, size)
    scale = size[1] / HEIGHT
    for layer in scene.layers:
        if isinstance(layer, Glow):
            add_glow(picture, layer, scene.hour, scale)
        else:
            cut(layer, scene.hour, scale, scene.season).draw(picture)
    for name in scene.near:
        near_sheet(name, scene.hour, scale, scene.season)  # ready before it is drawn
    return picture.convert() if pygame.display.get_init() and pygame.display.get_surface() else picture


@kept(10)
def near_sheet(name: str, hour: Hour, scale: float, season: Season | None) -> Sheet:
    """A sheet of the foreground, without the empty paper round it: it is drawn in every frame."""
    whole = cut(name, hour, scale, season)
    part = whole.surface.get_bounding_rect()
    return Sheet(whole.surface.subsurface(part).copy(), whole.x + part.x / scale, whole.y + part.y / scale, scale)


def draw_near(target: pygame.Surface, scene: Scene, time_s: float) -> None:
    """The foreground, swaying: each sheet a little more than the one behind it."""
    scale = target.get_height() / HEIGHT
    for depth, name in enumerate(scene.near, start=1):
        sway = SWAY * depth / len(scene.near) * math.sin(math.tau * time_s / SWAY_S)
        near_sheet(name, scene.hour, scale, scene.season).draw(target, sway, 0.25 * abs(sway))


MOST_SCENES = 3  # each a picture of the whole window: of the village, of questions and of rests


class Backdrops:
    """Scenes at one size, those that were shown last. `at_once` bakes while the caller waits: for pictures without a
    window."""

    def __init__(self, size: Size, *, at_once: bool = False) -> None:
        self.size = size
        self.at_once = at_once
        self.box = PaperBox(size[1] / HEIGHT)  # for stills, which share what they bake
        self._done: dict[Scene, pygame.Surface] = {}
        self._asked: set[Scene] = set()
        self._bare: dict[Scene, pygame.Surface] = {}
        self._work: queue.SimpleQueue[Scene | None] = queue.SimpleQueue()
        self._begun = False

    def begin(self) -> None:
        """Bake from now on what is asked for. Not before a first picture is there: it would have to wait its turn."""
        if not (self.at_once or self._begun):
            self._begun = True
            threading.Thread(target=self._bake_all, name="scenery", daemon=True).start()

    def ask(self, scene: Scene) -> pygame.Surface | None:
        """The scene if it is ready; otherwise it is on its way."""
        if scene not in self._done and scene not in self._asked:
            self._asked.add(scene)
            if self.at_once:
                self._done[scene] = lay_together(scene, self.size)
            else:
                self._work.put(scene)
        if scene not in self._done:
            return None
        self._bare.pop(scene, None)
        self._done[scene] = self._done.pop(scene)  # the one that was shown last comes last
        while len(self._done) > MOST_SCENES and not self.at_once:
            longest_ago = next(iter(self._done))
            self._asked.discard(longest_ago)
            del self._done[longest_ago]
        return self._done[scene]

    def bare(self, scene: Scene) -> pygame.Surface:
        """The sky alone, quickly made."""
        if scene not in self._bare:
            self._bare[scene] = bare_sky(scene.hour, scene.horizon, self.size)
        return self._bare[scene]

    def close(self) -> None:
        """Let the thread end after the scene it is at."""
        self._work.put(None)

    def _bake_all(self) -> None:
        while (scene := self._work.get()) is not None:
            self._done[scene] = lay_together(scene, self.size)
