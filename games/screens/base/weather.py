"""What the season lets drift over the village: petals, glow-worms, leaves, snow. A pure function of the time."""

import math
import random
from dataclasses import dataclass
from functools import lru_cache

import pygame
from musclewood.games.kit.canvas import HEIGHT, WIDTH, Canvas
from musclewood.games.kit.palette import Colour, Season, palette
from musclewood.games.screens.base.scenery import light

GLOW_WORM: Colour = (190, 220, 110)
GLOW_PERIOD_S = 6.0  # slow enough never to be taken for a flash
TURNS = 8


@dataclass(frozen=True)
class Drift:
    """How many, how fast they fall and sway (stage px a second, stage px), how large, and of which colours."""

    count: int
    fall: float
    sway: float
    size: float
    colours: tuple[str, ...]
    flat: bool  # a leaf or petal that turns, not a round flake


DRIFTS: dict[Season, Drift] = {
    "spring": Drift(9, 16, 30, 4.5, ("pink", "slip"), True),
    "autumn": Drift(13, 26, 46, 7.5, ("orange", "vermilion", "lamp-deep"), True),
    "winter": Drift(46, 24, 14, 2.6, ("slip",), False),
}


def draw_weather(canvas: Canvas, season: Season, time_s: float) -> None:
    """Draw what drifts at this time."""
    if season == "summer":
        _glow_worms(canvas, time_s)
        return
    drift = DRIFTS[season]
    for number in range(drift.count):
        chance = random.Random(number * 7 + len(season))
        begin, speed = chance.random(), drift.fall * chance.uniform(0.7, 1.3)
        phase = chance.uniform(0, math.tau)
        down = (begin * (HEIGHT + 60) + speed * time_s) % (HEIGHT + 60) - 30
        across = chance.uniform(-40, WIDTH + 40) + drift.sway * math.sin(time_s * 0.5 + phase)
        size = drift.size * chance.uniform(0.7, 1.2)
        colour = palette().named("dusk")[drift.colours[number % len(drift.colours)]]
        turn = int((time_s * 0.9 + phase) / math.tau * TURNS) % TURNS if drift.flat else 0
        canvas.paste(_flake(canvas.length(size), colour, turn if drift.flat else -1), (across, down), "center")


def _glow_worms(canvas: Canvas, time_s: float) -> None:
    for number in range(9):
        chance = random.Random(900 + number)
        phase = chance.uniform(0, math.tau)
        x = chance.uniform(60, 1180) + 26 * math.sin(time_s * 0.31 + phase)
        y = chance.uniform(476, 600) + 12 * math.sin(time_s * 0.53 + 2 * phase)
        shine = round(0.35 + 0.3 * math.sin(math.tau * time_s / GLOW_PERIOD_S + phase), 1)
        canvas.paste(light(canvas.length(16), GLOW_WORM, shine), (x, y), "center", add=True)


@lru_cache(maxsize=256)
def _flake(radius: int, colour: Colour, turn: int) -> pygame.Surface:
    """A flake (turn -1), or a leaf seen at one of its turns."""
    side = 2 * radius + 2
    image = pygame.Surface((side * 4, side * 4), pygame.SRCALPHA)
    middle = side * 2
    if turn < 0:
        pygame.draw.circle(image, (*colour, 210), (middle, middle), 4 * radius * 0.8)
    else:
        breadth = 4 * radius * (0.25 + 0.35 * abs(math.cos(math.pi * turn / TURNS)))
        pygame.draw.ellipse(image, (*colour, 235), (middle - 4 * radius, middle - breadth, 8 * radius, 2 * breadth))
        image = pygame.transform.rotate(image, 180 * turn / TURNS)
    smaller = (round(image.get_width() / 4), round(image.get_height() / 4))
    return pygame.transform.smoothscale(image, smaller)
