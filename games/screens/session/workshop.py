"""The frame round a workshop: the sentence of now, what is made, the moon that keeps the rest, and the controls."""

import math
from collections.abc import Hashable
from dataclasses import replace

from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.results import Result
from musclewood.games.engine.teacher import Help
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.pacing import HeldInSight
from musclewood.games.kit.palette import palette
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, sentence
from musclewood.games.screens.base.controls_row import always_there
from musclewood.games.screens.base.pace import LIVELY, RESTING, Pace
from musclewood.games.screens.base.page import Page, Surroundings, Transition
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.pool import draw_moon_clock
from musclewood.games.screens.base.scenes import POOL
from musclewood.games.screens.session.ahead import Pictures
from musclewood.games.screens.session.rest_moon import MOON, RestMoon
from musclewood.games.screens.session.result_card import result_card
from musclewood.games.screens.session.sayings import RESTS, STOPS, Sayings
from musclewood.games.workshops import Picture, Workshop, workshops
from musclewood.games.workshops.door_pictures import draw_door


class WorkPage(Page):
    """Hosts the workshop's own picture and adds nothing to what counts."""

    scene = POOL  # which every session has seen: nothing opens on an empty sky
    wren = False
    eager = False

    def __init__(self, around: Surroundings, play: Play, pictures: Pictures | None = None) -> None:
        super().__init__(around)
        self.play = play
        self._pictures = pictures or Pictures(around)
        self._picture: Picture | None = None
        self._phase = ""
        self._rest_s = 1.0
        self._sayings = Sayings()
        self._moon = RestMoon()
        self._card: HeldInSight[tuple[Result, Help]] = HeldInSight()
        self._name = play.view.workshop or ""

    @property
    def workshop(self) -> Workshop | None:
        return workshops().get(self._name)

    @property
    def pace(self) -> Pace:
        rep = self.play.rep
        return RESTING if rep and rep.phase in ("rest", "set rest") else LIVELY

    def state(self) -> Hashable:
        rep = self.play.rep
        if rep is None:
            return None
        return (
            self._sayings.said(rep),
            self.play.view.advice,
            rep.made,
            rep.reps,
            rep.set_number,
            rep.sets,
            math.ceil(rep.left_s),
            self._told(rep),
        )

    def _told(self, rep: RepView) -> tuple[Result, Help] | None:
        """The result that is told of now: from the end of an attempt until the next begins."""
        teacher = self.play.teacher
        if teacher is None or teacher.told is None or rep.phase == "effort":
            return None
        return self._card.shown or (teacher.told, teacher.help)

    def _main(self, canvas: Canvas, rep: RepView, at: Point, width: float) -> Widget:
        """The sentence of now; what to do about a signal that is gone is known from its last second."""
        keys, advice = self._sayings.said(rep), self.play.view.advice
        if keys[0] == "frame.unreadable" and advice:
            what_to_do = self.theme.words(f"advice.{advice}")
            return sentence(canvas, self.theme, what_to_do, at, width, Look(size=BODY, bold=True))
        told = " ".join(map(self.theme.words, keys))
        main = sentence(canvas, self.theme, told, at, width, Look(size=LARGE, bold=True))
        return replace(main, aloud="now" if keys[0] in STOPS else "next")

    def update(self, dt_s: float) -> Transition | None:
        rep = self.play.rep
        self._sayings.step(dt_s, rep)
        if rep:
            if rep.phase != self._phase:
                self._phase, self._rest_s = rep.phase, max(0.1, rep.left_s)
            self._moon.step(dt_s, rep, self._rest_s)
            teacher = self.play.teacher
            self._card.step(dt_s, (teacher.told, teacher.help) if teacher and teacher.told else None)
        return super().update(dt_s)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words, rep = self.theme, self.theme.words, self.play.rep
        controls = always_there(canvas, theme)
        if rep is None:
            return controls
        left, top, width, _ = self.workshop.words if self.workshop else (24.0, 24.0, 460.0, 230.0)
        main = self._main(canvas, rep, (left, top), width)
        told = words("frame.reps", made=rep.made, total=rep.reps)
        if rep.sets > 1:
            told += "  ·  " + words("frame.sets", number=rep.set_number, total=rep.sets)
        count = sentence(canvas, theme, told, (left + 8, main.box.bottom + 12), width, Look(size=SMALL, margin=14))
        slips = [main, count]
        if rep.reps <= 12:
            slips.append(_pips(rep, left + 8, bottom_of(slips) + 10))
        if rep.phase in RESTS:
            seconds = sentence(
                canvas, theme, words("calibration.seconds", count=math.ceil(rep.left_s)), (0, 0), 200, _COUNT
            )
            seconds = seconds.moved(MOON[0] - seconds.box.width / 2, MOON[1] + 74)
            slips.append(replace(seconds, running=True))
        result = self._told(rep)
        if result:
            slips += result_card(canvas, theme, self._name, *result, lambda: self.time_s)
        return [*slips, *controls]

    def draw_still(self, canvas: Canvas) -> None:
        self._picture = self._pictures.ask(self._name, canvas)
        rep, rules = self.play.rep, self.play.rules
        if self._picture is None or rep is None or rules is None:
            self._backdrop(canvas)
        else:
            self._picture.draw(canvas, rules, rep, self.time_s)
            if self.workshop:
                draw_door(canvas, self.workshop.door, rules.door)
        if rep and rep.unseen and rep.phase == "effort":  # the time is seen where the effort is not
            draw_moon_clock(canvas, MOON, 60, min(1.0, rep.held_s / max(rep.hold_s, 0.1)))
        elif rep:
            self._moon.draw(canvas, rep, self._rest_s)

    def settle(self) -> None:
        """Wait for what the picture paints in threads, for stills."""
        settle = getattr(self._picture, "settle", None)
        if settle:
            settle()

    @property
    def picture_ready(self) -> bool:
        """Whether the workshop's own picture is there, rather than the pool before it."""
        return self._picture is not None

    def chosen(self, key: str) -> Transition | None:
        return None

    def back(self) -> Transition | None:
        return None


_COUNT = Look(size=SMALL, bold=True, margin=12)


def _pips(rep: RepView, left: float, top: float) -> Widget:
    """One peg hole a rep: filled when it is made."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        for number in range(rep.reps):
            at = (box.left + 22 + 30 * number, box.top + box.height / 2)
            canvas.disc(theme.ink, at, 11)
            canvas.disc(palette().paper["lamp-deep"] if number < rep.made else theme.slip, at, 8)
            if number < rep.made:
                canvas.disc(theme.ink, at, 3)

    return Widget(Box(left, top, 44 + 30 * (rep.reps - 1), 40), picture=draw, still=True)
