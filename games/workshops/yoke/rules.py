"""What happens at the yoke. Pure: the same views and events give the same evening.

Each side's effort lifts its end of the yoke; the two ropes along the bridge are the band. Where both ends lie between
the ropes and level, the carrier walks, as far as the rep engine grants time. Unlike sides tilt the yoke and spill, too
much lifts it over the upper rope and spills as well; neither brings the pails an inch further.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Literal

from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortStarted,
    RepEvent,
    RepMade,
    RepMissed,
    RepView,
    RestStarted,
)
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.motion import approach
from musclewood.games.workshops import SILENT, Drone, SoundCue
from musclewood.games.workshops.craft import ANSWER_S, Craft, tone_of
from musclewood.games.workshops.gauge import Gauge

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

STRIDE_PER_S = 0.75  # of the bridge's length a second, where no effort is asked
GONE, COMING = 1.42, -0.4  # places behind the rack and behind the gatepost, out of sight
CARRIED_HEIGHT = 0.62  # of the yoke, while she walks where no effort is asked
STEPS = 8  # footfalls over the whole bridge
Errand = Literal["waiting", "crossing", "leaving", "coming", "back"]
Sides = tuple[float, float]


class YokeRules(Craft):
    """The evening at the bridge. Heights and shares are 0..1; `along` is 0 at the near gatepost, 1 at the far one."""

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        super().__init__("yoke", planned, shelf, today)
        self.seed = seed
        self.gauge = Gauge.of_plan(planned)
        self.mark_low, self.mark_high = self.gauge.low_height, self.gauge.high_height
        self.effort: Sides = (0.0, 0.0)  # heights of the yoke's ends by effort alone
        self.borne = 0.0  # how far she carries the yoke without effort being asked
        self.errand: Errand = "coming"
        self.along, self.walked = COMING, 0.0
        self.spilling: Sides = (0.0, 0.0)
        self.within: Sides = (0.0, 0.0)
        self.glow = self.murk = self.rested = 0.0
        self.paces = 0.0
        self._rest_s = 1.0
        self._spilt_s = 0.0

    @property
    def ends(self) -> Sides:
        """Heights of the yoke's two ends: the effort's own, unless she walks where none is asked."""
        left, right = (side + (CARRIED_HEIGHT - side) * self.borne for side in self.effort)
        return left, right

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        self._lift(view)
        cues += self._walk(step_s)
        self._answer(step_s, view)
        self.pass_time(step_s, view)
        self.drone = self._drone(view)
        return cues + self._spill(step_s)

    # --- what the rep engine told ------------------------------------------------------------------------------
    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                return [SoundCue("pail", gain=0.65)]
            case EffortStarted():
                self.errand, self.walked = "crossing", 0.0
            case RepMade(rep):
                self.errand, self.walked = "leaving", 1.0  # one of the two full pails is kept
                return [self.keep(rep), SoundCue("pail", gain=0.8)]
            case RepMissed():
                walking = self.errand == "crossing"
                self.errand, self.walked = ("back", 0.0) if walking else (self.errand, 0.0)
                return [SoundCue("sigh", gain=0.55)]
            case RestStarted(rest_s=rest_s):
                self._rest_s = max(rest_s, 0.1)
        return self.ended(event)

    # --- what the muscles do: at once ---------------------------------------------------------------------------
    def _lift(self, view: RepView) -> None:
        self.gauge = Gauge.of(view.low, view.target, view.high)
        sides = view.activation if view.readable else (0.0,)
        self.effort = self.gauge.height(sides[0]), self.gauge.height(sides[-1])
        if view.phase == "effort":
            self.walked = min(view.held_s / view.hold_s, 1.0) if view.hold_s > 0 else 0.0

    # --- what the world answers: eased --------------------------------------------------------------------------
    def _walk(self, step_s: float) -> list[SoundCue]:
        """Where she is. On the bridge she goes as far as time in the band has brought her."""
        before = self.along
        match self.errand:
            case "crossing":
                self.along = approach(self.along, self.walked, step_s, ANSWER_S)
            case "leaving":
                self.along += STRIDE_PER_S * step_s
                if self.along >= GONE:
                    self.along, self.errand, self.walked = COMING, "coming", 0.0
                    return []
            case "coming":
                self.along = min(self.along + STRIDE_PER_S * step_s, 0.0)
            case "back":
                self.along = max(self.along - STRIDE_PER_S * step_s, 0.0)
        if self.errand in ("coming", "back") and self.along == 0.0:
            self.errand = "waiting"
        was, self.paces = self.paces, self.paces + abs(self.along - before) * STEPS
        return [SoundCue("step", gain=0.65)] if int(self.paces) > int(was) else []

    def _answer(self, step_s: float, view: RepView) -> None:
        self.mark_low = approach(self.mark_low, self.gauge.low_height, step_s, ANSWER_S)
        self.mark_high = approach(self.mark_high, self.gauge.high_height, step_s, ANSWER_S)
        working, resting = view.phase == "effort", view.phase in ("rest", "set rest")
        transit = self.errand in ("leaving", "coming", "back") and not working
        self.borne = approach(self.borne, 1.0 if transit else 0.0, step_s, ANSWER_S)
        self.within = self._eased(
            self.within, [working and view.low <= side <= view.high for side in view.level], step_s
        )
        self.spilling = self._eased(self.spilling, self._spills(view), step_s)
        self.glow = approach(self.glow, 1.0 if working and view.in_band else 0.0, step_s, ANSWER_S)
        beyond = view.readable and max(view.level) > view.high
        self.murk = approach(self.murk, 1.0 if beyond else 0.0, step_s, ANSWER_S)
        self.rested = min(max(1 - view.left_s / self._rest_s, 0.0), 1.0) if resting else self.rested

    def _spills(self, view: RepView) -> list[bool]:
        """Which pail loses water: the lower of an unlike pair, and any that is lifted over the upper rope."""
        if view.phase != "effort" or not view.readable or len(view.level) < 2:
            return [False, False]
        left, right = view.level
        apart = view.difference_limit is not None and abs(left - right) > view.difference_limit
        apart = apart and max(left, right) >= view.low
        return [left > view.high or (apart and left < right), right > view.high or (apart and right < left)]

    @staticmethod
    def _eased(now: Sides, goal: Sequence[bool], step_s: float) -> Sides:
        left, right = (approach(value, float(on), step_s, ANSWER_S) for value, on in zip(now, goal, strict=True))
        return left, right

    # --- what is heard ------------------------------------------------------------------------------------------
    def _spill(self, step_s: float) -> list[SoundCue]:
        """A splash now and then while water is lost."""
        self._spilt_s = self._spilt_s + step_s if max(self.spilling) > 0.5 else 0.0
        if self._spilt_s < 0.4:
            return []
        self._spilt_s -= 0.8
        return [SoundCue("splash", gain=0.55)]

    def _drone(self, view: RepView) -> Drone:
        """Loud as the stronger side; the pitch follows the weaker, so that only both together reach the chord."""
        most, least = max(view.activation), min(view.activation)
        tone = tone_of(replace(view, activation=(most,)), self.glow, max(self.murk, 0.6 * max(self.spilling)))
        return tone if tone is SILENT or most > view.high else replace(tone, height=least / view.target)
