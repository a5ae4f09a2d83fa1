"""The evening at the mill: sky, valley, village, and everything of the mill that stands still, painted anew for every rep.

A session is one slow movement from dusk through night to dawn. It is composed in a thread, since it takes longer than a
frame, and then faded in stripe by stripe; so a frame of play costs one blit.
"""

from __future__ import annotations

import random
import threading
from collections.abc import Sequence
from xml.etree import ElementTree

import pygame
from musclewood.games.kit.light import shine, sky
from musclewood.games.kit.palette import HOURS, Hour, palette
from musclewood.games.kit.paper import SVG, PaperBox, art_text

HORIZON = 410
# Each sheet with how far it drifts over the evening, in stage px; windows are lit before the next sheet covers them.
LAYERS = (
    *(("far", 14.0), ("village", 7.0), ("yard", 0.0), ("leanto", 0.0)),
    *(("flume", 0.0), ("mill", 0.0), ("basin", 0.0), ("front", 0.0)),
)
STEPS, STRIPES, STRIPES_PER_S = 16, 6, 60  # of a fade: 1.6 s
LAMP, BAR, SUN = (255, 205, 120), (122, 76, 40), (255, 190, 110)
Window = tuple[float, float, float, float]


class Backdrop:
    """`show` asks for a share of the evening (0 dusk, 1 dawn); `draw` lays down what is ready."""

    def __init__(self, box: PaperBox, size_px: tuple[int, int]) -> None:
        self._box, self._size = box, size_px
        self._windows = {name: _windows(f"millrace/{name}.svg") for name in ("village", "mill")}
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

        self._work = threading.Thread(target=work, name="backdrop", daemon=True)
        self._work.start()

    def settle(self) -> None:
        """Wait for the evening that was asked for and show it without a fade; for stills."""
        if self._work:
            self._work.join()
        if self._next is not None:
            self._next.set_alpha(None)
            self._now, self._next, self._faded = self._next, None, 0

    def draw(self, target: pygame.Surface, step_s: float) -> None:
        """Blit the evening; called once a frame. A fade takes as long on a slow computer as on a fast one."""
        for _ in range(min(max(round(step_s * STRIPES_PER_S), 1), STRIPES)):
            if self._next is not None:
                self._fade(self._next)
        target.blit(self._now, (0, 0))

    def _fade(self, coming: pygame.Surface) -> None:
        """Blend one stripe a little further. A whole blend at once would cost a third of a frame."""
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
        scale = self._box.scale
        if hour not in self._skies:
            self._skies[hour] = sky(self._size, palette().skies[hour], round(HORIZON * scale))
            if hour == "night":
                _stars(self._skies[hour], scale)
        picture = self._skies[hour].copy()
        if pygame.display.get_surface() is not None:
            picture = picture.convert()
        if hour == "dawn":  # the sun, still behind the hills
            shine(
                picture, (round(600 * scale), round(330 * scale)), (round(900 * scale), round(400 * scale)), SUN, 0.45
            )
        for name, drift in LAYERS:
            offset = drift * (0.5 - share) * 2
            self._box.sheet(f"millrace/{name}.svg", hour).draw(picture, dx=offset)
            if name in self._windows:
                self._light(picture, self._windows[name], share, offset)
        return picture

    def _light(self, picture: pygame.Surface, windows: Sequence[Window], share: float, offset: float) -> None:
        """The windows that reps have lit, in an order that wanders about the village."""
        scale = self._box.scale
        for x, y, width, height in windows[: round(share * len(windows))]:
            pane = pygame.Rect(
                round((x + offset) * scale), round(y * scale), round(width * scale), round(height * scale)
            )
            picture.fill(LAMP, pane)
            bar = max(1, round(width * 0.13 * scale))
            picture.fill(BAR, (pane.centerx - bar // 2, pane.top, bar, pane.height))
            picture.fill(BAR, (pane.left, pane.centery - bar // 2, pane.width, bar))
            shine(picture, pane.center, (round(5.5 * max(width, 9) * scale),) * 2, LAMP, 0.42)


def _windows(name: str) -> Sequence[Window]:
    """Where the art has windows; shuffled once and for all."""
    root = ElementTree.fromstring(art_text(name))
    found = [rect for rect in root.iter(f"{{{SVG}}}rect") if rect.get("class") == "window"]
    windows = [tuple(float(rect.get(part, "0")) for part in ("x", "y", "width", "height")) for rect in found]
    random.Random(4).shuffle(windows)
    return windows  # type: ignore[return-value]


def _stars(night: pygame.Surface, scale: float) -> None:
    chance = random.Random(12)
    for _ in range(130):
        x, y = chance.uniform(0, 1280), chance.uniform(0, 300)
        bright = chance.uniform(0.25, 1.0) * (1 - y / 340)
        size = round((3 if chance.random() < 0.85 else 7) * scale)
        shine(night, (round(x * scale), round(y * scale)), (size, size), (235, 235, 255), bright)
