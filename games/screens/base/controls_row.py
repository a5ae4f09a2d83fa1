"""The two controls that are always there in a session: stop, and 'it hurts'."""

from dataclasses import replace

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.widgets import Widget, button
from musclewood.games.screens.base import icons

HEIGHT = 76.0
KEY_ROOM = 46.0


def always_there(canvas: Canvas, theme: Theme, *, hurts: bool = True, top: bool = False) -> list[Widget]:
    """Side by side at the bottom (or top) on the side of the hand that uses them, far enough
    apart not to be mistaken."""
    words = theme.words
    stop = button(canvas, theme, "stop", words("common.stop"), icon=icons.stop_sign, width=500)
    pain = button(canvas, theme, "hurts", words("common.hurts"), icon=icons.plaster, width=500)
    pair = [_with_key(stop, "S"), _with_key(pain, "H")] if hurts else [_with_key(stop, "S")]
    y = 30.0 if top else 720 - 22 - max(widget.box.height for widget in pair)
    if theme.settings.hand == "left":
        pair = [pair[0].moved(28, y), *(widget.moved(28 + pair[0].box.width + 36, y) for widget in pair[1:])]
    else:
        pair = [
            pair[0].moved(1252 - pair[0].box.width, y),
            *(widget.moved(1252 - pair[0].box.width - 36 - widget.box.width, y) for widget in pair[1:]),
        ]
    return pair


def _with_key(widget: Widget, key: str) -> Widget:
    """Higher than other tags, with the key that does the same drawn at its end."""
    box = widget.box._replace(height=max(HEIGHT, widget.box.height), width=widget.box.width + KEY_ROOM)
    return replace(widget, box=box, picture=icons.key_cap(key), still=True)
