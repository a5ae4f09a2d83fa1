"""An evening behind a workshop: sky, layers and lit windows, from dusk through night to dawn, painted anew for every rep.

One picture of the evening takes longer than a frame. It is composed in a thread and then faded in a stripe at a time, so
that a frame of play costs one blit.
"""

from __future__ import annotations

import random
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

import pygame
from musclewood.games.kit.light import shine, sky
from musclewood.games.kit.palette import HOURS, Hour, palette
from musclewood.games.kit.paper import SVG, PaperBox, art_text

STEPS, STRIPES = 16, 6  # of a fade: 96 frames
LAMP, BAR, SUN = (255, 205, 120), (122, 76, 40), (255, 190, 110)
Window = tuple[float, float, float, float]


@dataclass(frozen=True)
class Land:
    """What lies behind a workshop.

    layers: art files from far to near, each with how far it drifts over the evening (stage px); lit: the layer whose
    `<rect class="window">` the reps light up; horizon: stage y where the sky ends; sun: where it rises.
    """

    layers: tuple[tuple[str, float], ...]
    lit: str
    horizon: float
    sun: tuple[float, float]


class Evening:
    """`show` asks for a share of the evening (0 dusk, 1 dawn); `draw` lays down what is ready."""

    def __init__(self, box: PaperBox, size_px: tuple[int, int], land: Land) -> None:
        self._box, self._size, self._land = box, size_px, land
        self._windows = _windows(land.lit)
        self._skies: dict[Hour, pygame.Surface] = {}
        self._now = self._compose(0.0)
        self._next: pygame.Surface | None = None
        self._wanted = 0.0
        self._faded = 0
        self._work: threading.Thread | None = None

    def show(self, share: float) -> None:
        """Begin to move on to this share of the evening, unless that is already so or under way."""
        if share == self._wanted or self._next is not None or (self._work and self._work.is_alive()):
            return
        self._wanted = share

        def work() -> None:
            self._next = self._compose(share)

        self._work = threading.Thread(target=work, name="evening", daemon=True)
        self._work.start()

    def settle(self) -> None:
        """Wait for the evening that was asked for and show it without a fade; for stills."""
        if self._work:
            self._work.join()
        if self._next is not None:
            self._next.set_alpha(None)
            self._now, self._next, self._faded = self._next, None, 0

    def draw(self, target: pygame.Surface) -> None:
        """Blit the evening; called once a frame."""
        if self._next is not None:
            self._fade(self._next)
        target.blit(self._now, (0, 0))

    def _fade(self, coming: pygame.Surface) -> None:
        step, stripe = divmod(self._faded, STRIPES)
        height = -(-self._size[1] // STRIPES)
        area = pygame.Rect(0, stripe * height, self._size[0], height)
        coming.set_alpha(round(255 / (STEPS - step)))
        self._now.blit(coming, area, area)
        self._faded += 1
        if self._faded == STEPS * STRIPES:
            coming.set_alpha(None)
            self._now, self._next, self._faded = coming, None, 0

    def _compose(self, share: float) -> pygame.Surface:
        """One opaque picture. Between two hours the later one is laid half transparent over the earlier."""
        place = min(max(share, 0.0), 1.0) * (len(HOURS) - 1)
        first = min(int(place), len(HOURS) - 2)
        picture = self._hour(HOURS[first], share)
        if place > first:
            later = self._hour(HOURS[first + 1], share)
            later.set_alpha(round(255 * (place - first)))
            picture.blit(later, (0, 0))
        return picture

    def _hour(self, hour: Hour, share: float) -> pygame.Surface:
        scale, land = self._box.scale, self._land
        if hour not in self._skies:
            self._skies[hour] = sky(self._size, palette().skies[hour], round(land.horizon * scale))
            if hour == "night":
                _stars(self._skies[hour], scale, land.horizon)
        picture = self._skies[hour].copy()
        if pygame.display.get_surface() is not None:
            picture = picture.convert()
        if hour == "dawn":  # the sun, still behind the hills
            shine(picture, _at(land.sun, scale), (round(900 * scale), round(420 * scale)), SUN, 0.45)
        for name, drift in land.layers:
            offset = drift * (0.5 - share) * 2
            self._box.sheet(name, hour).draw(picture, dx=offset)
            if name == land.lit:
                self._light(picture, share, offset)
        return picture

    def _light(self, picture: pygame.Surface, share: float, offset: float) -> None:
        """The windows that reps have lit, in an order that wanders about."""
        scale = self._box.scale
        for x, y, width, height in self._windows[: round(share * len(self._windows))]:
            left, top = _at((x + offset, y), scale)
            pane = pygame.Rect(left, top, round(width * scale), round(height * scale))
            picture.fill(LAMP, pane)
            bar = max(1, round(width * 0.13 * scale))
            picture.fill(BAR, (pane.centerx - bar // 2, pane.top, bar, pane.height))
            picture.fill(BAR, (pane.left, pane.centery - bar // 2, pane.width, bar))
            shine(picture, pane.center, (round(5.5 * width * scale),) * 2, LAMP, 0.42)


def _at(point: tuple[float, float], scale: float) -> tuple[int, int]:
    return round(point[0] * scale), round(point[1] * scale)


def _windows(name: str) -> Sequence[Window]:
    """Where the art has windows; shuffled once and for all."""
    root = ElementTree.fromstring(art_text(name))
    found = [rect for rect in root.iter(f"{{{SVG}}}rect") if rect.get("class") == "window"]
    windows = [tuple(float(rect.get(side, "0")) for side in ("x", "y", "width", "height")) for rect in found]
    random.Random(4).shuffle(windows)
    return windows  # type: ignore[return-value]


def _stars(night: pygame.Surface, scale: float, horizon: float) -> None:
    chance = random.Random(12)
    for _ in range(130):
        x, y = chance.uniform(0, 1280), chance.uniform(0, 0.72 * horizon)
        bright = chance.uniform(0.25, 1.0) * (1 - y / (0.85 * horizon))
        size = round((3 if chance.random() < 0.85 else 7) * scale)
        shine(night, _at((x, y), scale), (size, size), (235, 235, 255), bright)
