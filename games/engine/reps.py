"""The rep engine: the only judge of repetitions.  Pure; one `step` per tick of activation.

    release -> ready -> effort -> release -> rest -> ready -> ...      (set rest after the last rep of a set)

A rep is counted at the moment its time in the band is complete.  The rest clock runs only while the muscle is readable
and quiet, and starts again after any contraction, so that no play can undercut a rest.  Wherever somebody could be
stuck there is a time limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from musclewood.games.engine.judging import SMOOTHING_S, Aim, Attempt, RestAttempt, aim_of
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.looking import Look
from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortRetuned,
    EffortStarted,
    ExerciseFinished,
    JudgedRep,
    Phase,
    Reading,
    RepEvent,
    RepMade,
    RepMissed,
    RepNote,
    RepView,
    RestEnded,
    RestStarted,
    SetFinished,
    veiled,
)
from musclewood.profiles.journal.records import Verdict

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

__all__ = [
    "CueGiven",
    "EffortRetuned",
    "EffortStarted",
    "ExerciseFinished",
    "JudgedRep",
    "Reading",
    "RepEngine",
    "RepEvent",
    "RepMade",
    "RepMissed",
    "RepView",
    "RestEnded",
    "RestStarted",
    "SetFinished",
]

# All of these are our choice; the reason stands beside each.
END_GRACE_S = 0.3  # a dip shorter than this does not end a contraction
TWITCH_S = 0.25  # a shorter stir during rest is no attempt; the rest clock stands still meanwhile
CUE_LIMIT_S = 30.0  # a cue unanswered for so long is a missed rep
UNANSWERED_LIMIT = 3  # so many in a row: nobody is there
RELEASE_LIMIT_S = 60.0  # a muscle that will not rest for so long gets no further rep today
LEAD_S = 2.0  # `track` and `relax` begin by themselves, this long after the cue


@dataclass(slots=True)
class _Tally:
    """How far the set at hand has come."""

    number: int
    start_s: float
    made: int = 0
    cued: int = 0
    in_rest: int = 0

    @property
    def attempts(self) -> int:
        return self.cued + self.in_rest

    def full(self, reps: int) -> bool:
        """All made; or tried so often that more would be more work than was ordered."""
        return self.made >= reps or self.cued >= max(2 * reps, reps + 2) or self.in_rest >= reps + 5


class RepEngine:
    """Leads one exercise through its sets and judges every attempt.

    `start_s` is the session time before the first tick; ticks are `step_s` apart, also those without a readable signal.
    `effort_range_pct_mvc` is what the therapist allows `retune` to choose from; without it the target stays.
    """

    def __init__(
        self,
        planned: PlannedExercise,
        step_s: float,
        start_s: float = 0.0,
        effort_range_pct_mvc: tuple[float, float] | None = None,
    ) -> None:
        target = min(planned.target_pct_mvc, planned.ceiling_pct_mvc)
        self._range = effort_range_pct_mvc or (target, target)
        self._planned, self._step_s, self._start_s = planned, step_s, start_s
        self._kind = OF_KIND[planned.kind]
        self._traits = self._kind.traits
        self._aim: Aim = aim_of(planned, target)
        self._begins_itself = self._traits.begins_itself
        self._lead_s = max(LEAD_S, planned.start_s)
        self._trained = self._traits.trained
        self._look = Look(len(planned.channels), step_s)
        self._ticks = 0
        self._phase: Phase = "release"
        self._phase_s = self._still_s = self._undetected_s = 0.0  # in the phase; without work; without a contraction
        self._waited_s = 0.0  # for the attempt at hand, since its cue
        self._rest_s, self._rested_s, self._between_sets = 0.0, 0.0, False  # nothing to rest from before the first rep
        self._attempt: Attempt | None = None
        self._set = _Tally(1, start_s)
        self._made_before = self._attempts_before = self._unanswered = 0
        self._last_verdict: Verdict | None = None
        self._judged_s = math.inf  # since an attempt was judged
        self._let_go = True  # whether the muscle has been still since then, or was so when it was judged
        self._tired = False
        self._note: RepNote | None = None
        self._unseen = False  # the rep at hand is done with the door closed

    # --- what others see ---------------------------------------------------------------------------------------
    @property
    def done(self) -> bool:
        return self._phase == "done"

    @property
    def phase(self) -> Phase:
        return self._phase

    @property
    def waited_s(self) -> float:
        """Since the cue, while it is waited for an effort."""
        return self._phase_s if self._phase == "ready" else self._waited_s

    @property
    def tired(self) -> bool:
        """The set at hand is to end because the muscle is tired."""
        return self._tired

    @property
    def note(self) -> RepNote | None:
        return self._note

    @property
    def target_pct_mvc(self) -> float:
        """What the attempts to come are asked for."""
        return 100.0 * self._aim.target

    @property
    def tolerance_pct_mvc(self) -> float:
        """Half the width of the band that is asked for."""
        return self._planned.tolerance_pct_mvc

    @property
    def now_s(self) -> float:
        """Session time at the end of the tick last taken."""
        return self._start_s + self._ticks * self._step_s

    @property
    def view(self) -> RepView:
        aim, planned = self._aim, self._planned
        attempt = self._attempt if self._phase == "effort" else None
        second = self._look.level[1] if len(self._look.level) > 1 else None
        view = RepView(
            kind=self._kind.name,
            phase=self._phase,
            set_number=self._set.number,
            sets=planned.sets,
            rep_number=min(self._set.made + 1, planned.reps),
            reps=planned.reps,
            made=self._set.made,
            hold_s=aim.hold_s,
            held_s=attempt.earned_s if attempt else 0.0,
            effort_s=attempt.elapsed_s if attempt else 0.0,
            left_s=self._left_s(),
            activation=self._look.shown,
            level=self._look.level,
            target=aim.target,
            low=aim.low,
            high=aim.high,
            ceiling=aim.ceiling,
            in_band=attempt.earns(self._look.level) if attempt else aim.low <= self._look.level[0] <= aim.high,
            over=any(self._look.level[one] > self._most_now(attempt) for one in self._trained),
            quiet=self._quiet(),
            readable=self._look.reading.readable,
            last_verdict=self._last_verdict,
            pattern_target=aim.pattern_at(attempt.elapsed_s if attempt else 0.0) if aim.pattern else None,
            opposite=second if self._traits.partner == "opposite" else None,
            opposite_ceiling=aim.opposite_ceiling,
            difference=self._look.level[0] - second if second is not None and len(self._trained) > 1 else None,
            difference_limit=aim.difference,
            quiet_below=aim.quiet,
            note=self._note,
            at_least=aim.at_least,
            unseen=self._unseen and self._phase in ("ready", "effort"),
            own=aim.own,
        )
        return veiled(view)

    # --- what others may do ------------------------------------------------------------------------------------
    def step(self, reading: Reading) -> list[RepEvent]:
        """Take one tick.  After the exercise is done this does nothing."""
        if self.done:
            return []
        self._ticks += 1
        # A brisk effort and a pattern are followed as they come: there lateness would cost more than noise.
        self._look.take(reading, holding=self._planned.rise_s is None and not self._aim.pattern)
        if not self._look.reading.readable:
            return self._blind()
        self._phase_s += self._step_s
        self._judged_s += self._step_s
        self._still_s = 0.0 if self._working() else self._still_s + self._step_s
        detected = any(self._look.reading.contracting[n] for n in self._trained)
        self._undetected_s = 0.0 if detected else self._undetected_s + self._step_s
        self._let_go = self._let_go or self._still_s >= END_GRACE_S
        match self._phase:
            case "release":
                return self._release()
            case "ready":
                return self._ready()
            case "effort":
                return self._effort()
            case _:
                return self._rest()

    def retune(self, target_pct_mvc: float) -> list[RepEvent]:
        """Move the target for the attempts to come; what lies outside the therapist's range is brought to its edge."""
        before, (lowest, highest) = 100.0 * self._aim.target, self._range
        target = max(min(target_pct_mvc, highest, self._planned.ceiling_pct_mvc), lowest)
        if math.isclose(target, before, abs_tol=1e-9):
            return []
        self._aim = aim_of(self._planned, target)
        if target < before and not self._traits.still:
            self._note = self._note or "easier"
        return [EffortRetuned(target, before)]

    def widen(self, tolerance_pct_mvc: float) -> list[RepEvent]:
        """Widen the band for the attempts to come to so much to both sides; never narrower, nor beyond the ceiling."""
        before = self._planned.tolerance_pct_mvc
        if self._aim.at_least or tolerance_pct_mvc <= before:
            return []
        self._planned = replace(self._planned, tolerance_pct_mvc=tolerance_pct_mvc)
        self._aim = aim_of(self._planned, self.target_pct_mvc)
        self._note = self._note or "easier"
        return [EffortRetuned(self.target_pct_mvc, self.target_pct_mvc, (before, tolerance_pct_mvc))]

    def tire(self) -> None:
        """The muscle is tired: no further rep in this set.  What was made stays made; the rest between sets follows."""
        self._tired, self._note = True, "tired"

    def interrupt(self) -> list[RepEvent]:
        """Break off for a pause: an attempt in the making is judged as it stands, and a rest is due."""
        return self._judge(self._attempt.verdict_released()) if self._attempt else []

    def give_up(self, reason: str) -> list[RepEvent]:
        """End the exercise now.  An attempt in the making is judged as it stands; `sensor` makes it unreadable."""
        if self.done:
            return []
        events: list[RepEvent] = []
        if self._attempt is not None:
            events += self._judge("unreadable" if reason == "sensor" else self._attempt.verdict_released())
        return [*events, *self._finish(reason)]

    # --- one tick in each phase --------------------------------------------------------------------------------
    def _blind(self) -> list[RepEvent]:
        """Without a readable signal the clocks stand still, and a rep in the making is soon lost."""
        self._still_s = 0.0
        if self._attempt is None:
            return []
        self._attempt.lose()
        verdict = self._attempt.verdict_now()
        return self._judge(verdict) if verdict else []

    def _release(self) -> list[RepEvent]:
        if not self._resting():
            return self._finish("not relaxed") if self._phase_s > RELEASE_LIMIT_S else []
        full = self._tired or self._set.full(self._planned.reps)
        if self._exhausted() and not (full and self._set.number >= self._planned.sets):
            return self._finish("ceiling")
        if not full:
            return self._start_rest() if self._rest_s > 0.0 else self._cue()
        if self._set.number >= self._planned.sets:
            return self._finish("done")
        return [self._close_set(), *self._start_rest()]

    def _exhausted(self) -> bool:
        """Made and missed reps together have come to what the day allows."""
        return 0 < self._planned.most_attempts <= self._attempts_before + self._set.attempts

    def _ready(self) -> list[RepEvent]:
        if self._begins_itself:
            return self._begin() if self._phase_s >= self._lead_s else []
        if self._working():
            return self._begin()
        if self._phase_s < CUE_LIMIT_S + self._planned.start_s:
            return []
        self._attempt = Attempt(self._aim, self._step_s, self.now_s)
        return self._judge("weak")

    def _effort(self) -> list[RepEvent]:
        attempt = self._attempt
        assert attempt is not None
        attempt.step(self._look.reading.activation, self._look.level)
        verdict = attempt.verdict_now()
        if verdict is None and not self._begins_itself and self._still_s >= END_GRACE_S:
            if self._undetected_s >= attempt.elapsed_s and self._was_stir(attempt):
                self._attempt = None
                self._enter("ready")
                self._phase_s = self._waited_s + attempt.elapsed_s  # stirs again and again hold up no cue
                return []
            verdict = attempt.verdict_released()
        return self._judge(verdict) if verdict else []

    def _rest(self) -> list[RepEvent]:
        if isinstance(self._attempt, RestAttempt):
            return self._restless(self._attempt)
        if self._resting():
            self._rested_s += self._step_s
            return [RestEnded(), *self._cue()] if self._rested_s >= self._rest_s - self._step_s / 2 else []
        if self._working():
            # Still letting go, which takes some people long, is no failure. Who was still and works again is at work.
            if not self._let_go and self._judged_s < self._planned.release_s:
                self._enter("release")
                return []
            self._attempt = RestAttempt(self._aim, self._step_s, self.now_s - self._step_s, self._look.before)
            self._attempt.step(self._look.reading.activation, self._look.level)
        return self._finish("not relaxed") if self._phase_s - self._rested_s > RELEASE_LIMIT_S else []

    def _restless(self, attempt: RestAttempt) -> list[RepEvent]:
        attempt.step(self._look.reading.activation, self._look.level)
        if self._still_s >= END_GRACE_S and (attempt.still_rest or self._was_stir(attempt)):
            self._attempt = None
            return []
        verdict = attempt.verdict_now() or (attempt.verdict_released() if self._still_s >= END_GRACE_S else None)
        return self._judge(verdict) if verdict else []

    # --- steps from one phase to the next ----------------------------------------------------------------------
    def _enter(self, phase: Phase) -> None:
        self._phase, self._phase_s = phase, 0.0

    def _cue(self) -> list[RepEvent]:
        self._enter("ready")
        self._unseen = self._due_unseen()
        return [CueGiven(self._set.number, self._set.attempts + 1)]

    def _due_unseen(self) -> bool:
        """Whether the door is closed for the next attempt: spread evenly over all of them, never the first."""
        share, number = self._planned.unseen_share, self._attempts_before + self._set.attempts
        return math.floor((number + 1) * share) > math.floor(number * share)

    def _begin(self) -> list[RepEvent]:
        self._waited_s = self._phase_s
        self._enter("effort")
        self._note = None
        self._attempt = self._kind.attempt(self._aim, self._step_s, self.now_s - self._step_s, self._look.before)
        self._attempt.step(self._look.reading.activation, self._look.level)
        return [EffortStarted(self._set.number, self._set.attempts + 1)]

    def _judge(self, verdict: Verdict) -> list[RepEvent]:
        """Close the attempt in the making; afterwards the muscle must let go."""
        attempt, at_rest = self._attempt, self._phase in ("rest", "set rest")
        assert attempt is not None
        self._attempt = None
        self._set.made += verdict == "counted"
        self._set.in_rest += at_rest
        self._set.cued += not at_rest
        if not at_rest:
            self._unanswered = self._unanswered + 1 if attempt.idle and not self._traits.still else 0
            self._rest_s, self._between_sets = self._planned.rest_s, False
        tail_s = 0.0 if self._begins_itself else min(self._still_s, attempt.elapsed_s)
        rep = attempt.judged(verdict, self._set.number, self._set.attempts, tail_s)
        if self._unseen and not at_rest:
            rep = replace(rep, unseen=True)
        self._unseen = False
        self._last_verdict, self._judged_s, self._let_go = verdict, 0.0, self._still_s >= END_GRACE_S
        self._enter("release")
        event: RepEvent = RepMade(rep) if verdict == "counted" else RepMissed(rep)
        return [event, *(self._finish("no effort") if self._unanswered >= UNANSWERED_LIMIT else [])]

    def _start_rest(self) -> list[RepEvent]:
        self._enter("set rest" if self._between_sets else "rest")
        self._rested_s = 0.0
        return [RestStarted(self._rest_s)]

    def _close_set(self) -> SetFinished:
        tally = self._set
        self._made_before += tally.made
        self._attempts_before += tally.attempts
        self._set = _Tally(tally.number + 1, self.now_s)
        self._rest_s, self._between_sets = max(self._planned.set_rest_s, self._planned.rest_s), True
        tired, self._tired = self._tired and tally.made < self._planned.reps, False
        reps, spent = self._planned.reps, tally.attempts
        return SetFinished(tally.number, reps, tally.made, spent, tally.start_s, self.now_s, tired)

    def _finish(self, reason: str) -> list[RepEvent]:
        events: list[RepEvent] = []
        if self._set.attempts:
            last = self._set.number
            events.append(self._close_set())
            self._set.number = last
        self._attempt = None
        self._enter("done")
        return [*events, ExerciseFinished(self._made_before, reason)]

    # --- looking at the muscle ---------------------------------------------------------------------------------
    def _working(self) -> bool:
        return any(self._look.at_work(channel, self._aim.low) for channel in self._trained)

    def _was_stir(self, attempt: Attempt) -> bool:
        """It was over in a moment. A knock, in which nothing was detected, shows longer by the short average."""
        knock = self._undetected_s >= attempt.elapsed_s
        return attempt.elapsed_s - self._still_s < TWITCH_S + (SMOOTHING_S if knock else 0.0)

    def _quiet(self) -> bool:
        return not self._working() and all(self._look.level[n] <= self._aim.quiet for n in self._trained)

    def _resting(self) -> bool:
        """Rest after staying quiet is time in which the muscle may do as it likes."""
        return self._traits.still or self._quiet()

    def _most_now(self, attempt: Attempt | None) -> float:
        """What a trained muscle should not exceed now: the band's edge, which follows a pattern, or stillness."""
        aim = self._aim
        if self._traits.still:
            return aim.quiet
        return aim.pattern_at(attempt.elapsed_s) + aim.high - aim.target if attempt and aim.pattern else aim.high

    def _left_s(self) -> float:
        if self._phase in ("rest", "set rest"):
            return max(0.0, self._rest_s - self._rested_s)
        return max(0.0, self._lead_s - self._phase_s) if self._phase == "ready" and self._begins_itself else 0.0
