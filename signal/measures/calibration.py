"""Calibration of one channel: rest, then contractions with rest between them that give today's reference.

The contractions are maximal (MVC) or, where a maximum is unwise, a defined submaximal one (RVC). A contraction is found
as it happens; one too faint to be found is read from the time that the cue gave it (`faint_efforts.py`). Pure and per
tick: the caller passes amplitude in, and asks `phase`, `left_s` and `note` what to show.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.measures.faint_efforts import (
    NOISY_REST_UV,
    FaintTrial,
    Rest,
    believed,
    faint_trial,
    nothing_there,
    plateau_of,
)
from musclewood.signal.measures.levels import FAINT_MAXIMUM
from musclewood.signal.measures.plateaus import Plateau, judge_trial
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.measures.spectrum import Vector

Phase = Literal["rest", "trial", "pause", "done", "failed"]
EventKind = Literal[
    "rest done", "trial cued", "trial started", "trial counted", "trial rejected", "one more", "done", "failed"
]

RELEASE_S = 0.15  # our choice: a shorter dip does not end a trial; the shortest real gap seen was 0.56 s
PATIENCE_S = 20.0  # our choice: after so long without a usable tick, say what is wrong
NOT_MAXIMAL = 0.75  # our choice: a trial below this share of the best was not maximal and is set aside
LATEST_START_S = 6.0  # a paretic grip starts 1.9 s after its cue (Seo 2009); thrice that is our choice
SPARE_ATTEMPTS = 3  # our choice: rejected trials may be made again this often

LONGEST_RELEASE_S = 10.0  # our choice: a paretic grip stops 5.0 s late (Seo 2009); the same again for the slowest
FAINT_BELOW = 3.0  # times rest: what is detected at all is detected from here on whatever its rise


@dataclass(frozen=True, slots=True)
class CalibrationSettings:
    """rest_s of quiet; trials of at most trial_s with rest_between_s of quiet between; agreement of the best two.

    Three trials of 3 to 5 s with 30 s and more between them, and a window of 0.5 s, are common practice, no source.
    start_s: so late may a trial start after its cue (a paretic grip: 1.9 s, Seo 2009; thrice that is our choice).
    maximal: whether trials are to be as strong as they can be; otherwise all of them count alike.
    """

    rest_s: float = 6.0
    trials: int = 3
    trial_s: float = 4.0
    rest_between_s: float = 30.0
    window_s: float = 0.5
    max_trials: int = 5
    agreement: float = 0.10
    start_s: float = LATEST_START_S
    maximal: bool = True


@dataclass(frozen=True, slots=True)
class CalibrationEvent:
    """Something happened; value_uv is the trial's best window, reason what there is to say of it."""

    kind: EventKind
    trial_number: int
    value_uv: float | None = None
    reason: Remark | None = None


@dataclass(frozen=True, slots=True)
class CalibrationResult:
    """What was found.

    rest_uv: median amplitude at rest, of a faint maximum also of the rest between trials. mvc_uv: mean over the maximal
    trials of their best window, each without what choosing the highest window adds by chance. low_uv, high_uv: 95 %
    interval of mvc_uv from the scatter of these trials (Student's t on their logarithms), which with three is wide.
    cv: coefficient of variation of the trials used. trials_uv: the best windows as measured, of all trials that
    counted; set_aside: how many of them were not maximal. rejected: why others did not count. note: a caution, or None.
    rest_scatter: SD of the log of the seconds of rest; rest_hidden: the share of them that a coarse converter hid.
    start_s, release_s: how late trials started after the cue and stopped after they should, medians; NaN where none was
    seen.
    """

    rest_uv: float
    mvc_uv: float
    low_uv: float
    high_uv: float
    cv: float
    trials_uv: tuple[float, ...]
    set_aside: int
    rejected: tuple[Remark, ...]
    note: Remark | None
    rest_scatter: float = math.nan
    start_s: float = math.nan
    release_s: float = math.nan
    rest_hidden: float = 0.0


class CalibrationRun:
    """One calibration, tick by tick; `step_s` is the spacing of ticks in seconds.

    A trial begins when the patient contracts after the cue and ends with the release or after `trial_s`. Where nothing
    is seen to begin, the time that the cue gave is judged by its level. Time of rest only passes while the muscle is
    quiet.
    """

    def __init__(self, settings: CalibrationSettings, step_s: float) -> None:
        self.settings = settings
        self.phase: Phase = "rest"
        self.note: Remark | None = None
        self._because: Remark | None = None  # what the trial before has to say, shown until the next one
        self.result: CalibrationResult | None = None
        self._step_s = step_s
        self._resting: list[float] = []
        self._quiet = 0  # ticks of the present rest or pause
        self._waiting = 0  # ticks since anything useful came
        self._was_contracting = True  # a trial needs an onset after the cue
        self._released = 0
        self._amplitude: list[float] = []
        self._readable: list[float] = []
        self._cued: list[float] = []  # amplitude of every tick since the cue ...
        self._cued_readable: list[float] = []
        self._seconds = Rest(step_s)
        self._calm: list[float] = []  # the unbroken stretch of rest under way
        self._plateaus: list[Plateau] = []
        self._faint: list[FaintTrial] = []
        self._rejected: list[Remark] = []
        self._starts_s: list[float] = []
        self._releases_s: list[float] = []
        self._overdue: int | None = 0  # ticks since the muscle should have let go; None once it has

    @property
    def trial_number(self) -> int:
        """Of the trial under way or next, from 1; trials that did not count are not numbered."""
        counted = len(self._counted)
        return counted if self.phase in ("done", "failed") else counted + 1

    @property
    def trying(self) -> bool:
        """Whether a trial is under way."""
        return self.phase == "trial" and bool(self._amplitude)

    @property
    def left_s(self) -> float:
        """Seconds left of the present rest, trial or pause."""
        settings = self.settings
        trial_s = settings.trial_s if self.trying else settings.start_s + settings.trial_s
        whole = {"rest": settings.rest_s, "trial": trial_s, "pause": settings.rest_between_s}
        passed = len(self._amplitude or self._cued) if self.phase == "trial" else self._quiet
        return max(0.0, whole.get(self.phase, 0.0) - passed * self._step_s)

    @property
    def best_uv(self) -> float | None:
        """The best window so far, as measured."""
        return max((plateau.best_uv for plateau in self._counted), default=None)

    @property
    def _counted(self) -> list[Plateau]:
        """The trials that count: those that were detected, and faint ones once they are believed together."""
        scatter = self._seconds.scatter
        faint = self._faint if believed(self._faint, scatter) else []
        return [*self._plateaus, *(plateau_of(trial, scatter, self.settings.trial_s) for trial in faint)]

    def step(self, amplitude_uv: float, contracting: bool, readable: bool) -> list[CalibrationEvent]:
        """Take in one tick."""
        match self.phase:
            case "rest":
                events = self._rest(amplitude_uv, contracting, readable)
            case "trial":
                events = self._trial(amplitude_uv, contracting, readable)
            case "pause":
                events = self._pause(amplitude_uv, contracting, readable)
            case _:
                events = []
        self._was_contracting = contracting
        return events

    def _rest(self, amplitude_uv: float, contracting: bool, readable: bool) -> list[CalibrationEvent]:
        if self._useful(contracting, readable):
            self._resting.append(amplitude_uv)
            self._calm.append(amplitude_uv)
        if self._quiet * self._step_s < self.settings.rest_s - 1e-9:
            return []
        return [CalibrationEvent("rest done", 0, float(np.median(self._resting))), *self._cue()]

    def _pause(self, amplitude_uv: float, contracting: bool, readable: bool) -> list[CalibrationEvent]:
        useful = self._useful(contracting, readable)
        self._watch_release(contracting and readable)
        if not useful:
            self._calm_ends()
            if contracting and readable:
                self.note = Remark.LET_GO
        elif self._quiet * self._step_s > min(LONGEST_RELEASE_S, 0.5 * self.settings.rest_between_s):
            self._calm.append(amplitude_uv)  # what somebody who lets go late has left behind is no rest
        return self._cue() if self._quiet * self._step_s >= self.settings.rest_between_s - 1e-9 else []

    def _watch_release(self, contracting: bool) -> None:
        """How long after they should do people let go?"""
        if self._overdue is None:
            return
        if contracting:
            self._overdue += 1
        else:
            self._releases_s.append(min(LONGEST_RELEASE_S, self._overdue * self._step_s))
            self._overdue = None

    def _calm_ends(self) -> None:
        self._seconds.add(self._calm)
        self._calm = []

    def _useful(self, contracting: bool, readable: bool) -> bool:
        """Count a quiet, readable tick; after long waiting for one, say what is wrong."""
        if readable and not contracting:
            self._quiet += 1
            self._waiting = 0
            self.note = self._because
            return True
        self._waiting += 1
        if self._waiting * self._step_s >= PATIENCE_S:
            self.note = Remark.NOT_QUIET if readable else Remark.NOT_READABLE
        return False

    def _cue(self) -> list[CalibrationEvent]:
        self.phase = "trial"
        self._calm_ends()
        self._waiting = self._released = 0
        self._cued, self._cued_readable = [], []
        self.note = self._because = None
        return [CalibrationEvent("trial cued", self.trial_number)]

    def _trial(self, amplitude_uv: float, contracting: bool, readable: bool) -> list[CalibrationEvent]:
        events = []
        usable = 1.0 if readable and math.isfinite(amplitude_uv) else 0.0
        self._cued.append(amplitude_uv if usable else 0.0)
        self._cued_readable.append(usable)
        if not self._amplitude:
            if not contracting or self._was_contracting:
                return self._unseen()
            self.note = None
            events.append(CalibrationEvent("trial started", self.trial_number))
            self._starts_s.append(len(self._cued) * self._step_s)
        self._amplitude.append(amplitude_uv)
        self._readable.append(usable)
        self._released = 0 if contracting else self._released + 1
        released = self._released * self._step_s >= RELEASE_S
        ended = len(self._amplitude) * self._step_s >= self.settings.trial_s - 1e-9
        if released or ended:
            self._overdue = None if released else 0
            events += self._judge()
        return events

    def _unseen(self) -> list[CalibrationEvent]:
        """Nothing was seen to begin: wait, remind, and judge the whole cued time by its level."""
        waited_s, settings = len(self._cued) * self._step_s, self.settings
        if waited_s >= settings.start_s:
            self.note = Remark.BEGIN if self._cued_readable[-1] else Remark.NOT_READABLE
        return self._judge_by_level() if waited_s >= settings.start_s + settings.trial_s - 1e-9 else []

    def _judge_by_level(self) -> list[CalibrationEvent]:
        number, rest_uv = self.trial_number, self._seconds.level_uv or float(np.median(self._resting))
        readable = np.array(self._cued_readable)
        trial = faint_trial(np.array(self._cued), readable, self._step_s, rest_uv)
        if trial is None:
            self._rejected.append(Remark.NO_SIGNAL)
            return self._told(CalibrationEvent("trial rejected", number, reason=Remark.NO_SIGNAL))
        self._faint.append(trial)
        if believed(self._faint, self._seconds.scatter):
            return self._told(CalibrationEvent("trial counted", number, trial.best_uv, Remark.FAINT))
        return self._told(CalibrationEvent("trial rejected", number, reason=self._why_nothing()))

    def _why_nothing(self) -> Remark:
        """Which of signal, sensor, noise at rest, unrest and place is why no effort can be told from rest."""
        if np.mean(self._cued_readable) < 0.5:
            return Remark.NO_SIGNAL
        if self._seconds.hidden:
            return Remark.COARSE
        if float(np.median(self._resting)) > NOISY_REST_UV:
            return Remark.NOISY
        return Remark.UNQUIET if self._seconds.restless else Remark.MISPLACED

    def _told(self, event: CalibrationEvent) -> list[CalibrationEvent]:
        """A trial is over; its reason, if it has one, is told through the pause."""
        following = self._next()
        if self.phase == "pause" and event.reason and not (self.note and event.kind == "trial counted"):
            self.note = event.reason
        self._because = self.note
        return [event, *following]

    def _judge(self) -> list[CalibrationEvent]:
        """A trial is over: does it count, and is another one needed?"""
        number = self.trial_number
        last = len(self._amplitude) - self._released
        amplitude = np.nan_to_num(np.array(self._amplitude[:last]))
        judged = judge_trial(amplitude, np.array(self._readable[:last]), self._step_s, self.settings.window_s)
        self._amplitude, self._readable = [], []
        if isinstance(judged, Remark):
            if judged == Remark.TOO_SHORT and self._too_faint(amplitude):
                # It comes and goes at the edge of what can be detected: the whole cued time is judged by its level.
                over = len(self._cued) * self._step_s >= self.settings.start_s + self.settings.trial_s
                return self._judge_by_level() if over else []
            self._rejected.append(judged)
            return self._told(CalibrationEvent("trial rejected", number, reason=judged))
        self._plateaus.append(judged)
        return self._told(CalibrationEvent("trial counted", number, judged.best_uv))

    def _too_faint(self, amplitude_uv: Vector) -> bool:
        rest_uv = float(np.median(self._resting))
        return len(amplitude_uv) > 0 and float(np.max(amplitude_uv)) < FAINT_BELOW * rest_uv

    def _next(self) -> list[CalibrationEvent]:
        settings = self.settings
        counted = len(self._counted)
        attempts = len(self._plateaus) + len(self._faint) + len(self._rejected)
        exhausted = counted >= settings.max_trials or attempts >= settings.max_trials + SPARE_ATTEMPTS
        hopeless = not self._plateaus and nothing_there(self._faint, self._seconds.scatter)
        enough = counted >= settings.trials
        if exhausted or hopeless or (enough and self._agree()):
            return self._finish()
        self.phase = "pause"
        self._quiet = self._waiting = 0
        if enough:
            self.note = Remark.DIFFERED
            return [CalibrationEvent("one more", self.trial_number, reason=Remark.DIFFERED)]
        return []

    def _agree(self) -> bool:
        """Whether the best two trials lie within the agreement of each other; a single one agrees."""
        values = sorted((plateau.value_uv for plateau in self._counted), reverse=True)
        allowed = max(self.settings.agreement, 2.0 * self._seconds.scatter) if self._faint else self.settings.agreement
        return len(values) < 2 or values[0] - values[1] <= allowed * values[0]

    def _finish(self) -> list[CalibrationEvent]:
        counted = self._counted
        if not counted:
            reasons = Counter(self._rejected)
            why = reasons.most_common(1)[0][0] if len(self._rejected) > len(self._faint) else self._why_nothing()
            self.phase, self.note = "failed", why
            return [CalibrationEvent("failed", 0, reason=why)]
        note = None if self._agree() else Remark.STILL_DIFFERED
        if len(counted) < self.settings.trials:
            note = Remark.FEW_TRIALS
        rejected, maximal = tuple(self._rejected), self.settings.maximal
        found = summarise(float(np.median(self._resting)), counted, rejected, note, maximal=maximal)
        if found.mvc_uv < FAINT_MAXIMUM * found.rest_uv and (whole_uv := self._seconds.whole_uv):
            found = replace(found, rest_uv=whole_uv)
        self.result = replace(
            found,
            rest_scatter=self._seconds.scatter,
            rest_hidden=self._seconds.hidden,
            start_s=_middle(self._starts_s),
            release_s=_middle(self._releases_s),
        )
        self.phase, self.note = "done", note
        return [CalibrationEvent("done", len(counted), self.result.mvc_uv, note)]


def _middle(values: Sequence[float]) -> float:
    return float(np.median(values)) if values else math.nan


def summarise(
    rest_uv: float,
    plateaus: Sequence[Plateau],
    rejected: tuple[Remark, ...] = (),
    note: Remark | None = None,
    *,
    maximal: bool = True,
) -> CalibrationResult:
    """The reference of trials made by one person in one session. Of submaximal trials all count alike.

    The mean of maximal trials is used rather than the highest of them: the highest of three exceeds their mean by 0.85
    standard deviations by chance alone (normal order statistics), so a new maximum would be due to luck.
    """
    values = np.array([plateau.value_uv for plateau in plateaus])
    used = values >= (NOT_MAXIMAL * values.max() if maximal else 0.0)
    logs = np.log(values[used])
    mvc_uv = float(np.mean(values[used]))
    spread = float(np.std(logs, ddof=1)) if len(logs) > 1 else math.nan
    half = float(scipy.stats.t.ppf(0.975, len(logs) - 1)) * spread / math.sqrt(len(logs)) if len(logs) > 1 else math.inf
    return CalibrationResult(
        rest_uv=rest_uv,
        mvc_uv=mvc_uv,
        low_uv=mvc_uv * math.exp(-half),
        high_uv=mvc_uv * math.exp(half),
        cv=math.sqrt(math.expm1(spread**2)) if len(logs) > 1 else math.nan,
        trials_uv=tuple(plateau.best_uv for plateau in plateaus),
        set_aside=int(np.sum(~used)),
        rejected=rejected,
        note=note,
    )
