"""The pond's water: stirred by a muscle at work, a mirror for the moon at rest, ringed where a stone touched it."""

from __future__ import annotations

import math
import random

import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.light import shine
from musclewood.games.kit.motion import landing, smooth
from musclewood.games.kit.palette import palette
from musclewood.games.kit.paper import SVG, PaperBox, bake
from musclewood.games.workshops.skimming_pond.places import water_at
from musclewood.games.workshops.skimming_pond.rules import RING_S, PondRules, Ring

WAVES, WAVE_INKS = 6, ("#E7A98A", "#2E3468", "#A9B4DC")  # sizes and shades of the small waves
SIZES = 22  # of a spreading ring
WIDEST, FLATTENED = 230.0, 0.3  # a ring's largest width at the landing stage; its height by its width
MOON_AT, MOON_SIDE, STRIPS = (1122.0, 486.0), 96.0, 9
MOONLIGHT, SILT = (170, 190, 236), (122, 108, 98)
CLOUDS = ((520.0, 592.0), (800.0, 640.0), (880.0, 580.0), (450.0, 550.0), (700.0, 548.0))


class Water:
    """Draws what moves on the water; the still pond itself is part of the evening behind."""

    def __init__(self, box: PaperBox, reduced_motion: bool) -> None:
        self._still = reduced_motion
        self._waves = [[_wave(box.scale, n, ink) for n in range(WAVES)] for ink in WAVE_INKS]
        self._ripples = _ripples()
        self._rings = [_ring(box.scale, WIDEST * (n + 1) / SIZES) for n in range(SIZES)]
        self._moon = _moon(box.scale)
        self._silt = _silt(box.scale)

    def draw(self, canvas: Canvas, rules: PondRules, time_s: float) -> None:
        """Under the people and the landing stage."""
        self._stirred(canvas, rules.stir, time_s)
        self._mirrored(canvas, rules, time_s)
        self._cloudy(canvas, rules.murk)
        for ring in rules.rings:
            self._spread(canvas, ring, rules.time_s - ring.begun_s)

    def _stirred(self, canvas: Canvas, stir: float, time_s: float) -> None:
        """Small waves as long as the muscle is not at rest: the more it works, the more of them."""
        for number, (x, y, size) in enumerate(self._ripples[: round(stir * len(self._ripples))]):
            sway = 0.0 if self._still else (3 + size) * math.sin(1.9 * time_s + 0.7 * number)
            canvas.paste(self._waves[number % len(self._waves)][size], (x + sway, y), "center")

    def _mirrored(self, canvas: Canvas, rules: PondRules, time_s: float) -> None:
        """The moon's image comes together as the rest goes on, and breaks while the water is stirred."""
        if rules.rest < 0.03:
            return
        broken = min(1.0, (1 - smooth(rules.rested)) + rules.stir)
        x, y = canvas.at(MOON_AT)
        for number, strip in enumerate(self._moon):
            wave = math.sin(number * 2.4 + (0.0 if self._still else 1.6 * time_s)) + 0.4 * (number % 2 * 2 - 1)
            strip.set_alpha(round(235 * rules.rest))
            away, up = broken * 34 * wave, (number - (STRIPS - 1) / 2) * (MOON_SIDE * 0.72 / STRIPS + 3 * broken)
            canvas.paste(strip, (MOON_AT[0] + away, MOON_AT[1] + up), "center")
        glow = (canvas.length(260), canvas.length(90))
        shine(canvas.surface, (x, y), glow, MOONLIGHT, 0.3 * rules.rest * (1 - 0.7 * broken))

    def _cloudy(self, canvas: Canvas, murk: float) -> None:
        """Wasted effort stirs up the ground: dull brown clouds that add nothing."""
        if murk < 0.03:
            return
        for number, place in enumerate(CLOUDS):
            image = self._silt[number % len(self._silt)]
            image.set_alpha(round(245 * murk))
            canvas.paste(image, place, "center")

    def _spread(self, canvas: Canvas, ring: Ring, age_s: float) -> None:
        """Three circles, one after the other."""
        x, y, near = water_at(ring.share)
        for behind in range(3):
            part = (age_s - 0.28 * behind) / RING_S
            if not 0.0 <= part < 1.0:
                continue
            size = landing(part) * near * ring.size
            image = self._rings[min(int(size * SIZES), SIZES - 1)]
            image.set_alpha(round(255 * (1 - part) ** 1.5 * (1 - 0.25 * behind)))
            canvas.paste(image, (x, y), "center")


def _drawn(width: float, height: float, body: str, scale: float) -> pygame.Surface:
    frame = f"{-width / 2:.1f} {-height / 2:.1f} {width:.1f} {height:.1f}"
    group = f'<g data-lift="0" data-rim="0" data-grain="0">{body}</g>'
    return bake(f'<svg xmlns="{SVG}" viewBox="{frame}">{group}</svg>', scale).surface


def _ripples() -> list[tuple[float, float, int]]:
    """Where small waves run: stage x and y and which of the sizes; none on the bank, and larger ones nearer."""
    chance = random.Random(17)
    places: list[tuple[float, float, int]] = []
    while len(places) < 58:
        y = 404 + chance.random() ** 1.15 * 256
        x = chance.uniform(20, 1190)
        if x > 600 or y < 540 + max(0.0, x) / 560 * 70:
            places.append((x, y, min(round((y - 404) / 256 * (WAVES - 1) + chance.uniform(-1, 1)), WAVES - 1)))
    return [(x, y, max(size, 0)) for x, y, size in places]


def _wave(scale: float, size: int, ink: str) -> pygame.Surface:
    """A thin lens of raised water."""
    long, high = 34.0 + 16.0 * size, 1.6 + 0.8 * size
    path = f"M{-long / 2:.1f} 0C{-long * 0.2:.1f} {-high:.1f} {long * 0.2:.1f} {-high:.1f} {long / 2:.1f} 0"
    path += f"C{long * 0.2:.1f} {high * 0.4:.1f} {-long * 0.2:.1f} {high * 0.4:.1f} {-long / 2:.1f} 0Z"
    return _drawn(long + 4, 2 * high + 4, f'<path d="{path}" fill="{ink}"/>', scale)


def _ring(scale: float, width: float) -> pygame.Surface:
    """One circle of raised water seen from the side: light above, dark below."""
    across, down = width / 2, width / 2 * FLATTENED
    thick = 1.4 + 2.6 * width / WIDEST
    light, dark = (f'fill="none" stroke-width="{thick:.1f}" stroke="{ink}"' for ink in ("#DCE8F6", "#23285A"))
    body = f'<ellipse cy="{thick:.1f}" rx="{across:.1f}" ry="{down:.1f}" {dark} stroke-opacity=".55"/>'
    body += f'<ellipse rx="{across:.1f}" ry="{down:.1f}" {light}/>'
    return _drawn(width + 2 * thick, width * FLATTENED + 4 * thick, body, scale)


def _moon(scale: float) -> list[pygame.Surface]:
    """The moon's image from top to bottom, as the strips that water makes of it."""
    ink, strips = "#{:02X}{:02X}{:02X}".format(*palette().paper["moon"]), []
    tall = MOON_SIDE * 0.72 / STRIPS
    for number in range(STRIPS):
        wide = MOON_SIDE * math.sqrt(1 - ((number - (STRIPS - 1) / 2) / (STRIPS / 2)) ** 2)
        body = f'<ellipse rx="{wide / 2:.1f}" ry="{tall * 0.62:.1f}" fill="{ink}"/>'
        strips.append(_drawn(wide + 4, tall * 1.3 + 2, body, scale))
    return strips


def _silt(scale: float) -> list[pygame.Surface]:
    """Two soft clouds of mud."""
    clouds = []
    for wide, tall in ((380, 96), (300, 76)):
        ink = "#{:02X}{:02X}{:02X}".format(*SILT)
        stops = f'<stop offset="0" stop-color="{ink}"/><stop offset="1" stop-color="{ink}" stop-opacity="0"/>'
        body = f'<defs><radialGradient id="s">{stops}</radialGradient></defs>'
        body += f'<ellipse rx="{wide / 2}" ry="{tall / 2}" fill="url(#s)"/>'
        clouds.append(_drawn(wide, tall, body, scale))
    return clouds
