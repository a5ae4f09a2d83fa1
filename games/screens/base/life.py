"""What breathes in the village: smoke, the mill's wheel, flickering windows. Reads only the time."""

import math
from functools import lru_cache

import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.palette import Hour
from musclewood.games.kit.paper import Sheet
from musclewood.games.screens.base.scenery import Scene, cut, light
from musclewood.games.screens.base.weather import draw_weather
from musclewood.games.workshops import workshops

WHEEL = (967.0, 464.0)
WHEEL_STEPS = 10  # the wheel has twelve paddles, so thirty degrees are a whole round to the eye


@lru_cache(maxsize=2 * WHEEL_STEPS)
def _wheel(step: int, hour: Hour, scale: float) -> Sheet:
    return cut("village/wheel", hour, scale).turned(-30.0 / WHEEL_STEPS * step, WHEEL)


@lru_cache(maxsize=48)
def puff(radius: int, alpha: int) -> pygame.Surface:
    """A soft round of smoke."""
    image = pygame.Surface((2 * radius, 2 * radius), pygame.SRCALPHA)
    for ring in range(6):
        share = 1 - ring / 6
        pygame.draw.circle(
            image, (214, 200, 214, round(alpha * (1.15 - share))), (radius, radius), max(1, round(radius * share))
        )
    return image


class Village:
    """Draws the moving parts over the baked village."""

    def draw(self, canvas: Canvas, awake: tuple[str, ...], time_s: float, still: bool, scene: Scene) -> None:
        """`awake` places work: their chimneys smoke and their wheel turns; `still` freezes all of it."""
        hour = scene.hour
        time_s = 2.0 if still else time_s
        turning = "millrace" in awake
        step = int(time_s * 7) % WHEEL_STEPS if turning else 0
        cut("village/fall", hour, canvas.scale).draw(canvas.surface)
        _wheel(step, hour, canvas.scale).draw(canvas.surface)
        for house in (workshops()[place].house for place in awake if place in workshops()):
            if house.chimney:
                self._smoke(canvas, *house.chimney, time_s)
            if house.flicker:
                x, y, radius = house.flicker
                flicker = 0.10 + 0.04 * math.sin(time_s * 2.3) + 0.03 * math.sin(time_s * 3.7)
                fire = light(canvas.length(radius), (240, 154, 60), round(flicker, 2))
                canvas.paste(fire, (x, y), "center", add=True)
        if scene.season:
            draw_weather(canvas, scene.season, time_s)

    def _smoke(self, canvas: Canvas, x: float, y: float, size: float, time_s: float) -> None:
        for number in range(7):
            age = (time_s * 0.16 + number / 7) % 1.0
            drift = 46 * age**1.5 + 7 * math.sin(time_s * 0.7 + number * 2 + age * 4) * age
            radius = canvas.length((9 + 24 * age) * size)
            alpha = round(46 * math.sin(math.pi * min(1.0, age * 1.05 + 0.02)) / 2) * 2
            canvas.paste(puff(radius, max(0, alpha)), (x + drift, y - 130 * age * size), "center")
