"""Which keys and which buttons of a controller do what."""

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, button, sentence, stacked
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Page, Transition
from musclewood.games.screens.base.scenes import BENCH

KEYS = ("move", "choose", "back", "stop", "hurts", "pause", "volume", "read", "window")
BUTTONS = ("pad-move", "pad-choose", "pad-back", "pad-stop", "pad-hurts", "pad-pause")


class KeysPage(Page):
    """Keyboard on the left, controller on the right."""

    scene = BENCH

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words("keys.title"), (40, 24), 800, Look(size=LARGE, bold=True))
        look = Look(size=SMALL, margin=14)
        columns = []
        for left, width, keys in ((40.0, 590.0, KEYS), (660.0, 590.0, BUTTONS)):
            rows = [sentence(canvas, theme, words(f"keys.{key}"), (0, 0), width, look) for key in keys]
            columns += stacked(rows, left, bottom_of([head]) + 14, 7)
        back = button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn, first=True)
        return [back.moved(1240 - back.box.width, 704 - back.box.height), head, *columns]

    def chosen(self, key: str) -> Transition | None:
        return Back()
