"""A water lily that opens and closes as slowly as somebody at rest breathes. Reads only the time.

Four seconds in and six out are six breaths a minute, with the longer half out: slow breathing as it is usually taught
(common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

from musclewood.games.kit.canvas import Canvas, Point
from musclewood.games.kit.motion import smooth
from musclewood.games.kit.palette import hexadecimal, palette
from musclewood.games.kit.paper import SVG, Sheet, bake
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Look, sentence

IN_S, OUT_S = 4.0, 6.0
FIRST_S = 1.5  # nothing is said of breath before somebody has let go
STEPS = 20  # pictures from closed to open
# The petals from back to front: degrees from upright when open, length and width, and how far closed ones still stand
# apart.
PETALS = ((-78, 78, 26), (78, 78, 26), (-52, 88, 28), (52, 88, 28), (-26, 94, 30), (26, 94, 30), (0, 96, 32))
CLOSED = 0.22


def breath(time_s: float) -> tuple[float, bool]:
    """How open the lily is (0..1), and whether this is the half for breathing in."""
    within_s = max(0.0, time_s - FIRST_S) % (IN_S + OUT_S)
    if within_s < IN_S:
        return smooth(within_s / IN_S), True
    return 1.0 - smooth((within_s - IN_S) / OUT_S), False


def draw_lily(canvas: Canvas, at: Point, time_s: float, *, still: bool) -> None:
    """With its leaf on the water at `at`; where nothing is to move it stands half open, and the
    words alone keep time."""
    opened = 0.5 if still else breath(time_s)[0]
    _lily(round(opened * (STEPS - 1)), canvas.scale).draw(canvas.surface, *at)


def prepare_lily(scale: float, before_each: Callable[[], object]) -> None:
    """Cut all its pictures now, in whatever thread; `before_each` may wait until there is time for one more."""
    for step in range(STEPS):
        before_each()
        _lily(step, scale)


@lru_cache(maxsize=2 * STEPS)
def _lily(step: int, scale: float) -> Sheet:
    """The lily cut of paper, a sheet for each petal."""
    colours = palette().named("night")
    opened = step / (STEPS - 1)
    paper = {name: hexadecimal(colours[name]) for name in ("leaf", "pink", "slip", "lamp")}
    leaf = (
        f'<g data-lift="3"><path fill="{paper["leaf"]}" d="M-104 8C-92 -14 -40 -22 6 -20C64 -18 108 -8 104 '
        "10C98 28 44 36 -4 35"
        'C-30 34 -52 32 -70 28L-20 8L-92 20C-100 16 -104 12 -104 8Z"/></g>'
    )
    petals = "".join(_petal(number, opened, paper) for number in range(len(PETALS)))
    heart = (
        f'<g data-lift="2"><circle cx="0" cy="-14" r="{5 + 5 * opened:.1f}" fill="{paper["lamp"]}"/></g>'
        if opened > 0.5
        else ""
    )
    return bake(f'<svg xmlns="{SVG}" viewBox="-130 -120 260 170">{leaf}{petals}{heart}</svg>', scale)


def _petal(number: int, opened: float, paper: dict[str, str]) -> str:
    """One petal, leaning out as far as the lily is open, its inner ones paler."""
    leans, length, width = PETALS[number]
    angle = math.radians(leans * (CLOSED + (1 - CLOSED) * opened))
    long = length * (1.0 - 0.12 * abs(leans) / 78 * (1 - opened))
    tip = (long * math.sin(angle), -long * math.cos(angle))
    side = (width * (0.8 + 0.2 * opened) * math.cos(angle), width * (0.8 + 0.2 * opened) * math.sin(angle))
    middle = (0.55 * tip[0], 0.55 * tip[1])
    left, right = (middle[0] - side[0], middle[1] - side[1]), (middle[0] + side[0], middle[1] + side[1])
    colour = paper["slip"] if number >= 4 else paper["pink"]
    return (
        f'<g data-lift="3" data-rim="24"><path fill="{colour}" d="M0 4Q{left[0]:.1f} {left[1]:.1f} '
        f"{tip[0]:.1f} {tip[1]:.1f}"
        f'Q{right[0]:.1f} {right[1]:.1f} 0 4Z"/></g>'
    )


def draw_breath(canvas: Canvas, theme: Theme, at: Point, since_s: float) -> None:
    """The lily `since_s` after the rest began, and beside it when to breathe in and out."""
    if since_s < FIRST_S:
        draw_lily(canvas, at, 0.0, still=theme.still)
        return
    draw_lily(canvas, at, since_s, still=theme.still)
    key = "frame.breath-in" if breath(since_s)[1] else "frame.breath-out"
    slip = sentence(canvas, theme, theme.words(key), (0, 0), 300, Look(size=SMALL, margin=14))
    slip.moved(at[0] + 116, at[1] - 70).draw(canvas, theme)
