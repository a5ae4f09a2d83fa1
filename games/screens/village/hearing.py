"""The first question of all, before anything has to be read: shall everything be read aloud? It is spoken as well."""

from __future__ import annotations

from collections.abc import Callable, Hashable

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.typeface import BODY, LARGE
from musclewood.games.kit.widgets import Look, Widget, bottom_of, button, sentence, stacked
from musclewood.games.kit.words import LANGUAGES
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import WREN_ROOM, Back, Page, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH

MOVES_ON_S = 4.0  # from answer to answer while nobody moves, so that one key is enough; our choice


class HearingPage(Page):
    """Nothing is ready to be chosen at first. Where no voice is found, it says so in one sentence, once.

    Whoever reads another language turns to it here. keep is called with what was chosen.
    """

    scene = BENCH
    eager = False
    careful = True
    spoken = True

    def __init__(self, around: Surroundings, voice: bool, keep: Callable[[Settings], None]) -> None:
        super().__init__(around)
        self.voice, self._keep = voice, keep
        self._moved_s: float | None = 0.0  # None once somebody moved

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        ask = words("hearing.ask" if self.voice else "hearing.no-voice")
        head = sentence(canvas, theme, ask, (40, 34), 900, Look(size=LARGE, bold=True))
        later = sentence(canvas, theme, words("hearing.later"), (56, bottom_of([head]) + 14), 800, Look(size=BODY))
        signs = {"yes": icons.speech, "no": icons.eye} if self.voice else {"go-on": icons.arrow}
        tags = [
            button(canvas, theme, key, words(f"hearing.{key}"), icon=icon, size=LARGE, width=860)
            for key, icon in signs.items()
        ]
        other = button(canvas, theme, "language", LANGUAGES[self._other])
        slips = [head, later] if self.voice else [head]
        placed = stacked(tags, 200, bottom_of(slips) + 2 * WREN_ROOM, 48, alike=True)
        return [*placed, other.moved(200, 700 - other.box.height), *slips]

    def state(self) -> Hashable:
        return self.theme.settings.language

    @property
    def _other(self) -> str:
        """The language after the one in use."""
        every = tuple(LANGUAGES)
        return every[(every.index(self.theme.words.language) + 1) % len(every)]

    def update(self, dt_s: float) -> Transition | None:
        if self._moved_s is not None:
            self._moved_s += dt_s
            if self._moved_s >= MOVES_ON_S and self.choices():
                self._moved_s = 0.0
                self._step(1)
        return super().update(dt_s)

    def handle(self, intent: Intent) -> Transition | None:
        if intent.act not in (Act.CHOOSE, Act.POINT):
            self._moved_s = None
        return super().handle(intent)

    def chosen(self, key: str) -> Transition | None:
        settings = self.theme.settings
        if key == "language":
            self._keep(settings.changed(language=self._other))
            return None
        self._keep(settings.changed(read_aloud="on" if key == "yes" else "off"))
        return Back()

    def back(self) -> Transition | None:
        """Not to answer is an answer too, and reading is as it was."""
        return self.chosen("no")
