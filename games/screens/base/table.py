"""The feast table in the village, with what was made on it: things are used, not only kept."""

from musclewood.games.engine.shelf import Product
from musclewood.games.engine.wishes import Standing
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import Hour
from musclewood.games.screens.base.products import draw_product
from musclewood.games.screens.base.scenery import cut

WISH, SIDE = 2, 27.0  # the number of the table among the wishes, and how large things are on it
PLACES = (402.0, 439.0, 480.0)
TOP, GRASS = 549.0, 580.0  # of the table, and of the cloth that lies there until it is built


def draw_table(canvas: Canvas, standing: Standing, things: tuple[Product, ...], hour: Hour = "dusk") -> None:
    """The last thing of each of the latest days: on a cloth in the grass until there is a table to stand on."""
    built = (WISH, 1) in standing.built
    if things and not built:
        cut("village/cloth", hour, canvas.scale).draw(canvas.surface)
    for left, product in zip(PLACES, things, strict=False):
        draw_product(canvas, Box(left, (TOP if built else GRASS) - SIDE, SIDE, SIDE), product)
