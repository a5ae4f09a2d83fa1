"""Little drawings on the cards that offer a source."""

from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.widgets import Drawing
from musclewood.games.screens.base.scenery import cut

MIDDLE = (140.0, 96.0)  # the sketches are drawn around this point of a card


def of_source(kind: str) -> Drawing:
    """A sensor on an arm, a book of recordings, a jointed wooden figure, or keys."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        at = (box.left + box.width / 2 - MIDDLE[0], box.top)
        cut(f"source/{kind}", "dusk", canvas.scale).draw(canvas.surface, *at)

    return draw
