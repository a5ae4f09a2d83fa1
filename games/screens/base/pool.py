"""The pool below the lantern tree: water that shows rest, lanterns that show effort. Reads only numbers."""

import math
from functools import lru_cache

import pygame
from musclewood.games.kit.canvas import Canvas, Point
from musclewood.games.kit.palette import palette
from musclewood.games.screens.base.scenery import cut, light

# Lanterns from the lowest bough to the crown; the tree in assets/art/pool is drawn around them.
LANTERNS: tuple[Point, ...] = (
    (742, 470), (1012, 452), (806, 394), (948, 372), (700, 330), (1064, 318),
    (858, 296), (760, 230), (998, 224), (880, 176),
)  # fmt: skip
RINGS = (330.0, 616.0)


def draw_water(canvas: Canvas, stir: float, time_s: float, still: bool) -> None:
    """Rings on the pool; `stir` 0 is a mirror, 1 is troubled water."""
    stir = min(1.0, max(0.0, stir))
    for number in range(5):
        age = number / 5 if still else (time_s * 0.22 + number / 5) % 1.0
        reach = 26 + (210 + 60 * stir) * age
        strength = (1 - age) * stir
        if strength > 0.02:
            _ring(canvas, reach, 1.5 + 3.5 * strength, 0.25 + 0.75 * strength)


def _ring(canvas: Canvas, reach: float, width: float, strength: float) -> None:
    colours = palette().hours["night"]
    deep, bright = colours["water"], colours["water-light"]
    red, green, blue = (round(a + (b - a) * strength) for a, b in zip(deep, bright, strict=True))
    box = canvas.area((RINGS[0] - reach, RINGS[1] - reach * 0.22, 2 * reach, 0.44 * reach))
    pygame.draw.ellipse(canvas.surface, (red, green, blue), box, canvas.length(width))


def draw_lanterns(canvas: Canvas, level: float, best: float) -> None:
    """Lanterns lit up to `level` (0-1 of the tree); a ribbon hangs at `best`. Lit ones are open, dark ones folded."""
    lit = level * len(LANTERNS)
    for number, at in enumerate(LANTERNS):
        share = min(1.0, max(0.0, lit - number))
        if share > 0:
            radius = canvas.length(64)
            canvas.paste(light(radius, palette().paper["lamp-deep"], round(0.75 * share, 1)), at, "center", add=True)
        _lantern(canvas, at, share)
    if best > 0:
        _ribbon(canvas, LANTERNS[min(len(LANTERNS), max(1, math.ceil(best * len(LANTERNS)))) - 1])


def _lantern(canvas: Canvas, at: Point, share: float) -> None:
    name = "pool/lantern-lit" if share > 0.5 else "pool/lantern"
    cut(name, "night", canvas.scale).draw(canvas.surface, *at)


def _ribbon(canvas: Canvas, at: Point) -> None:
    cut("pool/ribbon", "night", canvas.scale).draw(canvas.surface, *at)


@lru_cache(maxsize=48)
def _moon(radius: int, filled: int) -> pygame.Surface:
    """A moon that has filled by `filled` hundredths, from the right as the real one does; a thin rim shows the rest."""
    size = 2 * radius + 4
    image = pygame.Surface((size, size), pygame.SRCALPHA)
    middle = (size // 2, size // 2)
    pygame.draw.circle(image, (38, 42, 84, 255), middle, radius)
    moon = palette().paper["moon"]
    for row in range(-radius, radius + 1):
        half = math.sqrt(max(0, radius * radius - row * row))
        edge = half * (1 - 2 * filled / 100)
        if half > edge:
            pygame.draw.line(
                image,
                (*moon, 255),
                (middle[0] + round(edge), middle[1] + row),
                (middle[0] + round(half), middle[1] + row),
            )
    pygame.draw.circle(image, (*moon, 255), middle, radius, max(2, radius // 24))
    return image


def draw_moon_clock(canvas: Canvas, at: Point, radius: float, share: float, cloud: float = 0.0) -> None:
    """A moon that is full when the rest is over; `share` 0-1 of the rest has passed. It waits
    behind a `cloud` (0-1)."""
    pool = light(canvas.length(radius * 2.1), palette().paper["moon"], round(0.12 + 0.2 * share, 2))
    canvas.paste(pool, at, "center", add=True)
    canvas.paste(_moon(canvas.length(radius), round(100 * min(1.0, max(0.0, share)))), at, "center")
    if cloud > 0.02:
        _draw_cloud(canvas, at, radius, cloud)


def _draw_cloud(canvas: Canvas, at: Point, radius: float, strength: float) -> None:
    """Strips of grey paper that slide before the moon from the right, and out again."""
    slide = 1.1 * radius * (1 - min(1.0, strength))
    for left, down, length, shade in ((-1.25, 0.3, 2.1, 150), (-0.85, 0.02, 2.0, 176), (-1.05, 0.58, 1.7, 128)):
        box = (at[0] + left * radius + slide, at[1] + down * radius, length * radius, 0.34 * radius)
        image = _strip(*(canvas.length(side) for side in box[2:]), shade)
        image.set_alpha(round(235 * min(1.0, strength)))
        canvas.paste(image, box[:2], "topleft")


@lru_cache(maxsize=16)
def _strip(width: int, height: int, shade: int) -> pygame.Surface:
    image = pygame.Surface((width, height), pygame.SRCALPHA)
    pygame.draw.rect(image, (shade, shade + 4, min(255, shade + 28)), image.get_rect(), border_radius=height // 2)
    return image
