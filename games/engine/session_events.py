"""What a session tells and shows.  Whatever has a record must be in the journal before anybody acts on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from musclewood.games.engine.endings import Outcome
from musclewood.games.engine.rep_events import RepEvent, RepNote, RepView
from musclewood.profiles.journal.records import Ending, Record
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.signal.measures.calibration import CalibrationEvent
from musclewood.signal.stream.activation import Reference

SessionStage = Literal["comfort", "signal", "calibration", "choose", "exercise", "break", "rating", "finished"]
Pause = Literal["patient", "sensor", "pain"]


@dataclass(frozen=True, slots=True)
class Tick:
    """One tick of every channel of the source, about 4 ms long.  Activation is NaN until a reference is known.

    `settled`: hum neither came nor went just now.
    """

    amplitude_uv: tuple[float, ...]
    activation: tuple[float, ...]
    contracting: tuple[bool, ...]
    readable: tuple[bool, ...]
    settled: bool = True


@dataclass(frozen=True, slots=True)
class StageEntered:
    stage: SessionStage


@dataclass(frozen=True, slots=True)
class CalibrationBegan:
    """One muscle's rest and maximum come next."""

    muscle: str
    channel: int


@dataclass(frozen=True, slots=True)
class ReferenceFound:
    """Activation is to be measured against this from now on."""

    reference: Reference


@dataclass(frozen=True, slots=True)
class ExerciseBegan:
    exercise: PlannedExercise
    workshop: str


@dataclass(frozen=True, slots=True)
class Paused:
    reason: Pause
    advice: str | None = None


@dataclass(frozen=True, slots=True)
class Resumed:
    reason: Pause


@dataclass(frozen=True, slots=True)
class MuscleTired:
    """The median frequency fell as far as the therapist's limit: the set at hand ends early."""

    exercise_id: str
    decline_pct: float


@dataclass(frozen=True, slots=True)
class SessionOver:
    """`note` is one plain sentence for the journal, if there is more to say than how it ended."""

    ending: Ending
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Noted:
    """Something that only the journal cares about."""


What = (
    StageEntered
    | CalibrationBegan
    | CalibrationEvent
    | ReferenceFound
    | ExerciseBegan
    | Paused
    | Resumed
    | MuscleTired
    | SessionOver
    | Noted
    | RepEvent
)


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that happened, and what the journal keeps of it."""

    what: What
    record: Record | None = None


@dataclass(frozen=True, slots=True)
class CalibrationView:
    """`phase` is 'rest', 'trial', 'pause', 'done' or 'failed'; `note` a plain sentence when something is off.

    `muscle_name` is what the therapist called it; `number` of `total` muscles; `reference` which contraction is asked
    for.
    """

    muscle: str
    muscle_name: str
    channel: int
    side: str
    number: int
    total: int
    phase: str
    left_s: float
    trial_number: int
    trials: int
    best_uv: float | None
    amplitude_uv: float
    contracting: bool
    note: str | None
    reference: str = "maximum"


@dataclass(frozen=True, slots=True)
class SignalView:
    """The verdict of the last second per channel looked at, and what to do about it."""

    channels: tuple[int, ...]
    verdicts: tuple[str, ...]
    advice: tuple[str, ...]
    may_go_on: bool


@dataclass(frozen=True, slots=True)
class SessionView:
    """All that a screen needs.  Of `signal`, `calibration` and `rep`, the one that belongs to the stage is there.

    `note` is that of the exercise at hand, and in a break that of the one before. `made` reps of `ordered` were
    counted.
    """

    stage: SessionStage
    time_s: float
    paused: Pause | None
    advice: str | None
    exercise: PlannedExercise | None
    exercises: int
    workshop: str | None
    left_s: float
    made: int = 0
    ordered: int = 0
    signal: SignalView | None = None
    calibration: CalibrationView | None = None
    rep: RepView | None = None
    ending: Ending | None = None
    outcome: Outcome | None = None
    note: RepNote | None = None
