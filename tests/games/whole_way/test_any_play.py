"""Whatever anybody plays: never more than the day's dose, never above the ceiling, never less rest, never harder after
trouble."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from musclewood.games.engine.rep_events import CueGiven, RepMade, RepMissed, SetFinished
from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import ExerciseBegan, Happening, MuscleTired, Paused, SessionView, Tick
from musclewood.games.running.todays_plan import channels_needed
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template, template_names
from musclewood.profiles.plan.dose import DayPlan, planned
from musclewood.profiles.plan.safety import pain_says_stop
from musclewood.signal.measures.fatigue import Burst
from musclewood.signal.quality.quality import Quality

STEP_S = 0.1  # coarse, so that many plays can be tried
SETS, REPS, HOLD_S, REST_S, SET_REST_S = 2, 2, 0.5, 1.0, 2.0


@cache
def short_order(name: str) -> Prescription:
    """A template whose exercises take seconds, so that a short play meets every rule."""
    order = template(name)
    short = {"sets": SETS, "reps": REPS, "hold_s": HOLD_S, "rest_s": REST_S, "set_rest_s": SET_REST_S}
    return order.model_copy(update={"exercises": tuple(one.model_copy(update=short) for one in order.exercises)})


@dataclass
class Observer:
    """Looks on without the engine's help, and keeps its own account of rest, targets and trouble."""

    order: Prescription
    plan: DayPlan
    quiet_s: float = 0.0
    due_s: float = 0.0
    above_s: float = 0.0
    most_allowed: float | None = None  # the target that must not be exceeded any more, %MVC; least for relaxing

    def tick(self, view: SessionView, levels: tuple[float, ...], readable: bool) -> None:
        if view.exercise is None or view.rep is None or view.paused is not None:
            return
        trained = levels if view.exercise.kind == "paired" else levels[:1]
        still = view.exercise.kind == "relax" or max(trained) <= view.exercise.quiet_pct_mvc / 100.0
        self.quiet_s += STEP_S if readable and still else 0.0
        if (
            view.rep.phase != "effort" or view.exercise.kind == "relax"
        ):  # relaxing asks for no effort that could be too much
            self.above_s = 0.0
        elif readable and trained[0] > view.rep.ceiling:
            self.above_s += STEP_S
        assert self.above_s <= 1.0 + 0.25 + 2 * STEP_S  # the limit, and the short average that is looked through
        self.check_target(view.exercise.exercise_id, view.exercise.kind, 100.0 * view.rep.target)

    def check_range(self, exercise_id: str, target: float) -> None:
        effort = next(one.effort for one in self.order.exercises if one.id == exercise_id)
        assert effort.min_pct_mvc - 1e-9 <= target <= min(effort.max_pct_mvc, effort.ceiling_pct_mvc) + 1e-9

    def check_target(self, exercise_id: str, kind: str, target: float) -> None:
        """What the attempts to come are asked for."""
        self.check_range(exercise_id, target)
        if self.most_allowed is not None:
            if kind == "relax":
                assert target >= self.most_allowed - 1e-9
            else:
                assert target <= self.most_allowed + 1e-9

    def hear(self, session: Session, happened: list[Happening]) -> None:
        for happening in happened:
            what, record = happening.what, happening.record
            if isinstance(what, RepMade | RepMissed):
                self.quiet_s, self.due_s = 0.0, REST_S
                if what.rep.verdict == "unreadable":
                    self.trouble(session)
            elif isinstance(what, SetFinished):
                self.due_s = SET_REST_S
            elif isinstance(what, CueGiven):
                assert self.quiet_s >= self.due_s - 2 * STEP_S
            elif isinstance(what, ExerciseBegan):
                self.quiet_s = self.due_s = 0.0
                if self.most_allowed is not None:
                    self.most_allowed = what.exercise.target_pct_mvc
            elif isinstance(what, MuscleTired) or (isinstance(what, Paused) and what.reason == "sensor"):
                self.trouble(session)
            if isinstance(record, RepRecord):
                self.check_range(record.exercise_id, record.target_pct_mvc)

    def trouble(self, session: Session) -> None:
        view = session.view
        if self.most_allowed is None and view.rep is not None:
            self.most_allowed = 100.0 * view.rep.target
        elif self.most_allowed is None and view.exercise is not None:
            self.most_allowed = view.exercise.target_pct_mvc


LEVELS = st.sampled_from((0.0, 0.0, 0.03, 0.1, 0.2, 0.3, 0.4, 0.5, 0.7, 0.95, 1.3))
HOLDING = st.tuples(st.just("hold"), LEVELS, LEVELS, st.integers(1, 20), st.sampled_from((True,) * 9 + (False,)))
DEEDS = st.one_of(
    st.tuples(st.just("retune"), st.sampled_from((-60.0, -6.0, -2.0, 3.0, 8.0, 90.0))),
    st.tuples(st.just("hurts"), st.sampled_from((0, 1, 2, 2, 3, 4, 5, 8))),
    st.tuples(st.sampled_from(("pause", "resume", "resume", "poor")), st.just(0)),
    st.tuples(st.just("spectrum"), st.floats(0, 12)),
    st.tuples(st.sampled_from(("good rep", "lost rep")), st.integers(0, 3)),
)
PLAYS = st.lists(st.one_of(HOLDING, HOLDING, DEEDS), min_size=1, max_size=30)


def play(order: Prescription, plan: DayPlan, deeds: list[tuple[Any, ...]]) -> None:
    channels = channels_needed(order)
    known = {channel: (3.0, 400.0) for channel in range(channels)}
    session = Session(order, plan, STEP_S, channels, minutes_left=30.0, references=known)
    watcher, told, bursts = Observer(order, plan), [*session.begin(), *session.answer(0)], 0
    good = Quality(0.0, ("good",) * channels, ((),) * channels, ())
    poor = replace(good, verdict=("poor",) * channels)

    def take(happened: list[Happening]) -> None:
        told.extend(happened)
        watcher.hear(session, happened)

    def hold(first: float, second: float, ticks: int, readable: bool = True) -> None:
        for _ in range(ticks):
            if session.finished:
                return
            if session.stage == "choose":
                take(session.answer(session.view.exercise.workshops[0]))
            view = session.view
            exercise = view.exercise
            ours = exercise.channels if exercise else (0,)
            levels = tuple(first if n == ours[0] else second for n in range(channels))
            busy, seen = tuple(level > 0.1 for level in levels), (readable,) * channels
            watcher.tick(view, tuple(levels[n] for n in ours), readable)
            take(session.step(Tick(levels, levels, busy, seen)))

    for _ in range(2):
        take(session.look(good))
    for what, *how in deeds:
        if what == "hold":
            hold(*how)
        elif what == "retune":
            rep = session.view.rep
            take(session.retune((100.0 * rep.target if rep else 30.0) + how[0]))
        elif what == "hurts":
            stops = pain_says_stop(how[0], 0, order.stop) and not session.finished
            if how[0] >= order.stop.pain_lighten:
                watcher.trouble(session)
            take(session.it_hurts(how[0]))
            assert session.finished or not stops
        elif what == "pause":
            take(session.pause())
        elif what == "resume":
            take(session.resume())
        elif what == "poor":
            take(session.look(poor))
        elif what == "spectrum":
            bursts += 1
            take(session.measured(Burst(10.0 * bursts, max(20.0, 120.0 - how[0] * bursts), 100.0)))
        elif rep := session.view.rep:  # a good rep, or one of which the signal is lost
            both = (rep.target, rep.target if rep.kind == "paired" else 0.0)
            hold(*both, 4)
            hold(*both, 4, what == "good rep")
            hold(0.0, 0.0, 10 * how[0])
    take(session.stop())
    check_dose(plan, told)


def check_dose(plan: DayPlan, told: list[Happening]) -> None:
    reps = [one.record for one in told if isinstance(one.record, RepRecord)]
    for exercise in plan.exercises:
        own = [rep for rep in reps if rep.exercise_id == exercise.exercise_id]
        assert len(own) <= exercise.most_attempts
        assert sum(rep.verdict == "counted" for rep in own) <= exercise.sets * exercise.reps
    assert len({(rep.exercise_id, rep.set_number, rep.rep_number) for rep in reps}) == len(reps)


def test_no_play_goes_beyond_what_was_ordered(full: bool) -> None:
    @settings(
        max_examples=10_000 if full else 80,
        deadline=None,
        database=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    @given(st.sampled_from(template_names()), st.integers(0, 2), st.integers(0, 6), PLAYS)
    def check(name: str, first: int, spare: int, deeds: list[tuple[Any, ...]]) -> None:
        order = short_order(name)
        exercises = [planned(order, one) for one in order.exercises]
        exercises = exercises[first % len(exercises) :]
        fitted = tuple(replace(one, most_attempts=SETS * REPS + spare) for one in exercises)
        play(order, DayPlan(order.issued, fitted), deeds)

    check()
