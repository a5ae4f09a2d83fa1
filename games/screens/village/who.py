"""Whose day it is, where several patients share a computer. They are known by their clinic codes."""

from collections.abc import Sequence

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import LARGE
from musclewood.games.kit.widgets import Look, Widget, bottom_of, button, in_rows, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import WREN_ROOM, Leave, Page, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH


class WhoPage(Page):
    """`answer` is the code that was chosen, '' while nobody has."""

    scene = BENCH

    def __init__(self, around: Surroundings, codes: Sequence[str]) -> None:
        super().__init__(around)
        self.codes, self.answer = tuple(codes), ""

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words("who.title"), (40, 34), 900, Look(size=LARGE, bold=True))
        tags = [button(canvas, theme, code, code, icon=icons.arrow) for code in self.codes]
        placed = in_rows(tags, 60, bottom_of([head]) + WREN_ROOM, 1160, 24)
        leave = button(canvas, theme, "leave", words("today.leave"), icon=icons.door)
        return [*placed, head, leave.moved(60, 700 - leave.box.height)]

    def chosen(self, key: str) -> Transition | None:
        self.answer = "" if key == "leave" else key
        return Leave()

    def back(self) -> Transition | None:
        return Leave()
