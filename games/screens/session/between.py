"""Between two workshops: a breath to follow at the pool, then a look at the village and at what comes next. Never
effort."""

import math
from collections.abc import Hashable
from dataclasses import replace

from musclewood.games.engine.wishes import Reckoning
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, sentence
from musclewood.games.screens.base.controls_row import always_there
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.life import Village
from musclewood.games.screens.base.pace import RESTING, Pace
from musclewood.games.screens.base.page import Page, Surroundings, Transition
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.pool import draw_moon_clock
from musclewood.games.screens.base.scenes import POOL, village
from musclewood.games.screens.base.table import draw_table
from musclewood.games.screens.session.lily import IN_S, OUT_S, draw_breath

BREATHS_S = 2 * (IN_S + OUT_S)  # so long before the end of the pool's half, at least
LOOK_S = 12.0  # what is left for the village is worth a look from here on; our choice
MOON_AT_POOL, MOON_IN_VILLAGE, LILY = (330.0, 400.0), (872.0, 208.0), (330.0, 640.0)
COUNT = Look(size=SMALL, bold=True, margin=12)


class BreakPage(Page):
    """The moon keeps the time in both places."""

    eager = False

    def __init__(self, around: Surroundings, play: Play, day: Day) -> None:
        super().__init__(around)
        self.play, self.day = play, day
        self._longest_s = max(0.1, play.view.left_s)
        self.life = Village()
        self._reckoning = Reckoning()
        built = () if self.theme.settings.plain_evening else day.standing.built
        self._village = village("dusk", day.awake, day.season, built, day.guest)  # as it was seen before the session
        self.scene = POOL
        self._see()

    @property
    def pace(self) -> Pace:
        return RESTING

    @property
    def rested_s(self) -> float:
        return self._longest_s - self.play.view.left_s

    @property
    def looks_at_village(self) -> bool:
        """The second half of a break that is long enough for both; all of a shorter one."""
        left_s = self.play.view.left_s
        return self._longest_s < BREATHS_S + LOOK_S or left_s <= max(LOOK_S, self._longest_s / 2)

    def _see(self) -> None:
        self.scene = self._village if self.looks_at_village else POOL

    def update(self, dt_s: float) -> Transition | None:
        self._see()
        return super().update(dt_s)

    def state(self) -> Hashable:
        return (math.ceil(self.play.view.left_s), self.looks_at_village)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words, view = self.theme, self.theme.words, self.play.view
        told = words("frame.tired" if view.note == "tired" else "frame.break")
        slips = [sentence(canvas, theme, told, (40, 34), 540, Look(size=LARGE, bold=True))]
        for text in self._next():
            slips.append(sentence(canvas, theme, text, (56, bottom_of(slips) + 10), 520, Look(size=BODY)))
        count = sentence(canvas, theme, words("calibration.seconds", count=math.ceil(view.left_s)), (0, 0), 200, COUNT)
        x, y = MOON_IN_VILLAGE if self.looks_at_village else MOON_AT_POOL
        below = 56 if self.looks_at_village else 92
        count = replace(count.moved(x - count.box.width / 2, y + below), running=True)
        return [*slips, count, *always_there(canvas, theme)]

    def _next(self) -> list[str]:
        """What comes next: where, if that is settled, and how much."""
        words, exercise = self.theme.words, self.play.view.exercise
        if exercise is None:
            return []
        where = (
            [words("frame.next", place=words(f"place.{exercise.workshops[0]}"))] if len(exercise.workshops) == 1 else []
        )
        return [*where, words.count("today.count", exercise.sets * exercise.reps)]

    def paint(self, canvas: Canvas) -> None:
        share = self.rested_s / self._longest_s
        if not self.looks_at_village:
            draw_moon_clock(canvas, MOON_AT_POOL, 74, share)
            draw_breath(canvas, self.theme, LILY, self.rested_s)
            return
        if self.stands():
            self.life.draw(canvas, self.day.awake, self.time_s, self.theme.still, self.scene)
            if not self.theme.settings.plain_evening:
                draw_table(canvas, *self._reckoning.of([*self.day.shelf, *self.play.made]))
        draw_moon_clock(canvas, MOON_IN_VILLAGE, 46, share)  # it is the crescent there that fills

    def chosen(self, key: str) -> Transition | None:
        return None

    def back(self) -> Transition | None:
        return None
