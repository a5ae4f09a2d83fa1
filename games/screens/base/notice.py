"""Something is in the way: one clear line, and the way back."""

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import BODY, LARGE
from musclewood.games.kit.widgets import Look, Widget, button, sentence
from musclewood.games.kit.words import told
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Page, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH


class NoticePage(Page):
    """Says what is wrong and what to do."""

    scene = BENCH

    def __init__(self, around: Surroundings, error: Exception) -> None:
        super().__init__(around)
        self.message = told(self.theme.words, error)

    def build(self, canvas: Canvas) -> list[Widget]:
        words = self.theme.words
        head = sentence(canvas, self.theme, words("error.title"), (40, 34), 800, Look(size=LARGE, bold=True))
        slip = sentence(canvas, self.theme, self.message, (84, 160), 860, Look(size=BODY, margin=30))
        back = button(canvas, self.theme, "back", words("common.back"), icon=icons.leaf_turn, first=True)
        return [back.moved(84, max(600.0, slip.box.bottom + 30)), head, slip]

    def chosen(self, key: str) -> Transition | None:
        return Back()
