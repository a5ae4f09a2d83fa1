"""Cautions: all of them, read before the first session of every new order, and whenever somebody wants to."""

from collections.abc import Hashable

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.deliberate import reading_s
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, button, in_rows, sentence, stacked
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.goes_on import STAY, GoesOn, stay
from musclewood.games.screens.base.page import Back, Page, Replace, Surroundings, Transition
from musclewood.games.screens.base.pool import draw_moon_clock
from musclewood.games.screens.base.scenes import BENCH

PAGES = (
    ("not-device", "standard", "guided"),
    ("follow", "law", "stop", "tell"),
    ("implant", "pregnancy", "surgery"),
    ("skin", "adhesive", "battery", "charge"),
    ("breath", "hold-breath"),
)
MOON = (146.0, 648.0)
BEAT_S = 0.5  # of silence after what was read aloud; our choice
TURNS_AFTER = 1.5  # times what a slow reader needs: nobody is to be hurried who only watches; our choice


class CautionsPage(Page):
    """A few cautions at a time, each page for as long as a slow reader needs; then onward to wherever somebody was
    going.

    The pages turn by themselves, with time to spare and never before they were read aloud, until somebody turns back or
    wants to stay. That they were read is said once, at the end, by an answer. What was confirmed for the order in force
    may be turned over at once, and does not turn by itself.
    """

    scene = BENCH
    careful = True

    def __init__(self, around: Surroundings, day: Day, onward: Page | None = None) -> None:
        super().__init__(around)
        self.day, self.onward = day, onward
        self.number = 0
        self._confirmed = day.order_name in around.theme.settings.cautions_for
        self._read: set[int] = set()
        self.turns = GoesOn(BEAT_S)
        self.turns.held = self._confirmed

    @property
    def readable(self) -> bool:
        """Whether this page was in sight long enough to be turned over."""
        return self._confirmed or self.number in self._read

    @property
    def eager(self) -> bool:  # type: ignore[override]
        """Only what has been read is ready to be turned over."""
        return self.readable

    @property
    def needed_s(self) -> float:
        """How long a slow reader takes for this page, from its words."""
        return reading_s(sum(len(self.theme.words(f"cautions.{key}").split()) for key in PAGES[self.number]))

    @property
    def last(self) -> bool:
        return self.number == len(PAGES) - 1

    def state(self) -> Hashable:
        return (self.number, self.readable, self.turns.held)

    def turned(self) -> Hashable:
        return self.number

    def update(self, dt_s: float) -> Transition | None:
        done = super().update(dt_s)
        if self.shown_s >= self.needed_s:
            self._read.add(self.number)
        spared = self.shown_s >= TURNS_AFTER * self.needed_s and not self.around.speaking()
        if self.turns.step(dt_s, spared and not self.last):
            self.number += 1
        return done

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words("cautions.title"), (40, 34), 800, Look(size=LARGE, bold=True))
        size = LARGE if theme.settings.text_scale == 1.0 and len(PAGES[self.number]) < 4 else BODY
        slips = [
            sentence(canvas, theme, words(f"cautions.{key}"), (0, 0), 1080, Look(size=size, margin=26))
            for key in PAGES[self.number]
        ]
        placed = stacked(slips, 84, 140, 20)
        tags = [button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn)]
        if not self.turns.held and not self.last:
            tags.append(stay(canvas, theme))
        if self.readable:
            onward = words("cautions.agree" if self.last else "cautions.next")
            tags = [button(canvas, theme, "next", onward, first=True, icon=icons.arrow), *tags]
            tags = in_rows(tags, 84, 612, 1190, 32)
        else:
            wait = sentence(canvas, theme, words("cautions.wait"), (206, 612), 460, Look(size=SMALL))
            tags = [*in_rows(tags, wait.box.right + 32, 612, 1256 - wait.box.right, 22), wait]
        count = words("cautions.page", number=self.number + 1, total=len(PAGES))
        if not self.turns.held and not self.last:
            count += " " + words("cautions.turns")
        page = sentence(canvas, theme, count, (0, 0), 760, Look(size=SMALL, margin=14))
        return [*tags, head, *placed, page.moved(head.box.right + 24, 40)]

    def paint(self, canvas: Canvas) -> None:
        if not self.readable:
            draw_moon_clock(canvas, MOON, 44, min(1.0, self.shown_s / self.needed_s))

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return self.back()
        if key == STAY:
            self.turns.held = True
            return None
        if not self.readable:
            return None
        if not self.last:
            self.number += 1
            return None
        if not self._confirmed:
            self.day.keep(self.theme.settings.confirmed(self.day.order_name))
        return Replace(self.onward) if self.onward else Back()

    def back(self) -> Transition | None:
        if self.number == 0:
            return Back()
        self.turns.held = True  # whoever wants to see something again turns the pages from here on
        self.number -= 1
        return None
