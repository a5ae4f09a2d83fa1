"""The stages of a session that listen to the muscle: signal check, calibration, exercise.  Pure, one tick at a time."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, fields

from musclewood.games.engine.habits import Habits, RestWatch, habits_of
from musclewood.games.engine.rep_events import (
    EffortRetuned,
    ExerciseFinished,
    Reading,
    RepEvent,
    RepMade,
    RepMissed,
    SetFinished,
)
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.session_events import (
    CalibrationBegan,
    CalibrationView,
    Happening,
    MuscleTired,
    Noted,
    SignalView,
    Tick,
)
from musclewood.games.engine.set_figures import SetFigures
from musclewood.profiles.journal.records import CUT_SHORT_TIRED, CalibrationRecord, RepRecord, ScalingRecord, SetRecord
from musclewood.profiles.orders.exercises import KINDS, AnyExercise
from musclewood.profiles.orders.reference import MAXIMUM, name_of
from musclewood.profiles.orders.tables import CalibrationOrder, Muscle
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.profiles.plan.reasons import Change
from musclewood.signal.measures.calibration import (
    LATEST_START_S,
    CalibrationResult,
    CalibrationRun,
    CalibrationSettings,
)
from musclewood.signal.measures.fatigue import Burst
from musclewood.signal.measures.levels import FaintLevel
from musclewood.signal.quality.quality import Quality
from musclewood.signal.stream.activation import Reference

UNMEASURED_UV = 1e6  # stands for the maximum of a channel nobody uses, so that it reads as no activation
STUCK_S = 120.0  # beyond the ordered rest without any progress: nobody squeezes, or the muscle will not rest
EASE_AFTER = (
    3  # so many attempts in a row that were too weak or too short: less is asked for; too strong: more is allowed
)
ANSWERED_S = 8.0  # beside the time that a person takes to start: for the slowest rise, and until a level shows
MISSED_BY = {"weak": "under", "short": "under", "over": "over"}  # which verdicts are helped alike
TRIES = 2  # a calibration that fails is tried once more before the day is given up

ReferenceRule = Callable[[Muscle, float, float, float], float]
"""Today's reference in µV for (muscle, rest_uv, mvc_uv, coefficient of variation)."""


def today_alone(muscle: Muscle, rest_uv: float, mvc_uv: float, cv: float) -> float:
    """The reference where nothing is known of earlier days: what was reached today."""
    return mvc_uv


class SignalCheck:
    """Waits for some seconds in a row that are not poor on every channel that the session uses."""

    def __init__(self, channels: tuple[int, ...], wanted_s: int, patience_s: int) -> None:
        self._channels, self._wanted_s, self._patience_s = channels, wanted_s, patience_s
        self._good_s = self._seconds = 0
        self._last: Quality | None = None
        self.waived = False

    def take(self, quality: Quality) -> None:
        """One more second was looked at."""
        self._last = quality
        self._seconds += 1
        poor = any(quality.verdict[channel] == "poor" for channel in self._channels)
        self._good_s = 0 if poor else self._good_s + 1

    @property
    def done(self) -> bool:
        return self.waived or self._good_s >= self._wanted_s

    @property
    def may_go_on(self) -> bool:
        """A poor signal may be accepted after a while, but not one that is no signal at all."""
        return self._seconds >= self._patience_s and "contact" not in self._fault_names()

    @property
    def view(self) -> SignalView:
        last = self._last
        verdicts = tuple(last.verdict[channel] if last else "" for channel in self._channels)
        return SignalView(self._channels, verdicts, advice_of(last, self._channels), self.may_go_on)

    def _fault_names(self) -> set[str]:
        if self._last is None:
            return set()
        return {fault.name for channel in self._channels for fault in self._last.faults[channel]}


def advice_of(quality: Quality | None, channels: Sequence[int]) -> tuple[str, ...]:
    """The faults of these channels by name, the strongest first; what to do about each stands under `advice`."""
    if quality is None:
        return ()
    faults = [fault for channel in channels for fault in quality.faults[channel]]
    faults.sort(key=lambda fault: -fault.strength)
    return tuple(dict.fromkeys(fault.name for fault in faults))


class Calibration:
    """Rest and maximum of one muscle after the other.

    `besides` are channels that nothing afterwards depends on: one that cannot be measured there is passed over.
    """

    def __init__(
        self,
        order: CalibrationOrder,
        muscles: Sequence[Muscle],
        step_s: float,
        rule: ReferenceRule,
        besides: Collection[int] = (),
    ) -> None:
        self._besides = frozenset(besides)
        self._settings = CalibrationSettings(
            rest_s=order.rest_s,
            trials=order.trials,
            trial_s=order.trial_s,
            rest_between_s=order.rest_between_s,
            start_s=LATEST_START_S if order.start_s is None else order.start_s,
            maximal=order.reference == MAXIMUM,
        )
        self._order = order
        self._muscles, self._step_s, self._rule = list(muscles), step_s, rule
        self._number = 0
        self._tries = 0
        self._stuck_s = 0.0
        self._amplitude_uv, self._contracting = 0.0, False
        self.results: dict[int, tuple[float, float]] = {}  # channel -> rest and reference, µV
        self.habits: dict[int, Habits] = {}
        self.failed = False
        self.why: str | None = None  # why it failed, and what to do, in a sentence for the patient
        self._run = self._fresh()

    @property
    def done(self) -> bool:
        return self._number >= len(self._muscles)

    def begin(self) -> list[Happening]:
        return [] if self.done else [Happening(CalibrationBegan(self._muscle.id, self._muscle.channel))]

    def step(self, tick: Tick, time_s: float) -> list[Happening]:
        muscle = self._muscle
        channel = muscle.channel
        self._amplitude_uv, self._contracting = tick.amplitude_uv[channel], tick.contracting[channel]
        events = self._run.step(self._amplitude_uv, self._contracting, tick.readable[channel])
        told = [Happening(event) for event in events]
        self._stuck_s = 0.0 if events else self._stuck_s + self._step_s
        self.failed = self._stuck_s > STUCK_S + self._settings.rest_between_s
        self.why = self._run.note or self.why
        if self.failed and channel in self._besides:
            return [*told, *self._pass_over()]
        if self._run.phase == "failed":
            return [*told, *self._try_again()]
        result = self._run.result
        if self._run.phase != "done" or result is None:
            return told
        record = self._record(muscle, result, time_s)
        self.results[channel] = (record.rest_uv, record.reference_uv)
        self.habits[channel] = habits_of(record)
        self._number, self._tries = self._number + 1, 0
        if not self.done:
            self._run = self._fresh()
        return [*told, Happening(Noted(), record), *self.begin()]

    def _try_again(self) -> list[Happening]:
        self._tries += 1
        self.failed = self._tries >= TRIES
        if self.failed:
            return self._pass_over() if self._muscle.channel in self._besides else []
        self._run = self._fresh()
        return self.begin()

    def _pass_over(self) -> list[Happening]:
        """Go on without a muscle that was only to be measured."""
        self.failed, self._number, self._tries, self._stuck_s = False, self._number + 1, 0, 0.0
        self._run = self._fresh()
        return self.begin()

    @property
    def view(self) -> CalibrationView | None:
        if self.done:
            return None
        muscle, run = self._muscle, self._run
        return CalibrationView(
            muscle=muscle.id,
            muscle_name=muscle.name,
            channel=muscle.channel,
            side=muscle.side,
            number=self._number + 1,
            total=len(self._muscles),
            phase=run.phase,
            left_s=run.left_s,
            trial_number=run.trial_number,
            trials=self._settings.trials,
            best_uv=run.best_uv,
            amplitude_uv=self._amplitude_uv,
            contracting=self._contracting,
            note=run.note,
            reference=name_of(self._order),
        )

    @property
    def _muscle(self) -> Muscle:
        return self._muscles[self._number]

    def _fresh(self) -> CalibrationRun:
        return CalibrationRun(self._settings, self._step_s)

    def _record(self, muscle: Muscle, result: CalibrationResult, time_s: float) -> CalibrationRecord:
        cv = result.cv if math.isfinite(result.cv) else None
        reference_uv = self._rule(muscle, result.rest_uv, result.mvc_uv, cv or 0.0)
        return CalibrationRecord(
            muscle=muscle.id,
            channel=muscle.channel,
            at_s=time_s,
            rest_uv=result.rest_uv,
            mvc_uv=result.mvc_uv,
            cv=cv,
            trials_uv=tuple(result.trials_uv),
            reference_uv=max(reference_uv, 1.01 * result.rest_uv),
            note=result.note,
            reference=name_of(self._order),
            rest_scatter=_known(result.rest_scatter),
            late_start_s=_known(result.start_s),
            late_release_s=_known(result.release_s),
            rest_hidden=_known(result.rest_hidden),
        )


def _known(value: float) -> float | None:
    return round(value, 4) if math.isfinite(value) else None


@dataclass(frozen=True, slots=True)
class Easing:
    """How an exercise may become easier: less effort by a step, a wider band as far as the order allows."""

    step_pct_mvc: float
    widest_pct_mvc: float = 0.0

    def wider(self, tolerance_pct_mvc: float) -> float:
        """The next half-width of the band."""
        return min(self.widest_pct_mvc, tolerance_pct_mvc + self.step_pct_mvc)


def easing_of(ordered: AnyExercise) -> Easing | None:
    """What the therapist leaves to the session; nothing where scaling is off, or stillness is asked."""
    if not ordered.scaling.on or ordered.traits.still:
        return None
    return Easing(ordered.scaling.step_pct_mvc, ordered.scaling.tolerance_max_pct_mvc or 0.0)


class ExerciseStage:
    """One exercise in one workshop: the engine's events, each with what the journal keeps of it."""

    def __init__(
        self,
        exercise: PlannedExercise,
        workshop: str,
        engine: RepEngine,
        easing: Easing | None = None,
        levels: Mapping[int, FaintLevel] | None = None,
        watch: RestWatch | None = None,
    ) -> None:
        """`easing`: how far it may become easier after several misses in a row; None leaves it alone.

        `levels`: channels that are too faint to be detected and are read by their level; `watch` measures rest again.
        """
        self._levels, self._watch = dict(levels or {}), watch
        self.exercise, self.workshop, self.engine = exercise, workshop, engine
        self.attempts = 0
        self.troubled = False  # tired, or not readable all the time: nothing may get harder any more
        self._easing, self._missed_by, self._misses = easing, "", 0
        self._figures = SetFigures(exercise)
        self._blind = Reading((0.0,) * len(exercise.channels), (False,) * len(exercise.channels), False)

    @property
    def done(self) -> bool:
        return self.engine.done

    @property
    def faint(self) -> bool:
        """Whether a muscle of it is read by its level, because it is too weak to be detected."""
        return bool(self._levels)

    @property
    def reference(self) -> Reference | None:
        """What activation is measured against now, as far as rest was measured again."""
        return self._watch.reference if self._watch else None

    def reading(self, tick: Tick) -> Reading:
        channels, levels = self.exercise.channels, self._levels
        return Reading(
            tuple(levels[one].activation if one in levels else tick.activation[one] for one in channels),
            tuple(levels[one].contracting if one in levels else tick.contracting[one] for one in channels),
            all(tick.readable[channel] for channel in channels),
        )

    def step(self, tick: Tick, paused: bool) -> list[Happening]:
        """Take one tick; while paused the engine is blind and all its clocks stand still."""
        told = self._watch.step(tick, self._resting, self.engine.now_s) if self._watch and not paused else []
        for channel, level in self._levels.items():
            readable = tick.readable[channel] and not paused
            level.step(tick.amplitude_uv[channel], readable, self._expected, tick.settled)
        reading = self._blind if paused else self.reading(tick)
        if not paused:
            self._figures.tick(reading, self.engine.phase == "effort")
        happened = self.told(self.engine.step(reading))
        return [*told, *happened, *self._eased()] if happened else told

    @property
    def _resting(self) -> bool:
        return self.engine.phase in ("release", "rest", "set rest")

    @property
    def _expected(self) -> bool:
        """Whether an effort is under way or due: much later than the cue, rest is as likely to show what seems one."""
        engine, due_s = self.engine, self.exercise.start_s + ANSWERED_S
        return engine.phase == "effort" or (engine.phase == "ready" and engine.waited_s <= due_s)

    def _eased(self) -> list[Happening]:
        """Ask for less after too much several times in a row, allow more after too little; never ask for more."""
        if self._misses < EASE_AFTER or self._easing is None or self.engine.done:
            return []
        self._misses = 0
        if self._missed_by == "over":
            return self.told(self.engine.widen(self._easing.wider(self.engine.tolerance_pct_mvc)))
        return self.told(self.engine.retune(self.engine.target_pct_mvc - self._easing.step_pct_mvc))

    def look(self, quality: Quality) -> None:
        """The verdict on one more second."""
        self._figures.second(quality)

    def measured(self, burst: Burst) -> list[Happening]:
        """The spectrum of the attempt just judged.  Enough decline ends the set."""
        self._figures.contraction(burst)
        if self.engine.done or self.engine.tired or not self._figures.tired:
            return []
        self.engine.tire()
        self.troubled = True
        return [Happening(MuscleTired(self.exercise.exercise_id, self._figures.decline_pct or 0.0))]

    def told(self, events: Sequence[RepEvent]) -> list[Happening]:
        return [Happening(event, self._record(event, events)) for event in events]

    def _record(self, event: RepEvent, events: Sequence[RepEvent]) -> RepRecord | SetRecord | ScalingRecord | None:
        exercise = self.exercise
        if isinstance(event, RepMade | RepMissed):
            self.attempts += 1
            verdict = event.rep.verdict
            missed_by = MISSED_BY.get(verdict, "")
            self._misses = (self._misses if missed_by == self._missed_by else 0) + 1 if missed_by else 0
            self._missed_by = missed_by
            self.troubled = self.troubled or verdict == "unreadable"
            return rep_record(event, exercise, self.workshop)
        if isinstance(event, SetFinished):
            figures, self._figures = self._figures, SetFigures(exercise)
            reason = next((other.reason for other in events if isinstance(other, ExerciseFinished)), "attempts")
            return SetRecord(
                exercise_id=exercise.exercise_id,
                set_number=event.set_number,
                reps_ordered=event.reps,
                reps_counted=event.made,
                attempts=event.attempts,
                start_s=event.start_s,
                end_s=event.end_s,
                cut_short=_why_short(event, reason) if event.made < event.reps else None,
                median_frequency_decline_pct=figures.decline_pct,
                cocontraction_pct=figures.cocontraction_pct,
                readable_share=figures.readable_share,
                quality=figures.quality,
            )
        if isinstance(event, EffortRetuned):
            return retuned_record(event, exercise)
        return None


def _why_short(event: SetFinished, reason: str) -> str:
    """Why a set ended before its reps were made; `attempts` if it was tried as often as is sensible."""
    if event.tired:
        return CUT_SHORT_TIRED
    return "attempts" if reason == "done" else reason


def rep_record(event: RepMade | RepMissed, exercise: PlannedExercise, workshop: str) -> RepRecord:
    """A judged rep as the journal keeps it."""
    rep = event.rep
    figures = {field.name: getattr(rep, field.name) for field in fields(rep)}
    return RepRecord(exercise_id=exercise.exercise_id, kind=exercise.kind, workshop=workshop, **figures)


def retuned_record(event: EffortRetuned, exercise: PlannedExercise) -> ScalingRecord:
    """A target moved, or a band widened, during the session."""
    if event.wider_pct_mvc is not None:
        return _widened_record(event.target_pct_mvc, event.wider_pct_mvc, exercise)
    less = event.target_pct_mvc < event.before_pct_mvc
    easier = less is (KINDS[exercise.kind].traits.harder > 0)
    return ScalingRecord(
        exercise_id=exercise.exercise_id,
        target_from_pct_mvc=event.before_pct_mvc,
        target_to_pct_mvc=event.target_pct_mvc,
        tolerance_from_pct_mvc=exercise.tolerance_pct_mvc,
        tolerance_to_pct_mvc=exercise.tolerance_pct_mvc,
        rest_from_s=exercise.rest_s,
        rest_to_s=exercise.rest_s,
        predicted_success=None,
        reason_patient=(Change.EASIER_NOW if easier else Change.HARDER_NOW).value,
        reason_therapist=f"Target moved from {event.before_pct_mvc:.0f} to {event.target_pct_mvc:.0f} % of "
        "the reference during the session, within the ordered range.",
    )


def _widened_record(
    target_pct_mvc: float, wider_pct_mvc: tuple[float, float], exercise: PlannedExercise
) -> ScalingRecord:
    before, after = wider_pct_mvc
    return ScalingRecord(
        exercise_id=exercise.exercise_id,
        target_from_pct_mvc=target_pct_mvc,
        target_to_pct_mvc=target_pct_mvc,
        tolerance_from_pct_mvc=before,
        tolerance_to_pct_mvc=after,
        rest_from_s=exercise.rest_s,
        rest_to_s=exercise.rest_s,
        predicted_success=None,
        reason_patient=Change.EASIER_NOW.value,
        reason_therapist=f"Band widened from ± {before:.0f} to ± {after:.0f} % of the reference during the "
        "session, within the ordered range.",
    )
