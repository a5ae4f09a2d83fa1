"""The steps that tests are made of: pads placed, trials, rest, the question about pain, holds. Pure; told of every
tick."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from musclewood.games.engine.rep_events import JudgedRep, Reading, RepMade, RepMissed
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.session_events import Tick
from musclewood.games.examining.hold_model import MOST_HELD, SAMPLE_S
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.profiles.visits.entries import MuscleTrials, Trial
from musclewood.signal.measures.calibration import (
    NOT_MAXIMAL,
    CalibrationResult,
    CalibrationRun,
    CalibrationSettings,
)
from musclewood.signal.measures.coordination import falconer_winter_percent

Doing = Literal[
    "place", "quiet", "ready", "squeeze", "let go", "rest", "pain", "hold", "keep", "done", "stopped", "failed"
]


@dataclass(frozen=True, slots=True)
class Subject:
    """A muscle under test, as the order names it."""

    muscle: str
    name: str
    side: Literal["left", "right"]
    channel: int


@dataclass(frozen=True, slots=True)
class Shown:
    """What somebody across the room must see now. `level` is a share of the best so far, or of the reference for holds.

    `amplitude_uv` and `best_uv` are those of the muscle that is measured, 0 and None where none is.
    """

    doing: Doing
    subjects: tuple[Subject, ...] = ()
    left_s: float = 0.0
    number: int = 0
    of: int = 0
    level: float = 0.0
    band: tuple[float, float] | None = None
    note: str | None = None
    amplitude_uv: float = 0.0
    best_uv: float | None = None


def trials_of(subject: Subject, found: CalibrationResult, *, maximal: bool) -> MuscleTrials:
    """Every trial; of maximal ones those far below the best are set aside at once."""
    best = max(found.trials_uv)
    trials = tuple(
        Trial(value_uv=round(value, 3), set_aside="not-maximal" if maximal and value < NOT_MAXIMAL * best else None)
        for value in found.trials_uv
    )
    return MuscleTrials(
        muscle=subject.muscle,
        name=subject.name,
        side=subject.side,
        channel=subject.channel,
        rest_uv=max(0.01, round(found.rest_uv, 3)),
        trials=trials,
    )


class Step:
    """One step; `done` ends it. An answer that it has no use for changes nothing."""

    done = False
    failed: str | None = None

    def step(self, tick: Tick) -> None:
        """Take in one tick."""

    def answer(self, value: int | str) -> None:
        """Somebody answered or pressed on."""

    @property
    def shown(self) -> Shown:
        raise NotImplementedError


class Placing(Step):
    """Waits until somebody says that the pads lie there."""

    def __init__(self, subjects: Sequence[Subject]) -> None:
        self._subjects = tuple(subjects)

    def answer(self, value: int | str) -> None:
        self.done = self.done or value == "go on"

    @property
    def shown(self) -> Shown:
        return Shown("place", self._subjects)


class PainAsked(Step):
    """Waits for a number from 0 to 10."""

    value: int | None = None

    def answer(self, value: int | str) -> None:
        if isinstance(value, int) and 0 <= value <= 10:
            self.value, self.done = value, True

    @property
    def shown(self) -> Shown:
        return Shown("pain")


class Resting(Step):
    """Rest between two sides: its time only passes while the muscle is quiet, or cannot be read
    (pads are being moved)."""

    def __init__(self, rest_s: float, step_s: float, channels: Sequence[int]) -> None:
        self._left = round(rest_s / step_s)
        self._step_s, self._channels = step_s, tuple(channels)

    def step(self, tick: Tick) -> None:
        if not any(tick.contracting[one] and tick.readable[one] for one in self._channels):
            self._left -= 1
        self.done = self._left <= 0

    @property
    def shown(self) -> Shown:
        return Shown("rest", left_s=max(0, self._left) * self._step_s)


class Measuring(Step):
    """Rest and trials of one muscle, or of two at once; each is judged by its own calibration."""

    _WORDS: Mapping[str, Doing] = {"rest": "quiet", "trial": "ready", "pause": "rest"}

    def __init__(self, subjects: Sequence[Subject], settings: CalibrationSettings, step_s: float) -> None:
        self._subjects, self._settings = tuple(subjects), settings
        self._runs = [CalibrationRun(settings, step_s) for _ in subjects]
        self._amplitude = [0.0] * len(self._subjects)
        self.results: dict[int, CalibrationResult] = {}  # channel -> what was found

    def step(self, tick: Tick) -> None:
        for place, (subject, run) in enumerate(zip(self._subjects, self._runs, strict=True)):
            if run.phase in ("done", "failed"):
                continue
            channel = subject.channel
            self._amplitude[place] = tick.amplitude_uv[channel]
            run.step(tick.amplitude_uv[channel], tick.contracting[channel], tick.readable[channel])
            if run.result is not None:
                self.results[channel] = run.result
            if run.phase == "failed":
                self.failed = run.note
        self.done = self.failed is not None or len(self.results) == len(self._subjects)

    @property
    def trials(self) -> list[MuscleTrials]:
        """What was found so far, a muscle and side each."""
        maximal = self._settings.maximal
        return [
            trials_of(one, self.results[one.channel], maximal=maximal)
            for one in self._subjects
            if one.channel in self.results
        ]

    @property
    def shown(self) -> Shown:
        place = next((number for number, run in enumerate(self._runs) if run.phase not in ("done", "failed")), 0)
        run = self._runs[place]
        doing: Doing = "squeeze" if run.trying else self._WORDS.get(run.phase, "rest")
        best = run.best_uv or 0.0
        return Shown(
            doing,
            self._subjects,
            run.left_s,
            run.trial_number,
            self._settings.trials,
            self._amplitude[place] / best if best else 0.0,
            note=run.note,
            amplitude_uv=self._amplitude[place],
            best_uv=run.best_uv,
        )


class Holding(Step):
    """One hold, judged by the rep engine as at home; where there is an opposite, its share of the reference is kept."""

    def __init__(self, exercise: PlannedExercise, step_s: float, subjects: Sequence[Subject]) -> None:
        self.exercise, self._subjects, self._step_s = exercise, tuple(subjects), step_s
        alone = replace(
            exercise, sets=1, reps=1, most_attempts=1, rest_s=1.0, set_rest_s=1.0, channels=exercise.channels[:1]
        )
        self._engine = RepEngine(alone, step_s)
        self.rep: JudgedRep | None = None
        self._both: tuple[list[float], list[float]] = ([], [])
        self.over = False  # went above the ceiling chosen

    @property
    def made(self) -> bool:
        return self.rep is not None and self.rep.verdict == "counted"

    @property
    def opposite_pct(self) -> float:
        """The mean of the second muscle while the first worked, in % of its reference."""
        return 100.0 * sum(self._both[1]) / len(self._both[1]) if self._both[1] else 0.0

    @property
    def index_pct(self) -> float:
        """Co-contraction over the effort (Falconer & Winter 1985)."""
        return falconer_winter_percent(self._both[0], self._both[1])

    def step(self, tick: Tick) -> None:
        channels = self.exercise.channels
        if self._engine.phase == "effort" and len(channels) > 1 and all(tick.readable[one] for one in channels):
            for kept, channel in zip(self._both, channels, strict=False):
                kept.append(max(0.0, tick.activation[channel]))
        reading = Reading(
            tuple(tick.activation[one] for one in channels[:1]),
            tuple(tick.contracting[one] for one in channels[:1]),
            tick.readable[channels[0]],
        )
        for event in self._engine.step(reading):
            if isinstance(event, RepMade | RepMissed):
                self.rep = event.rep
                self.over = event.rep.verdict == "over"
                self.done = True
        if self._engine.done and self.rep is None:
            self.done, self.failed = True, "unquiet"

    @property
    def shown(self) -> Shown:
        view = self._engine.view
        doing: Doing = {"effort": "hold", "ready": "ready"}.get(view.phase, "let go")  # type: ignore[assignment]
        target, band = self.exercise.target_pct_mvc / 100, self.exercise.tolerance_pct_mvc / 100
        top = target + band if band else self.exercise.ceiling_pct_mvc / 100
        return Shown(
            doing,
            self._subjects,
            max(0.0, self.exercise.hold_s - view.effort_s) if view.phase == "effort" else self.exercise.hold_s,
            level=view.level[0],
            band=(target - band, top),
        )


class Trying(Holding):
    """A hold that the person ends, or a bell after a while: its course is kept, whatever it would have been judged."""

    def __init__(self, exercise: PlannedExercise, step_s: float, subjects: Sequence[Subject]) -> None:
        super().__init__(replace(exercise, hold_s=MOST_HELD * exercise.hold_s), step_s, subjects)
        self.levels_pct: list[float] = []
        self._every, self._since = round(SAMPLE_S / step_s), 0

    def step(self, tick: Tick) -> None:
        if self._engine.phase == "effort":
            if self._since % self._every == 0:
                self.levels_pct.append(100.0 * self._engine.view.level[0])
            self._since += 1
        super().step(tick)
        self.done = self.done or SAMPLE_S * len(self.levels_pct) >= self.exercise.hold_s

    @property
    def shown(self) -> Shown:
        """No seconds are shown: how long somebody keeps on by themselves is part of what is asked."""
        shown = super().shown
        return replace(shown, doing="keep", left_s=0.0) if shown.doing == "hold" else shown
