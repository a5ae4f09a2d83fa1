"""A test from its first step to its last: pads, trials, rest, the question about pain between, the result. Pure.

A test is a list of steps, some of which only come to be once earlier ones are done. A stop is possible at any moment;
pain at or above the level chosen ends it, and so does pain that rose as far as chosen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from musclewood.games.engine.session_events import Tick
from musclewood.games.examining.ladder import BandLadder, Ladder
from musclewood.games.examining.outcomes import Way, opposite_test, reference_test, sides_test
from musclewood.games.examining.steps import (
    Holding,
    Measuring,
    PainAsked,
    Placing,
    Resting,
    Shown,
    Step,
    Subject,
    Trying,
)
from musclewood.profiles.orders.retests import SIDE_REST_S, SIDE_TRIAL_S, SIDE_TRIALS
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.profiles.visits.entries import Hold, LadderTest, MuscleTrials, Purpose, Result
from musclewood.signal.measures.calibration import CalibrationSettings

OPPOSITE_HOLDS = 3
HOLD_REST_S = 6.0  # between two short holds, or twice as long as one is asked for; our choice
LONGEST_TRIED_S = (
    6.0  # a ladder's holds are short; one that is ordered longer is not proposed another length. Our choice.
)
Refer = Callable[[dict[int, tuple[float, float]]], None]
"""Takes (rest, reference) in µV by channel, from when on activation is to be measured against them."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """What nothing in a test goes beyond: pain of 10, its rise, and whether a maximum may be asked for at all."""

    pain_stop: int = 5
    pain_rise_stop: int = 2
    maximum_allowed: bool = True


class Examination:
    """Leads the steps of one plan; `result` is there once it is done, unless it was stopped or failed."""

    def __init__(self, plan: Iterator[Step], bounds: Bounds, result: Callable[[], Result | None]) -> None:
        self._plan, self._bounds, self._result = plan, bounds, result
        self._step: Step | None = None
        self._waiting: Step | None = None  # a step that a question about pain came between
        self.pain: list[int] = []
        self.measured: list[
            MuscleTrials
        ] = []  # each muscle and side as soon as it is known, also of a test that ends early
        self.ended: Literal["done", "stopped", "pain", "failed"] | None = None
        self.note: str | None = None
        self._next()

    @property
    def result(self) -> Result | None:
        """What was found. A test that was stopped has none; a ladder that was stopped keeps its holds."""
        return self._result() if self.ended in ("done", "pain") else None

    @property
    def shown(self) -> Shown:
        """What to show now."""
        if self._step is not None:
            return self._step.shown
        return Shown(
            "done" if self.ended == "done" else "failed" if self.ended == "failed" else "stopped", note=self.note
        )

    def step(self, tick: Tick) -> None:
        """Take in one tick."""
        if self._step is not None:
            self._step.step(tick)
            self._follow()

    def answer(self, value: int | str) -> None:
        """A number for pain, 'go on' when the pads lie, 'stop' at any time."""
        if value == "stop":
            self._end("stopped")
        elif self._step is not None:
            self._step.answer(value)
            self._follow()

    def hurts(self) -> None:
        """Somebody says that it hurts: how much is asked at once, and the test goes on from
        here only below the bounds."""
        if self._step is not None and not isinstance(self._step, PainAsked):
            self._waiting, self._step = self._step, PainAsked()

    def _follow(self) -> None:
        step = self._step
        while step is not None and step.done:
            if step.failed:
                self.note = step.failed
                return self._end("failed")
            if isinstance(step, Measuring):
                self.measured += step.trials
            if isinstance(step, PainAsked) and step.value is not None:
                self.pain.append(step.value)
                too_much = step.value >= self._bounds.pain_stop
                if too_much or step.value - self.pain[0] >= self._bounds.pain_rise_stop:
                    return self._end("pain")
            self._next()
            step = self._step

    def _next(self) -> None:
        self._step, self._waiting = self._waiting or next(self._plan, None), None
        if self._step is None and self.ended is None:
            self._end("done")

    def _end(self, how: Literal["done", "stopped", "pain", "failed"]) -> None:
        self.ended, self._step = self.ended or how, None


def examine_reference(
    subject: Subject,
    name: str,
    settings: CalibrationSettings,
    step_s: float,
    bounds: Bounds,
    refer: Refer | None = None,
) -> Examination:
    """Maximum or submaximal reference of one muscle. Raises ValueError where a maximum may not be asked for."""
    if settings.maximal and not bounds.maximum_allowed:
        raise ValueError("a maximum may not be asked for here")
    measuring = Measuring([subject], settings, step_s)

    def plan() -> Iterator[Step]:
        yield Placing([subject])
        yield PainAsked()
        yield measuring
        if refer is not None:
            found = measuring.results[subject.channel]
            refer({subject.channel: (found.rest_uv, found.mvc_uv)})
        yield PainAsked()

    def result() -> Result | None:
        return reference_test(name, measuring.trials[0]) if measuring.trials else None

    return Examination(plan(), bounds, result)


def examine_sides(
    involved: Subject,
    uninvolved: Subject,
    step_s: float,
    bounds: Bounds,
    *,
    way: Way,
    first: Literal["involved", "uninvolved"] = "uninvolved",
    purpose: Purpose = "visit",
    rest_s: float = SIDE_REST_S,
) -> Examination:
    """Three maximal contractions of 5 s a side, `rest_s` between trials and between sides.

    Raises ValueError where a maximum may not be asked for, or where `way` and the channels do not agree.
    """
    if not bounds.maximum_allowed:
        raise ValueError("a maximum may not be asked for here")
    if (way == "moved sensor") != (involved.channel == uninvolved.channel):
        raise ValueError("one channel is for a sensor that is moved, two for both sides at their own")
    settings = CalibrationSettings(
        trials=SIDE_TRIALS,
        trial_s=SIDE_TRIAL_S,
        max_trials=SIDE_TRIALS,
        agreement=1.0,
        rest_between_s=rest_s,
    )
    order = [uninvolved, involved] if first == "uninvolved" else [involved, uninvolved]
    groups = [order] if way == "both at once" else [[order[0]], [order[1]]]
    measured = [Measuring(group, settings, step_s) for group in groups]

    def plan() -> Iterator[Step]:
        yield Placing(order if way != "moved sensor" else groups[0])
        yield PainAsked()
        yield measured[0]
        yield PainAsked()
        if len(groups) > 1:
            if way == "moved sensor":
                yield Placing(groups[1])
            yield Resting(rest_s, step_s, [one.channel for one in order])
            yield measured[1]
            yield PainAsked()

    def result() -> Result | None:
        found = {one.side: one for group in measured for one in group.trials}
        if len(found) < 2:
            return None
        return sides_test(found[involved.side], found[uninvolved.side], first=first, way=way, purpose=purpose)

    return Examination(plan(), bounds, result)


def examine_opposite(
    exercise: PlannedExercise, agonist: Subject, opposite: Subject, step_s: float, bounds: Bounds
) -> Examination:
    """The agonist at the asked effort, three times, while the opposite is watched. Both references must be known."""
    holds: list[Holding] = []

    def plan() -> Iterator[Step]:
        yield Placing([agonist, opposite])
        yield PainAsked()
        for _ in range(OPPOSITE_HOLDS):
            holds.append(Holding(exercise, step_s, [agonist, opposite]))
            yield holds[-1]
            yield Resting(HOLD_REST_S, step_s, [agonist.channel])
        yield PainAsked()

    def result() -> Result | None:
        watched = [(one.opposite_pct, one.index_pct) for one in holds if one.rep is not None and one.rep.held_s > 0]
        return opposite_test(agonist, opposite, exercise.target_pct_mvc, watched)

    return Examination(plan(), bounds, result)


def examine_ladder(
    exercise: PlannedExercise,
    subject: Subject,
    bounds_pct: tuple[float, float],
    step_s: float,
    bounds: Bounds,
    *,
    reference: str = "maximum",
    bands_pct: tuple[float, float] | None = None,
    wanted: float = 0.8,
    pain_every: int = 4,
) -> Examination:
    """At most twelve short holds. Pain is asked every few holds; nothing above `bounds_pct` is ever asked.

    Where the exercise asks for a band, one between `bands_pct` is proposed with the effort.
    """
    low, high = bounds_pct[0], min(bounds_pct[1], exercise.ceiling_pct_mvc)
    tried = replace(exercise, hold_s=min(exercise.hold_s, LONGEST_TRIED_S))
    within = exercise.tolerance_pct_mvc
    ladder: Ladder | BandLadder = Ladder(low, high, wanted)
    if within:
        bands = bands_pct or (within, within)
        ladder = BandLadder(low, high, hold_s=tried.hold_s, tolerance_pct=within, bands_pct=bands, wanted=wanted)

    def plan() -> Iterator[Step]:
        yield Placing([subject])
        yield PainAsked()
        while ladder.ended is None:
            asked = replace(tried, target_pct_mvc=ladder.ask())
            if isinstance(ladder, BandLadder):
                trying = Trying(asked, step_s, [subject])
                yield trying
                ladder.tell(asked.target_pct_mvc, trying.levels_pct)
            else:
                hold = Holding(asked, step_s, [subject])
                yield hold
                ladder.tell(asked.target_pct_mvc, hold.made)
            yield Resting(max(HOLD_REST_S, 2 * tried.hold_s), step_s, [subject.channel])
            if len(ladder.holds) % pain_every == 0 or ladder.ended is not None:
                yield PainAsked()

    exam: Examination

    def result() -> Result | None:
        if exam.ended == "pain":
            ladder.ended = "pain"
        if not ladder.holds:
            return None
        proposal = ladder.proposal
        band = (proposal.tolerance_pct_mvc or within or None) if proposal else None
        return LadderTest(
            muscle=subject.muscle,
            reference=reference,
            holds=tuple(Hold(target_pct_mvc=target, made=made) for target, made in ladder.holds),
            ended=ladder.ended or "stopped",
            target_pct_mvc=proposal.target_pct_mvc if proposal else None,
            tolerance_pct_mvc=band,
            hold_s=exercise.hold_s if proposal and tried.hold_s == exercise.hold_s else None,
            success=round(min(1.0, proposal.success), 3) if proposal else None,
        )

    exam = Examination(plan(), bounds, result)
    return exam
