"""Cautions, read once before the first session and whenever somebody wants to."""

from collections.abc import Hashable

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, button, in_rows, sentence, stacked
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.page import Back, Page, Replace, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH

PAGES = (
    ("not-device", "follow", "law"),
    ("stop", "breath", "battery"),
    ("implant", "pregnancy", "skin"),
)


class CautionsPage(Page):
    """Three cautions at a time; after the last, onward to wherever somebody was going."""

    scene = BENCH

    def __init__(self, around: Surroundings, day: Day, onward: Page | None = None) -> None:
        super().__init__(around)
        self.day, self.onward = day, onward
        self.number = 0

    def state(self) -> Hashable:
        return self.number

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        last = self.number == len(PAGES) - 1
        head = sentence(canvas, theme, words("cautions.title"), (40, 34), 800, Look(size=LARGE, bold=True))
        size = LARGE if theme.settings.text_scale == 1.0 else BODY
        slips = [
            sentence(canvas, theme, words(f"cautions.{key}"), (0, 0), 880, Look(size=size, margin=28))
            for key in PAGES[self.number]
        ]
        placed = stacked(slips, 84, 146, 26)
        onward = words("cautions.agree" if last else "cautions.next")
        tags = [
            button(canvas, theme, "next", onward, first=True, icon=icons.arrow),
            button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn),
        ]
        tags = in_rows(tags, 84, 610, 1100, 32)
        count = words("cautions.page", number=self.number + 1, total=len(PAGES))
        page = sentence(canvas, theme, count, (0, 0), 400, Look(size=SMALL, margin=14))
        return [*tags, head, *placed, page.moved(head.box.right + 24, 40)]

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return self.back()
        if self.number < len(PAGES) - 1:
            self.number += 1
            return None
        if not self.theme.settings.cautions_read:
            self.day.keep(self.theme.settings.changed(cautions_read=True))
        return Replace(self.onward) if self.onward else Back()

    def back(self) -> Transition | None:
        if self.number == 0:
            return Back()
        self.number -= 1
        return None
