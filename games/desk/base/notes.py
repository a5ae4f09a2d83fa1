"""One sentence on the desk and the way back: what cannot be done now, and why."""

from __future__ import annotations

from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import Tool, foot
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import BODY
from musclewood.games.kit.widgets import Look, Widget, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Surroundings, Transition


class NotePage(DeskPage):
    def __init__(self, around: Surroundings, text: str) -> None:
        super().__init__(around)
        self.text = text

    def build(self, canvas: Canvas) -> list[Widget]:
        slip = sentence(canvas, self.theme, self.text, (140, 190), 1000, Look(size=BODY, margin=34))
        back = Tool("back", self.theme.words("common.back"), icons.leaf_turn, first=True)
        return [slip, *foot(canvas, self.theme, [back])]

    def chosen(self, key: str) -> Transition | None:
        return Back()
