"""Calibration of one channel: rest, then maximal voluntary contractions (MVC) with rest between them.

Pure and per tick: the caller passes amplitude in, and asks `phase`, `left_s` and `note` what to show.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.measures.plateaus import Plateau, judge_trial

Phase = Literal["rest", "trial", "pause", "done", "failed"]
EventKind = Literal[
    "rest done", "trial cued", "trial started", "trial counted", "trial rejected", "one more", "done", "failed"
]

RELEASE_S = 0.15  # our choice: a shorter dip does not end a trial; the shortest real gap seen was 0.56 s
PATIENCE_S = 20.0  # our choice: after so long without a usable tick, say what is wrong
NOT_MAXIMAL = 0.75  # our choice: a trial below this share of the best was not maximal and is set aside
SPARE_ATTEMPTS = 3  # our choice: rejected trials may be made again this often

NOT_QUIET = "Let the muscle go quite loose and wait."
NOT_READABLE = "The signal cannot be read. Press both pads down firmly."
SQUEEZE = "When you are ready, squeeze as hard as you can."
LET_GO = "Let go and rest."
DIFFERED = "Your squeezes differed, so one more will tell."
FEW_TRIALS = "Fewer squeezes than ordered could be used, so today's maximum is less certain."
STILL_DIFFERED = "Your squeezes differed much, so today's maximum is less certain."
NO_TRIAL = "No squeeze could be used. Check the pads and start again."


@dataclass(frozen=True, slots=True)
class CalibrationSettings:
    """rest_s of quiet; trials of at most trial_s with rest_between_s of quiet between; agreement of the best two.

    Three trials of 3 to 5 s with 30 s and more between them, and a window of 0.5 s, are common practice, no source.
    """

    rest_s: float = 6.0
    trials: int = 3
    trial_s: float = 4.0
    rest_between_s: float = 30.0
    window_s: float = 0.5
    max_trials: int = 5
    agreement: float = 0.10


@dataclass(frozen=True, slots=True)
class CalibrationEvent:
    """Something happened; value_uv is the trial's best window, reason the sentence for the patient."""

    kind: EventKind
    trial_number: int
    value_uv: float | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class CalibrationResult:
    """What was found.

    rest_uv: median amplitude at rest. mvc_uv: mean over the maximal trials of their best window, each without what
    choosing the highest window adds by chance (`selection_bias` of it, on average). low_uv, high_uv: 95 % interval of
    mvc_uv from the scatter of these trials (Student's t on their logarithms), which with three trials is wide.
    cv: coefficient of variation of the trials used. trials_uv: the best windows as measured, of all trials that
    counted; set_aside: how many of them were not maximal. rejected: why others did not count. note: a caution, or None.
    """

    rest_uv: float
    mvc_uv: float
    low_uv: float
    high_uv: float
    cv: float
    trials_uv: tuple[float, ...]
    set_aside: int
    selection_bias: float
    rejected: tuple[str, ...]
    note: str | None


class CalibrationRun:
    """One calibration, tick by tick; `step_s` is the spacing of ticks in seconds.

    A trial begins when the patient contracts after the cue and ends with the release or after `trial_s`. Time of rest
    only passes while the muscle is quiet.
    """

    def __init__(self, settings: CalibrationSettings, step_s: float) -> None:
        self.settings = settings
        self.phase: Phase = "rest"
        self.note: str | None = None
        self.result: CalibrationResult | None = None
        self._step_s = step_s
        self._resting: list[float] = []
        self._quiet = 0  # ticks of the present rest or pause
        self._waiting = 0  # ticks since anything useful came
        self._was_contracting = True  # a trial needs an onset after the cue
        self._released = 0
        self._amplitude: list[float] = []
        self._readable: list[float] = []
        self._plateaus: list[Plateau] = []
        self._rejected: list[str] = []

    @property
    def trial_number(self) -> int:
        """Of the trial under way or next, from 1; trials that did not count are not numbered."""
        counted = len(self._plateaus)
        return counted if self.phase in ("done", "failed") else counted + 1

    @property
    def trying(self) -> bool:
        """Whether a trial is under way."""
        return self.phase == "trial" and bool(self._amplitude)

    @property
    def left_s(self) -> float:
        """Seconds left of the present rest, trial or pause."""
        whole = {"rest": self.settings.rest_s, "trial": self.settings.trial_s, "pause": self.settings.rest_between_s}
        passed = len(self._amplitude) if self.phase == "trial" else self._quiet
        return max(0.0, whole.get(self.phase, 0.0) - passed * self._step_s)

    @property
    def best_uv(self) -> float | None:
        """The best window so far, as measured."""
        return max((plateau.best_uv for plateau in self._plateaus), default=None)

    def step(self, amplitude_uv: float, contracting: bool, readable: bool) -> list[CalibrationEvent]:
        """Take in one tick."""
        match self.phase:
            case "rest":
                events = self._rest(amplitude_uv, contracting, readable)
            case "trial":
                events = self._trial(amplitude_uv, contracting, readable)
            case "pause":
                events = self._pause(contracting, readable)
            case _:
                events = []
        self._was_contracting = contracting
        return events

    def _rest(self, amplitude_uv: float, contracting: bool, readable: bool) -> list[CalibrationEvent]:
        if self._useful(contracting, readable):
            self._resting.append(amplitude_uv)
        if self._quiet * self._step_s < self.settings.rest_s - 1e-9:
            return []
        return [CalibrationEvent("rest done", 0, float(np.median(self._resting))), *self._cue()]

    def _pause(self, contracting: bool, readable: bool) -> list[CalibrationEvent]:
        if not self._useful(contracting, readable) and contracting and readable:
            self.note = LET_GO
        return self._cue() if self._quiet * self._step_s >= self.settings.rest_between_s - 1e-9 else []

    def _useful(self, contracting: bool, readable: bool) -> bool:
        """Count a quiet, readable tick; after long waiting for one, say what is wrong."""
        if readable and not contracting:
            self._quiet += 1
            self._waiting = 0
            self.note = None
            return True
        self._waiting += 1
        if self._waiting * self._step_s >= PATIENCE_S:
            self.note = NOT_QUIET if readable else NOT_READABLE
        return False

    def _cue(self) -> list[CalibrationEvent]:
        self.phase = "trial"
        self._waiting = self._released = 0
        self.note = None
        return [CalibrationEvent("trial cued", self.trial_number)]

    def _trial(self, amplitude_uv: float, contracting: bool, readable: bool) -> list[CalibrationEvent]:
        events = []
        if not self._amplitude:
            if not contracting or self._was_contracting:
                self._waiting += 1
                if self._waiting * self._step_s >= PATIENCE_S:
                    self.note = SQUEEZE if readable else NOT_READABLE
                return []
            self.note = None
            events.append(CalibrationEvent("trial started", self.trial_number))
        self._amplitude.append(amplitude_uv)
        self._readable.append(1.0 if readable and math.isfinite(amplitude_uv) else 0.0)
        self._released = 0 if contracting else self._released + 1
        released = self._released * self._step_s >= RELEASE_S
        if released or len(self._amplitude) * self._step_s >= self.settings.trial_s - 1e-9:
            events += self._judge()
        return events

    def _judge(self) -> list[CalibrationEvent]:
        """A trial is over: does it count, and is another one needed?"""
        number = self.trial_number
        last = len(self._amplitude) - self._released
        amplitude = np.nan_to_num(np.array(self._amplitude[:last]))
        judged = judge_trial(amplitude, np.array(self._readable[:last]), self._step_s, self.settings.window_s)
        self._amplitude, self._readable = [], []
        if isinstance(judged, str):
            self._rejected.append(judged)
            event = CalibrationEvent("trial rejected", number, reason=judged)
        else:
            self._plateaus.append(judged)
            event = CalibrationEvent("trial counted", number, judged.best_uv)
        following = self._next()
        if isinstance(judged, str) and self.phase == "pause":
            self.note = judged
        return [event, *following]

    def _next(self) -> list[CalibrationEvent]:
        settings = self.settings
        counted = len(self._plateaus)
        exhausted = (
            counted >= settings.max_trials or counted + len(self._rejected) >= settings.max_trials + SPARE_ATTEMPTS
        )
        enough = counted >= settings.trials
        if exhausted or (enough and self._agree()):
            return self._finish()
        self.phase = "pause"
        self._quiet = self._waiting = 0
        if enough:
            self.note = DIFFERED
            return [CalibrationEvent("one more", self.trial_number, reason=DIFFERED)]
        return []

    def _agree(self) -> bool:
        """Whether the best two trials lie within the agreement of each other; a single one agrees."""
        values = sorted((plateau.value_uv for plateau in self._plateaus), reverse=True)
        return len(values) < 2 or values[0] - values[1] <= self.settings.agreement * values[0]

    def _finish(self) -> list[CalibrationEvent]:
        if not self._plateaus:
            self.phase, self.note = "failed", NO_TRIAL
            return [CalibrationEvent("failed", 0, reason=NO_TRIAL)]
        note = None if self._agree() else STILL_DIFFERED
        if len(self._plateaus) < self.settings.trials:
            note = FEW_TRIALS
        self.result = summarise(float(np.median(self._resting)), self._plateaus, tuple(self._rejected), note)
        self.phase, self.note = "done", note
        return [CalibrationEvent("done", len(self._plateaus), self.result.mvc_uv, note)]


def summarise(
    rest_uv: float, plateaus: Sequence[Plateau], rejected: tuple[str, ...] = (), note: str | None = None
) -> CalibrationResult:
    """The reference MVC of trials made by one person in one session.

    The mean of maximal trials is used rather than the highest of them: the highest of three exceeds their mean by 0.85
    standard deviations by chance alone (normal order statistics), so a new maximum would be due to luck.
    """
    values = np.array([plateau.value_uv for plateau in plateaus])
    used = values >= NOT_MAXIMAL * values.max()
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
        selection_bias=float(np.mean([plateau.bias for plateau, use in zip(plateaus, used, strict=True) if use])),
        rejected=rejected,
        note=note,
    )
