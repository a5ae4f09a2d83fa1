"""Things that were made, drawn by their workshops and kept as pictures."""

from datetime import date

import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.kept import kept
from musclewood.games.workshops import workshops

NO_DAY = date(2000, 1, 1)  # of what is drawn beside an attempt and not kept


class _Key:
    """Products hold a dict and cannot be hashed; this one stands for a product by what it is made of."""

    def __init__(self, product: Product) -> None:
        self.product = product
        self._value = (product.workshop, product.seed, product.made_on, tuple(product.figures.items()), product.profile)

    def __hash__(self) -> int:
        return hash(self._value)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and other._value == self._value


@kept(8)
def _picture(key: _Key, size: tuple[int, int]) -> pygame.Surface:
    """The product alone on clear ground, `size` pixels; drawn at this size, never scaled."""
    workshop = workshops()[key.product.workshop]
    scale = size[1] / 100.0
    ground = pygame.Surface((max(1, round(1280 * scale)), max(1, round(720 * scale))), pygame.SRCALPHA)
    workshop.draw_product()(Canvas(ground), Box(0, 0, size[0] / scale, 100), key.product)
    return ground.subsurface(pygame.Rect((0, 0), size)).copy()


def draw_product(canvas: Canvas, box: Box, product: Product) -> None:
    """Draw a made thing into a box. A workshop that is not there any more leaves its place empty."""
    if product.workshop in workshops():
        area = canvas.area(box)
        canvas.surface.blit(_picture(_Key(product), area.size), area)
