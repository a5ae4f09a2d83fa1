"""The two controls that are always there in a session: stop, and 'it hurts'."""

from dataclasses import replace

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.widgets import Widget, button
from musclewood.games.screens.base import icons

HEIGHT = 76.0


def always_there(canvas: Canvas, theme: Theme, *, hurts: bool = True, top: bool = False) -> list[Widget]:
    """Side by side at the bottom (or top) on the side of the hand that uses them, far enough apart not to be mistaken."""
    words = theme.words
    stop = button(canvas, theme, "stop", words("common.stop"), icon=icons.stop_sign, width=500)
    pain = button(canvas, theme, "hurts", words("common.hurts"), icon=icons.plaster, width=500)
    pair = [_tall(stop), _tall(pain)] if hurts else [_tall(stop)]
    y = 30.0 if top else 720 - 22 - max(widget.box.height for widget in pair)
    if theme.settings.hand == "left":
        pair = [pair[0].moved(28, y), *(widget.moved(28 + pair[0].box.width + 36, y) for widget in pair[1:])]
    else:
        pair = [
            pair[0].moved(1252 - pair[0].box.width, y),
            *(widget.moved(1252 - pair[0].box.width - 36 - widget.box.width, y) for widget in pair[1:]),
        ]
    return pair


def _tall(widget: Widget) -> Widget:
    return replace(widget, box=widget.box._replace(height=max(HEIGHT, widget.box.height)))
