"""The feast table in the village, with what was made on it: things are used, not only kept."""

from collections.abc import Sequence

from musclewood.games.engine.shelf import Product
from musclewood.games.engine.wishes import on_the_table, standing
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.screens.base.products import draw_product

WISH, SIDE = 2, 27.0  # the number of the table among the wishes, and how large things are on it
PLACES = (402.0, 439.0, 480.0)
TOP = 549.0


def draw_table(canvas: Canvas, shelf: Sequence[Product]) -> None:
    """The last thing of each of the latest days, once there is a table to stand on."""
    if (WISH, 1) not in standing(shelf).built:
        return
    for left, product in zip(PLACES, on_the_table(shelf), strict=False):
        draw_product(canvas, Box(left, TOP - SIDE, SIDE, SIDE), product)
