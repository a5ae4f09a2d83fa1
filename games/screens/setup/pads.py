"""Where the pads go, one muscle at a time: the whole body, and the place itself under a glass."""

from collections.abc import Hashable
from contextlib import suppress
from dataclasses import replace

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Intent
from musclewood.games.kit.deliberate import reading_s
from musclewood.games.kit.palette import palette
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, button, in_rows, sentence, stacked
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.bodies import Site, lay_place, site_of
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.goes_on import STAY, GoesOn, stay
from musclewood.games.screens.base.page import Back, Page, Surroundings, Transition
from musclewood.games.screens.base.pool import draw_moon_clock
from musclewood.games.screens.base.scenes import BENCH
from musclewood.games.screens.setup.pads_heard import PadsHeard
from musclewood.games.screens.setup.place import draw_place
from musclewood.games.screens.setup.starting import begin
from musclewood.profiles.errors import TrustError
from musclewood.profiles.home.pads import STEPS_MM, PadPlace

ON_S = 5.0  # from a signal that is clear: time to see that it goes on, and to want to stay; our choice
MOON = (694.0, 640.0)  # in the corner of the drawn body's paper
STEPS_X = 908.0  # beside the legs of the drawn body, below the glass


class PadsPage(Page):
    """Every muscle of the prescription in turn, then on to the session.

    The sensor is listened to meanwhile: once the page could be read and the signal is clear, it goes on by itself.
    """

    scene = BENCH

    def __init__(self, around: Surroundings, day: Day) -> None:
        super().__init__(around)
        self.day = day
        self.number = 0
        # Where the muscle itself leads, the sensor is listened to already, and the muscle says when to go on.
        listens = day.sensors is not None and not around.theme.settings.muscle_leads
        self.heard = PadsHeard(day.ear if listens else None)
        self.goes_on = GoesOn(ON_S)

    def state(self) -> Hashable:
        return self.number, self.place, self.goes_on.begun

    def turned(self) -> Hashable:
        return self.number

    def update(self, dt_s: float) -> Transition | None:
        self.heard.step(dt_s)
        clear = self.heard.clear(self.day.muscles[self.number].channel)
        told = self.shown_s >= reading_s(self.question().words or 0) and not self.around.speaking()
        if self.goes_on.step(dt_s, clear and (told or self.goes_on.begun) and self.shown_s > 0):
            return self.chosen("next")
        return super().update(dt_s)

    def handle(self, intent: Intent) -> Transition | None:
        under = self._under(intent.at) if intent.at else None
        self.goes_on.hear(intent, under, self.focus, "next")
        return super().handle(intent)

    def close(self) -> None:
        """Let the sensor go."""
        self.heard.close()

    @property
    def place(self) -> PadPlace | None:
        """Where the pads of this muscle lay last time, as far as it is known."""
        return self.day.pads.of(self.day.muscles[self.number].id) if self.day.pads else None

    @property
    def site(self) -> Site | None:
        muscle = self.day.muscles[self.number]
        return site_of(muscle.name, muscle.side) or site_of(muscle.id, muscle.side)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words, muscle = self.theme, self.theme.words, self.day.muscles[self.number]
        last = self.number == len(self.day.muscles) - 1
        head = sentence(
            canvas,
            theme,
            words("pads.again" if self.place else "pads.title"),
            (40, 34),
            590,
            Look(size=LARGE, bold=True),
        )
        whose = words("calibration.muscle", muscle=muscle.name, side=words(f"pads.side-{muscle.side}"))
        told = [lay_place(muscle.placement, words.language) or muscle.placement]
        told.append(words("pads.heard" if self.goes_on.begun else "pads.clean"))
        if self.site is None:
            told.insert(0, words("pads.mark"))
        slips = [sentence(canvas, theme, whose, (0, 0), 570, Look(size=BODY, bold=True))]
        slips += [sentence(canvas, theme, text, (0, 0), 570, Look(size=SMALL)) for text in told]
        placed = stacked(slips, 56, head.box.bottom + 18, 14)
        onward = words("pads.done" if last else "pads.next")
        tags = [
            button(canvas, theme, "next", onward, first=True, icon=icons.arrow),
            button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn),
        ]
        if self.goes_on.begun:
            tags[1] = stay(canvas, theme)
        rows = in_rows(tags, 56, 0, 590, 22)
        lift = 700 - max(tag.box.bottom for tag in rows)
        return [*(tag.moved(tag.box.left, tag.box.top + lift) for tag in rows), head, *placed, *self._steps(canvas)]

    def _steps(self, canvas: Canvas) -> list[Widget]:
        """How far from the mark the pads lie, one tag a direction, below the glass."""
        if self.day.pads is None:
            return []
        theme, words, now = self.theme, self.theme.words, self.place or PadPlace()
        out = button(canvas, theme, "out", words(f"pads.{_way('out', now.out_mm)}", mm=abs(now.out_mm)))
        up = button(canvas, theme, "up", words(f"pads.{_way('up', now.up_mm)}", mm=abs(now.up_mm)))
        low = 684 - out.box.height
        return [up.moved(STEPS_X, low - 14 - up.box.height), out.moved(STEPS_X, low)]

    def paint(self, canvas: Canvas) -> None:
        draw_place(canvas, self.site)
        if self.goes_on.begun:
            canvas.disc(palette().paper["ink"], MOON, 42)
            draw_moon_clock(canvas, MOON, 34, self.goes_on.share)

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return self.back()
        if key in ("up", "out", STAY):
            self._moved(key)
            return None
        if self.number < len(self.day.muscles) - 1:
            self.number += 1
            return None
        self.close()
        return begin(self.around, self.day, "ble")

    def _moved(self, key: str) -> None:
        """One offered step on, round and round; kept for the next day. A disk that refuses it costs nothing else."""
        if self.day.pads is None or key == STAY:
            return
        now = self.place or PadPlace()
        name = f"{key}_mm"
        following = STEPS_MM[(STEPS_MM.index(getattr(now, name)) + 1) % len(STEPS_MM)]
        with suppress(TrustError):
            self.day.pads.keep(self.day.muscles[self.number].id, replace(now, **{name: following}))

    def back(self) -> Transition | None:
        self.goes_on.held = True
        if self.number == 0:
            self.close()
            return Back()
        self.number -= 1
        return None


def _way(axis: str, mm: int) -> str:
    """The key of the words for a step: 'up', 'down', 'level'; 'out', 'in', 'middle'."""
    ways = {"up": ("down", "level", "up"), "out": ("in", "middle", "out")}[axis]
    return ways[1 + (mm > 0) - (mm < 0)]
