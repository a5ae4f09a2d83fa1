"""What the rep engine reads, shows and tells.  Plain data; levels are fractions of the
reference MVC (1.0 = 100 %MVC)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from musclewood.profiles.journal.records import Verdict
from musclewood.profiles.orders.exercises import Kind

Phase = Literal["ready", "effort", "release", "rest", "set rest", "done"]
RISE_S = 0.3  # with the door closed the time shown begins so long after the effort, about when it has risen
RepNote = Literal["tired", "easier"]
"""What the patient should be told beside the phase: the muscle tired and the set ends early; it was made easier."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One tick of the exercise's channels: the first is the muscle trained, the second its opposite or the other side.

    `readable` is false while contact is lost or samples are missing; activation is then not looked at.
    """

    activation: tuple[float, ...]
    contracting: tuple[bool, ...]
    readable: bool = True


@dataclass(frozen=True, slots=True)
class JudgedRep:
    """One attempt, judged.  Times are session seconds; a counted rep ends at the moment it was counted.

    `held_s` is the effort's whole length, `in_band_s` the part of it that earned.  `steadiness` is 1 minus the
    coefficient of variation of the earning part, 0 where nothing was earned.  `effort_profile` holds at most 48 points
    over the rep. A tolerance of 0 says that at least the target was asked for. `unseen`: it was done with the door
    closed.
    """

    set_number: int
    rep_number: int
    verdict: Verdict
    onset_s: float
    offset_s: float
    held_s: float
    in_band_s: float
    mean_pct_mvc: float
    peak_pct_mvc: float
    steadiness: float
    rise_pct_mvc_per_s: float
    target_pct_mvc: float
    tolerance_pct_mvc: float
    opposite_mean_pct_mvc: float | None
    effort_profile: tuple[float, ...]
    unseen: bool = False


@dataclass(frozen=True, slots=True)
class CueGiven:
    """The patient may begin the next rep."""

    set_number: int
    rep_number: int


@dataclass(frozen=True, slots=True)
class EffortStarted:
    """The muscle answered the cue."""

    set_number: int
    rep_number: int


@dataclass(frozen=True, slots=True)
class RepMade:
    """A rep was counted."""

    rep: JudgedRep


@dataclass(frozen=True, slots=True)
class RepMissed:
    """An attempt ended without being counted; its verdict says why."""

    rep: JudgedRep


@dataclass(frozen=True, slots=True)
class RestStarted:
    """The muscle is quiet and the rest clock runs."""

    rest_s: float


@dataclass(frozen=True, slots=True)
class RestEnded:
    """The whole rest was taken."""


@dataclass(frozen=True, slots=True)
class EffortRetuned:
    """The target moved, or the band widened (`wider_pct_mvc`: half-widths from, to), within the therapist's range."""

    target_pct_mvc: float
    before_pct_mvc: float
    wider_pct_mvc: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class SetFinished:
    """A set ended; `made` of the `reps` asked were counted in `attempts`.  `tired`: fatigue ended it early."""

    set_number: int
    reps: int
    made: int
    attempts: int
    start_s: float
    end_s: float
    tired: bool = False


@dataclass(frozen=True, slots=True)
class ExerciseFinished:
    """The exercise ended: `done`, `no effort`, `not relaxed`, or the reason given to `give_up`."""

    made: int
    reason: str


RepEvent = (
    CueGiven
    | EffortStarted
    | RepMade
    | RepMissed
    | RestStarted
    | RestEnded
    | EffortRetuned
    | SetFinished
    | ExerciseFinished
)


@dataclass(frozen=True, slots=True)
class RepView:
    """What a workshop and a screen may look at.

    `activation` is what the sensor says now, steadied for the eye; `level` is the short average that the judge goes by
    (both per channel). `rep_number` is the next rep to be made in this set, `made` those already counted in it.
    `left_s` is the rest left, or in the phase `ready` of an exercise that starts by itself the seconds until it does.
    `pattern_target` is what a `track` exercise asks now; `effort_s` how long the attempt has lasted. With `at_least`
    the target or more is asked for, and `high` is the effort ceiling. `own` is what this kind alone orders (see
    `PlannedExercise`). `unseen`: the rep at hand is done with the door closed.
    """

    kind: Kind
    phase: Phase
    set_number: int
    sets: int
    rep_number: int
    reps: int
    made: int
    hold_s: float
    held_s: float
    effort_s: float
    left_s: float
    activation: tuple[float, ...]
    level: tuple[float, ...]
    target: float
    low: float
    high: float
    ceiling: float
    in_band: bool
    over: bool
    quiet: bool
    readable: bool
    last_verdict: Verdict | None
    pattern_target: float | None = None
    opposite: float | None = None
    opposite_ceiling: float | None = None
    difference: float | None = None
    difference_limit: float | None = None
    quiet_below: float = 0.0
    note: RepNote | None = None
    at_least: bool = False
    unseen: bool = False
    own: Mapping[str, Any] = field(default_factory=dict)


def veiled(view: RepView) -> RepView:
    """The view with the door closed: cue and time are there, effort is not. Nothing of it follows the muscle."""
    if not view.unseen:
        return view
    nothing = (0.0,) * len(view.activation)
    return replace(
        view, activation=nothing, level=nothing, held_s=max(0.0, view.effort_s - RISE_S), in_band=False, over=False,
        quiet=True, opposite=None if view.opposite is None else 0.0,
        difference=None if view.difference is None else 0.0,
    )  # fmt: skip
