"""A session from the first question to the last: comfort, signal, calibration, exercises, rating.  Pure.

    comfort -> signal -> calibration -> (choose -> exercise -> break)... -> rating -> finished

Time is counted in ticks.  Every call returns what happened; a happening with a record must be written to the journal
before anybody acts on it.  `it_hurts` and `stop` work at any time.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from musclewood.games.engine.endings import NOBODY, Moment, Outcome, Why, ended_by_pain
from musclewood.games.engine.habits import Habits, RestWatch, faint_levels, in_own_time, why_hidden
from musclewood.games.engine.rep_events import ExerciseFinished, RepMade
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.session_events import (
    ExerciseBegan,
    Happening,
    Noted,
    Pause,
    Paused,
    ReferenceFound,
    Resumed,
    SessionOver,
    SessionStage,
    SessionView,
    StageEntered,
    Tick,
)
from musclewood.games.engine.stages import (
    UNMEASURED_UV,
    Calibration,
    ExerciseStage,
    ReferenceRule,
    SignalCheck,
    advice_of,
    easing_of,
    today_alone,
)
from musclewood.profiles.journal.records import PASSED_OVER, InterruptionRecord, RatingRecord
from musclewood.profiles.orders.exercises import KINDS
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import Muscle
from musclewood.profiles.orders.unmeasured import measured_besides
from musclewood.profiles.plan.dose import DayPlan, PlannedExercise
from musclewood.signal.measures.fatigue import Burst
from musclewood.signal.measures.levels import FaintLevel
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.quality.quality import Quality
from musclewood.signal.stream.activation import Reference


@dataclass(frozen=True, slots=True)
class SessionSettings:
    """Waiting times.  All are our choice; the reason stands beside each."""

    good_signal_s: int = 2  # seconds that are not poor before calibration
    signal_patience_s: int = 10  # then a merely poor signal may be accepted
    blind_s: float = 1.0  # without a signal for so long the session pauses
    seeing_s: float = 0.5  # readable again for so long it goes on
    waiting_limit_s: float = 600.0  # nobody answers: nobody is there


class Session:
    """One session of one plan on one source.

    `channels` is the number of channels of the source; `minutes_left` what the day's ceiling leaves.  `references`
    are rest and maximum in µV by channel, known from earlier today; those channels are not calibrated again.
    `habits` is what their own trials told, by channel.
    """

    def __init__(
        self,
        prescription: Prescription,
        plan: DayPlan,
        step_s: float,
        channels: int,
        *,
        minutes_left: float,
        references: Mapping[int, tuple[float, float]] | None = None,
        habits: Mapping[int, Habits] | None = None,
        reference_rule: ReferenceRule = today_alone,
        settings: SessionSettings | None = None,
    ) -> None:
        self._prescription, self._plan, self._step_s = prescription, plan, step_s
        self._channel_count, self._settings = channels, settings or SessionSettings()
        self._limit_s = 60.0 * minutes_left
        self._ticks, self._stage_s = 0, 0.0
        self._stage: SessionStage = "comfort"
        self._known, self._habits = dict(references or {}), dict(habits or {})
        self._reference: Reference | None = None
        self._used = tuple(dict.fromkeys(channel for planned in plan.exercises for channel in planned.channels))
        besides = [one.channel for one in measured_besides(prescription) if self._used and one.channel < channels]
        measured = (*self._used, *besides)  # the other side last
        muscles = [self._muscle(channel) for channel in measured if channel not in self._known]
        self._signal = SignalCheck(measured, self._settings.good_signal_s, self._settings.signal_patience_s)
        self._calibration = Calibration(prescription.calibration, muscles, step_s, reference_rule, besides)
        self._number = 0
        self._exercise: ExerciseStage | None = None
        self._rested_s = 0.0
        self._pain_before: int | None = None
        self._troubled = False  # pain, or a sensor that went silent: nothing may get harder in this session
        self._asked = "pain"
        self._why: Why = "done"  # unless something else ends it
        self._told: Remark | None = None  # what hid an effort that was not asked for
        self._outcome: Outcome | None = None
        self._made = 0
        self._pause: Pause | None = None
        self._pause_began_s = self._blind_s = self._seeing_s = 0.0
        self._advice: str | None = None

    # --- what others see ---------------------------------------------------------------------------------------
    @property
    def time_s(self) -> float:
        """Seconds since the session began, counted in ticks."""
        return self._ticks * self._step_s

    @property
    def stage(self) -> SessionStage:
        return self._stage

    @property
    def finished(self) -> bool:
        return self._stage == "finished"

    @property
    def asked(self) -> str:
        """What the stage `rating` asks for now: 'pain' or 'effort', 0 to 10."""
        return self._asked

    @property
    def view(self) -> SessionView:
        exercise = self._plan.exercises[self._number] if self._number < len(self._plan.exercises) else None
        return SessionView(
            stage=self._stage,
            time_s=self.time_s,
            paused=self._pause,
            advice=self._advice,
            exercise=exercise,
            exercises=len(self._plan.exercises),
            workshop=self._exercise.workshop if self._exercise else None,
            left_s=max(0.0, self._break_s() - self._rested_s) if self._stage == "break" else 0.0,
            signal=self._signal.view if self._stage == "signal" else None,
            calibration=self._calibration.view if self._stage == "calibration" else None,
            rep=self._exercise.engine.view if self._exercise and self._stage == "exercise" else None,
            made=self._made,
            ordered=self._plan.reps,
            ending=self._outcome.ending if self._outcome else None,
            outcome=self._outcome,
            note=self._exercise.engine.note if self._exercise and not self.finished else None,
        )

    # --- what the patient may do -------------------------------------------------------------------------------
    def begin(self) -> list[Happening]:
        return self._enter("comfort")

    def answer(self, value: int | str) -> list[Happening]:
        """Answer what the stage asks: pain or effort from 0 to 10; `choose` a workshop; `signal` to go on as it is.

        Raises ValueError for an answer that the question does not have.  Where nothing is asked, nothing happens.
        """
        match self._stage:
            case "comfort":
                return self._comfort(_zero_to_ten(value))
            case "rating":
                return self._rating(_zero_to_ten(value))
            case "choose":
                return self._choose(str(value))
            case "signal":
                self._signal.waived = self._signal.may_go_on
                return self._after_signal() if self._signal.done else []
            case _:
                return []

    def it_hurts(self, pain: int) -> list[Happening]:
        """Pain during the session: recorded, and at the stop level the end; below it, a pause."""
        if self.finished:
            return []
        pain = _zero_to_ten(pain)
        record = RatingRecord(self.time_s, "pain", pain, "during", self._exercise_id())
        self._felt(pain)
        happened = [*self._break_off(), Happening(Noted(), record)]
        if ended := ended_by_pain(pain, self._pain_before, self._prescription.stop, self._moment()):
            return [*happened, *self._finish(ended)]
        return happened if self._waiting() else [*happened, *self._end_pause(), *self._start_pause("pain")]

    def pause(self) -> list[Happening]:
        if self.finished or self._waiting() or self._pause in ("patient", "pain"):
            return []
        return [*self._break_off(), *self._end_pause(), *self._start_pause("patient")]

    def resume(self) -> list[Happening]:
        return self._end_pause() if self._pause in ("patient", "pain") else []

    def stop(self) -> list[Happening]:
        """The patient has had enough.  What was made stays made."""
        return [] if self.finished else self._finish(Outcome("patient"))

    def sensor_gone(self, note: str) -> list[Happening]:
        """Nothing more will come from the source."""
        return [] if self.finished else self._finish(Outcome("sensor"), note)

    def retune(self, target_pct_mvc: float) -> list[Happening]:
        """Move the effort of the exercise at hand, within the therapist's range; not up once there was any trouble."""
        stage = self._exercise
        if stage is None or stage.done:
            return []
        if self._harder(stage, target_pct_mvc) and (self._troubled or stage.troubled):
            return []
        return stage.told(stage.engine.retune(target_pct_mvc))

    def measured(self, burst: Burst) -> list[Happening]:
        """Take the spectrum of the contraction judged last.  A tired muscle ends its set."""
        return self._exercise.measured(burst) if self._exercise and self._stage == "exercise" else []

    # --- time goes by ------------------------------------------------------------------------------------------
    def look(self, quality: Quality) -> list[Happening]:
        """Take the verdict on one more second of signal."""
        if self._stage == "signal":
            self._signal.take(quality)
            return self._after_signal() if self._signal.done else []
        self._advice = next(iter(advice_of(quality, self._used)), None)
        if self._exercise and self._stage == "exercise" and self._pause is None:
            self._exercise.look(quality)
        return []

    def step(self, tick: Tick) -> list[Happening]:
        """Take one tick of the source."""
        if self.finished:
            return []
        self._ticks += 1
        self._stage_s += self._step_s
        happened = self._watch(tick)
        if self.time_s >= self._limit_s and not self._waiting():
            return [*happened, *self._finish(Outcome("minutes"))]
        if self._waited_too_long():
            silent = self._pause == "sensor"
            return [*happened, *self._finish(Outcome("sensor" if silent else "nobody"), NOBODY)]
        stages: dict[SessionStage, Callable[[Tick], list[Happening]]] = {
            "calibration": self._calibrate,
            "exercise": self._exercise_tick,
            "break": self._break_tick,
        }
        handler = stages.get(self._stage)
        return [*happened, *handler(tick)] if handler else happened

    def _calibrate(self, tick: Tick) -> list[Happening]:
        if self._pause in ("patient", "pain"):
            return []
        happened = self._calibration.step(tick, self.time_s)
        if self._calibration.failed:
            return [*happened, *self._finish(Outcome("no-maximum", told=self._calibration.why))]
        return [*happened, *self._after_calibration()] if self._calibration.done else happened

    def _exercise_tick(self, tick: Tick) -> list[Happening]:
        stage = self._exercise
        assert stage is not None
        happened = stage.step(tick, paused=self._pause is not None)
        self._made += sum(isinstance(each.what, RepMade) for each in happened)
        self._reference = stage.reference or self._reference
        return [*happened, *self._after_exercise(happened)] if stage.done else happened

    def _break_tick(self, tick: Tick) -> list[Happening]:
        quiet = not any(tick.contracting[channel] for channel in self._used)
        self._rested_s += self._step_s if quiet and self._pause is None else 0.0
        return self._next_exercise() if self._rested_s >= self._break_s() else []

    # --- from stage to stage -----------------------------------------------------------------------------------
    def _enter(self, stage: SessionStage) -> list[Happening]:
        self._stage, self._stage_s = stage, 0.0
        return [Happening(StageEntered(stage))]

    def _comfort(self, pain: int) -> list[Happening]:
        self._pain_before = pain
        self._felt(pain)
        happened = [Happening(Noted(), RatingRecord(self.time_s, "pain", pain, "before"))]
        if ended := ended_by_pain(pain, None, self._prescription.stop, "before"):
            return [*happened, *self._finish(ended)]
        if not self._plan.exercises:
            return [*happened, *self._finish(Outcome("nothing"))]
        return [*happened, *self._enter("signal")]

    def _after_signal(self) -> list[Happening]:
        happened = [*self._enter("calibration"), *self._calibration.begin()]
        return [*happened, *self._after_calibration()] if self._calibration.done else happened

    def _after_calibration(self) -> list[Happening]:
        found = {**self._known, **self._calibration.results}
        unused = (0.0, UNMEASURED_UV)
        rest, most = zip(*(found.get(channel, unused) for channel in range(self._channel_count)), strict=True)
        scaled = [Happening(Noted(), record) for record in self._plan.scaling]
        self._reference = Reference(rest, most)
        self._habits |= self._calibration.habits
        return [Happening(ReferenceFound(self._reference)), *scaled, *self._next_exercise()]

    def _next_exercise(self) -> list[Happening]:
        passed = self._pass_over()
        if self._number < len(self._plan.exercises):
            workshops = self._plan.exercises[self._number].workshops
            return [*passed, *(self._enter("choose") if len(workshops) > 1 else self._choose(workshops[0]))]
        return [*passed, *self._finish(Outcome("no-maximum", told=self._told))]

    def _pass_over(self) -> list[Happening]:
        """Leave out exercises whose effort rest would hide: what nobody can see is not asked for, and that is kept."""
        happened = []
        while self._number < len(self._plan.exercises):
            planned = self._in_own_time(self._plan.exercises[self._number])
            assert self._reference is not None, "calibration comes first"
            hidden = why_hidden(planned, self._levels(planned), self._reference, self._habits)
            if hidden is None:
                break
            self._why, self._told = "hidden", hidden
            record = InterruptionRecord(self.time_s, 0.0, PASSED_OVER, planned.exercise_id)
            happened.append(Happening(Noted(), record))
            self._number += 1
        return happened

    def _choose(self, workshop: str) -> list[Happening]:
        planned = self._plan.exercises[self._number]
        if workshop not in planned.workshops:
            raise ValueError(f"{workshop!r} is not among the workshops ordered: {', '.join(planned.workshops)}")
        ordered = next(each for each in self._prescription.exercises if each.id == planned.exercise_id)
        bounds = (ordered.effort.min_pct_mvc, ordered.effort.max_pct_mvc)
        planned = self._in_own_time(planned)
        engine = RepEngine(planned, self._step_s, self.time_s, bounds)
        assert self._reference is not None, "calibration comes first"
        levels = self._levels(planned)
        muscles = {channel: self._muscle(channel) for channel in planned.channels}
        watch = RestWatch(planned, muscles, self._reference, self._step_s, levels)
        self._exercise = ExerciseStage(planned, workshop, engine, easing_of(ordered), levels, watch)
        return [*self._enter("exercise"), Happening(ExerciseBegan(planned, workshop))]

    def _after_exercise(self, happened: Sequence[Happening]) -> list[Happening]:
        reason = next((each.what.reason for each in happened if isinstance(each.what, ExerciseFinished)), "done")
        if reason == "no effort":
            return self._finish(
                Outcome("no-effort", told=Remark.HIDDEN if self._exercise and self._exercise.faint else None)
            )
        if reason == "not relaxed":
            self._why = "not-relaxed"
            return self._enter("rating")
        if reason == "ceiling":
            self._why = "attempts"
        self._number += 1
        self._rested_s = 0.0
        passed = self._pass_over()
        return [*passed, *self._enter("break" if self._number < len(self._plan.exercises) else "rating")]

    def _rating(self, value: int) -> list[Happening]:
        if self._asked == "pain":
            self._asked = "effort"
            happened = [Happening(Noted(), RatingRecord(self.time_s, "pain", value, "after"))]
            ended = ended_by_pain(value, self._pain_before, self._prescription.stop, "after")
            return [*happened, *self._finish(ended)] if ended else happened
        happened = [Happening(Noted(), RatingRecord(self.time_s, "effort", value, "after"))]
        return [*happened, *self._finish(Outcome(self._why, told=self._told))]

    def _finish(self, outcome: Outcome, note: str | None = None) -> list[Happening]:
        """`note` is for the journal, where more is known than the outcome says."""
        happened = self._end_pause()
        if self._exercise and not self._exercise.done:
            happened += self._exercise.told(self._exercise.engine.give_up(outcome.ending))
        self._outcome = outcome
        return [*happened, *self._enter("finished"), Happening(SessionOver(outcome.ending, note or outcome.note))]

    # --- pauses ------------------------------------------------------------------------------------------------
    def _watch(self, tick: Tick) -> list[Happening]:
        """Pause when the sensor has gone silent, go on when it speaks again."""
        if self._stage not in ("calibration", "exercise", "break"):
            return []
        seen = all(tick.readable[channel] for channel in self._used)
        self._blind_s = 0.0 if seen else self._blind_s + self._step_s
        self._seeing_s = self._seeing_s + self._step_s if seen else 0.0
        if self._pause is None and self._blind_s >= self._settings.blind_s:
            return self._start_pause("sensor", self._blind_s)
        if self._pause == "sensor" and self._seeing_s >= self._settings.seeing_s:
            return self._end_pause()
        return []

    def _start_pause(self, reason: Pause, since_s: float = 0.0) -> list[Happening]:
        self._pause, self._pause_began_s = reason, self.time_s - since_s
        self._troubled = self._troubled or reason == "sensor"
        return [Happening(Paused(reason, self._advice))]

    def _end_pause(self) -> list[Happening]:
        if self._pause is None:
            return []
        reason, self._pause = self._pause, None
        record = InterruptionRecord(self._pause_began_s, self.time_s - self._pause_began_s, reason, self._advice)
        return [Happening(Resumed(reason), record)]

    def _break_off(self) -> list[Happening]:
        stage = self._exercise
        return stage.told(stage.engine.interrupt()) if stage and not stage.done else []

    def _waiting(self) -> bool:
        """The stages in which nothing is asked of the muscle."""
        return self._stage in ("comfort", "signal", "choose", "rating")

    def _waited_too_long(self) -> bool:
        limit_s = self._settings.waiting_limit_s
        paused_s = self.time_s - self._pause_began_s if self._pause else 0.0
        return paused_s > limit_s or (self._waiting() and self._stage_s > limit_s)

    def _felt(self, pain: int) -> None:
        self._troubled = self._troubled or pain >= self._prescription.stop.pain_lighten

    def _moment(self) -> Moment:
        return "after" if self._stage == "rating" else "before" if self._stage in ("comfort", "signal") else "during"

    def _harder(self, stage: ExerciseStage, target_pct_mvc: float) -> bool:
        more = target_pct_mvc - stage.engine.target_pct_mvc
        return more * KINDS[stage.exercise.kind].traits.harder > 0.0

    # --- small answers -----------------------------------------------------------------------------------------
    def _muscle(self, channel: int) -> Muscle:
        return next(muscle for muscle in self._prescription.muscles if muscle.channel == channel)

    def _exercise_id(self) -> str | None:
        return self._exercise.exercise.exercise_id if self._exercise else None

    def _break_s(self) -> float:
        """Between two exercises the muscle rests as long as between two sets of the one before."""
        return self._exercise.exercise.set_rest_s if self._exercise else 0.0

    def _in_own_time(self, planned: PlannedExercise) -> PlannedExercise:
        return in_own_time(planned, self._prescription.calibration, self._habits)

    def _levels(self, planned: PlannedExercise) -> Mapping[int, FaintLevel]:
        assert self._reference is not None, "calibration comes first"
        return faint_levels(planned, self._reference, self._habits, self._step_s)


def _zero_to_ten(value: int | str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 10:
        raise ValueError(f"an answer is a whole number from 0 to 10, not {value!r}")
    return value
