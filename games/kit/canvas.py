"""A picture of 1280 x 720 logical units, drawn at whatever size the window has.

Everything is placed in logical units; everything is drawn at the window's own pixels, so nothing is ever scaled up.
A window of another shape gets bars on two sides.
"""

from collections.abc import Sequence
from typing import Literal, NamedTuple

import pygame
from musclewood.games.kit.palette import Colour, Hour, between, palette, sky_at

WIDTH, HEIGHT = 1280, 720
ROW_PX = 2  # height of a bare sky's steps, which are of about one level of colour
Point = tuple[float, float]
Anchor = Literal[
    "topleft", "midtop", "topright", "midleft", "center", "midright", "bottomleft", "midbottom", "bottomright"
]


class Box(NamedTuple):
    """A rectangle in logical units."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def bottom(self) -> float:
        return self.top + self.height

    @property
    def centre(self) -> Point:
        return self.left + self.width / 2, self.top + self.height / 2

    def holds(self, point: Point) -> bool:
        """Whether the point lies inside."""
        return self.left <= point[0] < self.right and self.top <= point[1] < self.bottom

    def grown(self, by: float) -> "Box":
        """The same box, larger by `by` on every side."""
        return Box(self.left - by, self.top - by, self.width + 2 * by, self.height + 2 * by)

    def overlaps(self, other: "Box") -> bool:
        """Whether the two share any area."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom


class Canvas:
    """Maps logical units onto the middle of a surface.

    surface: the picture's own area of the target, in pixels; scale: pixels per logical unit.
    """

    @classmethod
    def clear(cls, size: tuple[int, int], scale: float) -> "Canvas":
        """One to see through, of this size in pixels and this scale, whatever its shape."""
        canvas = cls.__new__(cls)
        canvas.surface = pygame.Surface(size, pygame.SRCALPHA, 32)
        canvas.scale, canvas.size, canvas.offset = scale, size, (0, 0)
        return canvas

    def __init__(self, target: pygame.Surface) -> None:
        width, height = target.get_size()
        self.scale = max(min(width / WIDTH, height / HEIGHT), 1 / WIDTH)
        self.size = (min(width, round(WIDTH * self.scale)), min(height, round(HEIGHT * self.scale)))
        self.offset = ((width - self.size[0]) // 2, (height - self.size[1]) // 2)
        self.surface = target.subsurface(pygame.Rect(self.offset, self.size))

    def length(self, units: float) -> int:
        """Pixels for a length, at least one."""
        return max(1, round(units * self.scale))

    def at(self, point: Point) -> tuple[int, int]:
        """Pixel of a logical point."""
        return round(point[0] * self.scale), round(point[1] * self.scale)

    def area(self, box: tuple[float, float, float, float]) -> pygame.Rect:
        """Pixels of a logical box."""
        left, top, width, height = box
        corner = self.at((left, top))
        far = self.at((left + width, top + height))
        return pygame.Rect(corner, (far[0] - corner[0], far[1] - corner[1]))

    def logical(self, window_pixel: tuple[float, float]) -> Point:
        """Logical point under a pixel of the whole window, for mouse and touch."""
        return (window_pixel[0] - self.offset[0]) / self.scale, (window_pixel[1] - self.offset[1]) / self.scale

    def paste(self, image: pygame.Surface, point: Point, anchor: Anchor = "topleft", *, add: bool = False) -> None:
        """Lay an image that is already in pixels with its `anchor` at a logical point; `add` for light."""
        box = image.get_rect(**{anchor: self.at(point)})
        self.surface.blit(image, box, special_flags=pygame.BLEND_RGB_ADD if add else 0)

    def disc(self, colour: Colour, centre: Point, radius: float) -> None:
        """A filled circle with a smooth edge."""
        pixel = self.at(centre)
        pygame.draw.circle(self.surface, colour, pixel, self.length(radius))

    def shape(self, colour: Colour, points: Sequence[Point]) -> None:
        """A filled polygon with a smooth edge."""
        pixels = [self.at(point) for point in points]
        pygame.draw.polygon(self.surface, colour, pixels)
        pygame.draw.aalines(self.surface, colour, True, pixels)

    def line(self, colour: Colour, points: Sequence[Point], width: float = 2.0) -> None:
        """An open line of some width with round joints."""
        pixels = [self.at(point) for point in points]
        broad = self.length(width)
        pygame.draw.lines(self.surface, colour, False, pixels, broad)
        if broad > 3:
            for pixel in pixels:
                pygame.draw.circle(self.surface, colour, pixel, broad // 2)


def bare_sky(hour: Hour, horizon: float, size: tuple[int, int]) -> pygame.Surface:
    """The sky over dark land, without stars or paper, quickly made: the first picture does not wait for numpy."""
    named, rows = palette().named(hour), -(-size[1] // ROW_PX)
    far, near, strip = named["meadow"], named["ground-near"], pygame.Surface((1, rows), 0, 32)
    for y in range(rows):
        row = y / max(rows - 1, 1)
        if row < horizon:
            strip.set_at((0, y), sky_at(hour, row / horizon))
        else:
            strip.set_at((0, y), between(far, near, ((row - horizon) / max(1 - horizon, 0.01)) ** 0.5))
    return pygame.transform.scale(strip, size)
