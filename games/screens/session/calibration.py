"""Calibration: calm water for rest, then lanterns in a tree for the greatest effort that is comfortable."""

import math
from collections.abc import Hashable
from dataclasses import replace

from musclewood.games.engine.session_events import CalibrationView
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, sentence
from musclewood.games.screens.base.controls_row import always_there
from musclewood.games.screens.base.pace import LIVELY, RESTING, Pace
from musclewood.games.screens.base.page import Page, Surroundings, Transition
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.pool import draw_lanterns, draw_moon_clock, draw_water
from musclewood.games.screens.base.scenes import POOL
from musclewood.games.screens.session.lily import draw_breath

LILY = (330.0, 640.0)  # on the water, where the rings are
STIRS_UV = 12.0  # our choice: about three times a good resting level
FIRST_TRIAL_UV = 60.0  # lanterns have a scale before anything is known; our choice, on the low side


class TrialsPage(Page):
    """Rest and trials of one muscle after the other. The muscle does everything; there is nothing to choose but to
    stop."""

    scene = POOL
    eager = False

    def __init__(self, around: Surroundings) -> None:
        super().__init__(around)
        self._muscle = ""
        self._most_uv = 0.0
        self._longest_s = 1.0
        self._phase = ""

    @property
    def seen(self) -> CalibrationView | None:
        """What is measured now."""
        raise NotImplementedError

    @property
    def pace(self) -> Pace:
        view = self.seen
        return LIVELY if view and view.phase == "trial" else RESTING

    def state(self) -> Hashable:
        view = self.seen
        return (
            (view.muscle, view.phase, view.trial_number, view.note, view.contracting, math.ceil(view.left_s))
            if view
            else None
        )

    def update(self, dt_s: float) -> Transition | None:
        view = self.seen
        if view:
            if view.muscle != self._muscle:
                self._muscle, self._most_uv = view.muscle, 0.0
            if view.phase != self._phase:
                self._phase, self._longest_s = view.phase, max(0.1, view.left_s)
            self._most_uv = max(self._most_uv, view.best_uv or 0.0, view.amplitude_uv if view.phase == "trial" else 0.0)
        return super().update(dt_s)

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words, view = self.theme, self.theme.words, self.seen
        if view is None:
            return always_there(canvas, theme)
        side = words(f"pads.side-{view.side}")
        whose = words("calibration.muscle", muscle=view.muscle_name, side=side)
        small = sentence(canvas, theme, whose, (40, 30), 600, Look(size=SMALL, margin=14))
        main = sentence(
            canvas, theme, words(_sentence(view)), (40, small.box.bottom + 14), 600, Look(size=LARGE, bold=True)
        )
        slips = [small, replace(main, aloud="now")]
        if view.note:
            slips.append(
                sentence(
                    canvas, theme, words(f"measuring.{view.note}"), (56, main.box.bottom + 14), 560, Look(size=BODY)
                )
            )
        elif view.phase in ("trial", "pause"):
            count = words(
                "calibration.trial-count", number=view.trial_number, total=max(view.trials, view.trial_number)
            )
            slips.append(sentence(canvas, theme, count, (56, main.box.bottom + 14), 560, Look(size=SMALL, margin=14)))
        return [*slips, *always_there(canvas, theme)]

    def paint(self, canvas: Canvas) -> None:
        view = self.seen
        if view is None:
            return
        draw_water(
            canvas, view.amplitude_uv / STIRS_UV if view.phase == "rest" else 0.15, self.time_s, self.theme.still
        )
        top_uv = 1.15 * max(self._most_uv, FIRST_TRIAL_UV)
        level = view.amplitude_uv / top_uv if view.phase == "trial" else 0.0
        draw_lanterns(canvas, level, (view.best_uv or 0.0) / top_uv)
        if view.phase in ("rest", "pause"):
            draw_moon_clock(canvas, (330, 420), 58, 1 - view.left_s / self._longest_s)
            seconds = self.theme.words("calibration.seconds", count=math.ceil(view.left_s))
            slip = sentence(canvas, self.theme, seconds, (0, 0), 200, Look(size=SMALL, bold=True, margin=12))
            slip.moved(330 - slip.box.width / 2, 492).draw(canvas, self.theme)
        if view.phase == "pause":  # while rest is measured, nothing is to be done at all
            draw_breath(canvas, self.theme, LILY, self._longest_s - view.left_s)

    def chosen(self, key: str) -> Transition | None:
        return None

    def back(self) -> Transition | None:
        return None


class CalibrationPage(TrialsPage):
    """The calibration that a session begins with."""

    def __init__(self, around: Surroundings, play: Play) -> None:
        super().__init__(around)
        self.play = play

    @property
    def seen(self) -> CalibrationView | None:
        return self.play.view.calibration


def _sentence(view: CalibrationView) -> str:
    """The key of the sentence of now: what to do, in the words of the contraction that is asked for."""
    what, _, which = view.reference.partition(" ")
    maximal = not which
    match view.phase:
        case "done":
            return "calibration.done" if maximal else "calibration.done-measure"
        case "rest" | "pause" | "failed":
            return f"calibration.{view.phase}"
        case _ if view.contracting:
            return "calibration.holding" if maximal else "calibration.holding-measure"
        case _:
            return "calibration.trial" if maximal else f"calibration.{what}.{which}"
