"""An evening behind a workshop: one slow movement from dusk through night to dawn, painted anew for every rep made.

It is composed in a thread, since it takes longer than a frame, and then faded in; so a frame of play costs one blit.
What stands in it is up to the workshop, which hands in a `Land`, or how one hour of its landscape is painted.
"""

from __future__ import annotations

import random
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

import pygame
from musclewood.games.kit.light import shine, sky
from musclewood.games.kit.palette import HOURS, Hour, palette
from musclewood.games.kit.paper import SVG, PaperBox, art_text

STEPS, STRIPES, STRIPES_PER_S = 16, 6, 60  # of a fade: 1.6 s
LAMP, BAR, SUN = (255, 205, 120), (122, 76, 40), (255, 190, 110)
Window = tuple[float, float, float, float]
Paint = Callable[[pygame.Surface, Hour, float], None]


class Evening:
    """`show` asks for a share of the evening (0 dusk, 1 dawn); `draw` lays down what is ready.

    scale: pixels per stage unit; horizon: stage height at which the sky ends; paint: adds one hour's landscape to a
    sky.
    """

    def __init__(self, scale: float, size_px: tuple[int, int], horizon: float, paint: Paint) -> None:
        self._scale, self._size, self._horizon, self._paint = scale, size_px, horizon, paint
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

    def draw(self, target: pygame.Surface, step_s: float = 1 / STRIPES_PER_S) -> None:
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
        picture = sky(self._size, palette().skies[hour], round(self._horizon * self._scale))
        if hour == "night":
            stars(picture, self._scale)
        screen = pygame.display.get_surface()
        if screen is not None and screen.get_masks() != picture.get_masks():
            picture = picture.convert()
        self._paint(picture, hour, share)
        return picture


@dataclass(frozen=True)
class Land:
    """What lies behind a workshop.

    layers: art files from far to near, each with how far it drifts over the evening (stage px); lit: those of them
    whose `<rect class="window">` the reps light up, left of `until_x` if something stands before the others; horizon:
    stage y where the sky ends; sun: where it rises.
    """

    layers: tuple[tuple[str, float], ...]
    lit: tuple[str, ...]
    horizon: float
    sun: tuple[float, float]
    until_x: float = 1280.0

    def evening(self, box: PaperBox, size_px: tuple[int, int]) -> Evening:
        """This land's evening, cut from the sheets of a box."""
        scale = box.scale
        windows = {name: [one for one in windows_in(name, 4) if one[0] < self.until_x] for name in self.lit}

        def paint(picture: pygame.Surface, hour: Hour, share: float) -> None:
            if hour == "dawn":  # the sun, still behind the hills
                at = (round(self.sun[0] * scale), round(self.sun[1] * scale))
                shine(picture, at, (round(900 * scale), round(420 * scale)), SUN, 0.45)
            for name, drift in self.layers:
                offset = drift * (0.5 - share) * 2
                box.sheet(name, hour, soon=HOURS[1:] if hour != HOURS[0] else ()).draw(picture, dx=offset)
                if name in windows:
                    light_windows(picture, windows[name][: round(share * len(windows[name]))], scale, offset)

        return Evening(scale, size_px, self.horizon, paint)


def windows_in(art: str, seed: int) -> Sequence[Window]:
    """The rectangles of class 'window' in an art file, in an order that wanders about."""
    root = ElementTree.fromstring(art_text(art))
    found = [rect for rect in root.iter(f"{{{SVG}}}rect") if rect.get("class") == "window"]
    windows = [tuple(float(rect.get(name, "0")) for name in ("x", "y", "width", "height")) for rect in found]
    random.Random(seed).shuffle(windows)
    return windows  # type: ignore[return-value]


def light_windows(picture: pygame.Surface, windows: Sequence[Window], scale: float, dx: float = 0.0) -> None:
    """Lamplight behind these windows, moved by dx stage units."""
    for x, y, width, height in windows:
        pane = pygame.Rect(round((x + dx) * scale), round(y * scale), round(width * scale), round(height * scale))
        picture.fill(LAMP, pane)
        bar = max(1, round(width * 0.13 * scale))
        picture.fill(BAR, (pane.centerx - bar // 2, pane.top, bar, pane.height))
        picture.fill(BAR, (pane.left, pane.centery - bar // 2, pane.width, bar))
        shine(picture, pane.center, (round(5.5 * max(width, 9) * scale),) * 2, LAMP, 0.42)


def stars(night: pygame.Surface, scale: float) -> None:
    """A sky full of them, fewer towards the horizon."""
    chance = random.Random(12)
    for _ in range(130):
        x, y = chance.uniform(0, 1280), chance.uniform(0, 300)
        bright = chance.uniform(0.25, 1.0) * (1 - y / 340)
        size = round((3 if chance.random() < 0.85 else 7) * scale)
        shine(night, (round(x * scale), round(y * scale)), (size, size), (235, 235, 255), bright)
