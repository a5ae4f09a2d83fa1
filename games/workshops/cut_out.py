"""Pictures of products, cut out of paper: drawn larger and shrunk, so that edges are smooth, with room for their
shadow."""

from __future__ import annotations

from collections.abc import Callable

import pygame
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.paper import Cut, lay

MARGIN = 0.08  # room for the shadow, as a share of the side


def cut_out(drawn: pygame.Surface, side_px: int, cut: Cut) -> pygame.Surface:
    """A square picture of this side, with MARGIN around it, laid like any other sheet."""
    frame = round(side_px * (1 + 2 * MARGIN))
    flat = pygame.Surface((frame, frame), pygame.SRCALPHA, 32)
    flat.blit(pygame.transform.smoothscale(drawn, (side_px, side_px)), (round(side_px * MARGIN),) * 2)
    return laid(flat, side_px, cut)


def laid(flat: pygame.Surface, side_px: int, cut: Cut) -> pygame.Surface:
    """Something flat in its frame gets its shadow, grain and lit edge; at 100 px like any other sheet."""
    image = pygame.Surface(flat.get_size(), pygame.SRCALPHA, 32)
    lay(image, flat, cut, max(side_px / 100, 0.35))
    return image


def standing(paint: Callable[[Product, int], pygame.Surface]) -> Callable[[Canvas, Box, Product], None]:
    """Draws a product on the lower edge of a box, as large as fits, by its picture with MARGIN around it."""

    def draw_product(canvas: Canvas, box: Box, product: Product) -> None:
        side = min(box.width, box.height)
        image = paint(product, canvas.length(side))
        canvas.paste(image, (box.left + box.width / 2, box.bottom + side * MARGIN), "midbottom")

    return draw_product
