"""How one attempt is judged, for each kind.  Pure: fed one tick after the other, no clock of its own.

Every judge earns time while its condition holds and spends nothing otherwise, so the natural noise of an honest hold
only makes it a little longer.  The band is looked at through a short average (`SMOOTHING_S`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from musclewood.games.engine.rep_events import JudgedRep
from musclewood.profiles.journal.records import Verdict

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

# All of these are our choice; the reason stands beside each.
SMOOTHING_S = 0.25  # short enough to steer by, long enough that an honest hold stays in its band
CEILING_LIMIT_S = 1.0  # longer above the effort ceiling is not a wobble: the attempt ends there
# How much of an attempt may be missing: a tenth of its hold, at least one or two radio packets, and never so much that
# somebody could let go meanwhile. Our choice; what is missing earns nothing anyway.
LOST_SHARE, LEAST_LOST_S, MOST_LOST_S = 0.1, 0.1, 0.5
RAMP_ALLOWANCE_S = 0.6  # rising to the band and letting go again is not weakness
DISTURBED_S = 0.5  # a quiet muscle that stirs for longer begins its quiet time again
WITHIN_SHARE = 0.7  # of a pattern's time, for somebody who relearns control
PROFILE_POINTS = 48
QUIET_FLOOR = 0.05  # below 5 %MVC nobody works


@dataclass(frozen=True, slots=True)
class Aim:
    """What an attempt must reach; fractions of the reference MVC and seconds.

    With `at_least` the band reaches from the target to the ceiling. `own` are parameters of one kind alone, as they
    stand in the order (names and units too).
    """

    target: float
    low: float
    high: float
    ceiling: float
    hold_s: float
    quiet: float
    rise_s: float = 0.5
    release_s: float = 0.0
    opposite_ceiling: float | None = None
    difference: float | None = None
    pattern: tuple[float, ...] = ()
    at_least: bool = False
    own: Mapping[str, Any] = field(default_factory=dict)

    def pattern_at(self, time_s: float) -> float:
        """The level asked at `time_s`: the pattern's points lie evenly over the hold, with straight lines between."""
        last = len(self.pattern) - 1
        if last < 1 or time_s <= 0.0:
            return self.target * self.pattern[0]
        if time_s >= self.hold_s:
            return self.target * self.pattern[last]
        place = time_s / self.hold_s * last  # by hand: asked for at every tick and every look
        before = min(int(place), last - 1)
        level, following = self.pattern[before : before + 2]
        return self.target * (level + (place - before) * (following - level))


class Attempt:
    """One attempt in the making.  Subclasses say what earns and when it is over."""

    def __init__(self, aim: Aim, step_s: float, onset_s: float, before: Sequence[float] = ()) -> None:
        """`before` is the activation of the moments before the onset was noticed; only the rise is read from it."""
        self.aim, self.step_s, self.onset_s = aim, step_s, onset_s
        self._before = list(before)
        self.elapsed_s = self.earned_s = self.below_s = self.above_s = 0.0
        self.excess_s = self.lost_s = self.spoilt_s = 0.0
        self._trace: list[float] = []
        self._earning: list[float] = []
        self._opposite: list[float] = []

    # --- what a kind decides -----------------------------------------------------------------------------------
    @property
    def limit_s(self) -> float:
        """An attempt is given up after this long, so that nobody is kept pulling at something out of reach."""
        return 2.0 * self.aim.hold_s + 10.0

    def earns(self, level: tuple[float, ...]) -> bool:
        return self.aim.low <= level[0] <= self.aim.high

    def verdict_now(self) -> Verdict | None:
        """A verdict that needs no letting go: counted, or given up."""
        if self.lost_too_much:
            return "unreadable"
        if self.earned_s >= self.aim.hold_s - self.step_s / 2:
            return "counted"
        if self.excess_s > CEILING_LIMIT_S:
            return "over"
        return self.verdict_released() if self.elapsed_s >= self.limit_s else None

    def verdict_released(self) -> Verdict:
        """The verdict on a contraction that ended before it was counted."""
        if self.spoilt_s > max(self.earned_s, self.above_s, self.below_s - RAMP_ALLOWANCE_S):
            return "compensated"
        below_s = max(0.0, self.below_s - RAMP_ALLOWANCE_S)
        nothing = self.earned_s <= 0.0 and self.above_s <= 0.0 and self.spoilt_s <= 0.0
        if nothing or below_s > max(self.earned_s, self.above_s):
            return "weak"
        return "over" if self.above_s > self.earned_s else "short"

    # --- what all share ----------------------------------------------------------------------------------------
    def step(self, activation: tuple[float, ...], level: tuple[float, ...]) -> None:
        self.elapsed_s += self.step_s
        self._trace.append(activation[0])
        if len(activation) > 1:
            self._opposite.append(activation[1])
        if level[0] > self.aim.ceiling:
            self.excess_s += self.step_s
        self.sort_time(level)

    def sort_time(self, level: tuple[float, ...]) -> None:
        """Put this tick into one of the piles: earned, spoilt by the other muscle, above, below."""
        if self.earns(level):
            self.earned_s += self.step_s
            self._earning.append(level[0])
        elif self.spoils(level):
            self.spoilt_s += self.step_s
        elif level[0] > self.aim.high:
            self.above_s += self.step_s
        else:
            self.below_s += self.step_s

    def spoils(self, level: tuple[float, ...]) -> bool:
        """Whether the other muscle is why this tick does not earn."""
        return False

    @property
    def idle(self) -> bool:
        """Nothing was tried at all."""
        return max(self._trace, default=0.0) <= QUIET_FLOOR

    @property
    def lost_too_much(self) -> bool:
        """Whether too much is missing to judge the attempt at all."""
        return self.lost_s > min(max(LEAST_LOST_S, LOST_SHARE * self.aim.hold_s), MOST_LOST_S)

    def lose(self) -> None:
        """A tick without a readable signal."""
        self.elapsed_s += self.step_s
        self.lost_s += self.step_s

    def judged(self, verdict: Verdict, set_number: int, rep_number: int, tail_s: float = 0.0) -> JudgedRep:
        """Sum up.  `tail_s` at the end was already quiet and is left out."""
        tail = round(tail_s / self.step_s)
        trace = np.asarray(self._trace[: len(self._trace) - tail] or [0.0])
        opposite = np.asarray(self._opposite[: len(self._opposite) - tail] or [0.0])
        aim, length_s = self.aim, max(0.0, self.elapsed_s - tail_s)
        return JudgedRep(
            set_number=set_number,
            rep_number=rep_number,
            verdict=verdict,
            onset_s=self.onset_s,
            offset_s=self.onset_s + length_s,
            held_s=length_s,
            in_band_s=min(self.earned_s, length_s),
            mean_pct_mvc=100.0 * float(trace.mean()),
            peak_pct_mvc=100.0 * float(trace.max()),
            steadiness=_steadiness(self._earning),
            rise_pct_mvc_per_s=100.0 * _rise_per_s(np.asarray([*self._before, *trace]), self.step_s),
            target_pct_mvc=100.0 * aim.target,
            tolerance_pct_mvc=0.0 if aim.at_least else 100.0 * (aim.high - aim.target),
            opposite_mean_pct_mvc=100.0 * float(opposite.mean()) if self._opposite else None,
            effort_profile=_profile(100.0 * trace),
        )


class HoldAttempt(Attempt):
    """A steady hold in the band."""


class QuickAttempt(Attempt):
    """Brisk on, full off: into the band within the rise time, there for the hold, and quiet again soon after."""

    # Our choice: a healthy muscle lets go in well under half a second, and its amplitude follows a little later.
    # Whoever lets go later (a paretic grip stops 5.0 s late, Seo 2009) has their own time in `Aim.release_s`.
    usual_release_s = 1.5

    def __init__(self, aim: Aim, step_s: float, onset_s: float, before: Sequence[float] = ()) -> None:
        super().__init__(aim, step_s, onset_s, before)
        self.rise_took_s: float | None = None

    @property
    def limit_s(self) -> float:
        return self.aim.rise_s + 2.0 * self.aim.hold_s + max(self.usual_release_s, self.aim.release_s)

    def step(self, activation: tuple[float, ...], level: tuple[float, ...]) -> None:
        # A quick contraction is over before a short average has seen it: the sensor's own value decides.
        super().step(activation, activation)
        if self.rise_took_s is None and activation[0] >= self.aim.low:
            way = [*self._before, *self._trace]
            low_down = (n for n, value in enumerate(reversed(way)) if value <= 0.2 * self.aim.low)
            self.rise_took_s = next(low_down, len(way)) * self.step_s

    def verdict_now(self) -> Verdict | None:
        if self.lost_too_much:
            return "unreadable"
        if self.excess_s > CEILING_LIMIT_S:
            return "over"
        if self.elapsed_s < self.limit_s:
            return None
        verdict = self.verdict_released()
        return "not relaxed" if verdict == "counted" else verdict

    def verdict_released(self) -> Verdict:
        if self.rise_took_s is None or self.rise_took_s > self.aim.rise_s:
            return "weak"
        if self.earned_s >= self.aim.hold_s - self.step_s / 2:
            return "counted"
        return "over" if self.above_s > self.earned_s else "short"


class TrackAttempt(Attempt):
    """Following a pattern: enough of its time within the tolerance, the delay of the short average taken off."""

    @property
    def limit_s(self) -> float:
        return self.aim.hold_s

    def sort_time(self, level: tuple[float, ...]) -> None:
        asked, half = self.aim.pattern_at(self.elapsed_s - SMOOTHING_S / 2), self.aim.high - self.aim.target
        if abs(level[0] - asked) <= half:
            self.earned_s += self.step_s
            self._earning.append(1.0 - abs(level[0] - asked))
        elif level[0] > asked:
            self.above_s += self.step_s
        else:
            self.below_s += self.step_s

    def verdict_now(self) -> Verdict | None:
        if self.lost_too_much:
            return "unreadable"
        if self.excess_s > CEILING_LIMIT_S:
            return "over"
        if self.elapsed_s < self.limit_s - self.step_s / 2:
            return None
        if self.earned_s >= WITHIN_SHARE * self.elapsed_s and not self.idle:
            return "counted"
        if self.earned_s >= max(self.above_s, self.below_s) and not self.idle:
            return "short"
        return "over" if self.above_s > self.below_s else "weak"


class RelaxAttempt(Attempt):
    """Staying quiet, in one piece; a short stir is forgiven, a longer one begins the quiet time again."""

    def __init__(self, aim: Aim, step_s: float, onset_s: float, before: Sequence[float] = ()) -> None:
        super().__init__(aim, step_s, onset_s, before)
        self._stirring_s = 0.0

    @property
    def limit_s(self) -> float:
        return 3.0 * self.aim.hold_s + 10.0

    def sort_time(self, level: tuple[float, ...]) -> None:
        if level[0] <= self.aim.quiet:
            self.earned_s += self.step_s
            self._earning.append(1.0 - level[0])
            self._stirring_s = 0.0
            return
        self.above_s += self.step_s
        self._stirring_s += self.step_s
        if self._stirring_s > DISTURBED_S:
            self.earned_s = 0.0
            self._earning.clear()

    def verdict_now(self) -> Verdict | None:
        if self.lost_too_much:
            return "unreadable"
        if self.earned_s >= self.aim.hold_s - self.step_s / 2:
            return "counted"
        return "not relaxed" if self.elapsed_s >= self.limit_s else None

    def verdict_released(self) -> Verdict:
        return "short"


class SelectiveAttempt(Attempt):
    """The first muscle in its band while its opposite stays below its ceiling."""

    def earns(self, level: tuple[float, ...]) -> bool:
        return super().earns(level) and not self.spoils(level)

    def spoils(self, level: tuple[float, ...]) -> bool:
        limit = self.aim.opposite_ceiling
        return limit is not None and level[1] > limit and super().earns(level)


class PairedAttempt(Attempt):
    """Both sides in the band, and alike."""

    def earns(self, level: tuple[float, ...]) -> bool:
        return self._both_in(level) and not self.spoils(level)

    def spoils(self, level: tuple[float, ...]) -> bool:
        limit = self.aim.difference
        one_in = any(self.aim.low <= side <= self.aim.high for side in level)
        return one_in and limit is not None and abs(level[0] - level[1]) > limit

    def sort_time(self, level: tuple[float, ...]) -> None:
        if self.earns(level) or self.spoils(level):
            super().sort_time(level)
        elif max(level) > self.aim.high:
            self.above_s += self.step_s
        else:
            self.below_s += self.step_s

    def _both_in(self, level: tuple[float, ...]) -> bool:
        return all(self.aim.low <= side <= self.aim.high for side in level)


class RestAttempt(Attempt):
    """A contraction when the muscle should rest: never counted, whatever it does."""

    _highest = 0.0

    def step(self, activation: tuple[float, ...], level: tuple[float, ...]) -> None:
        super().step(activation, level)
        self._highest = max(self._highest, *level)

    @property
    def still_rest(self) -> bool:
        """Whether it stayed so low all along that nobody worked, whatever was detected: hum that has come, say."""
        return self._highest <= QUIET_FLOOR

    def verdict_now(self) -> Verdict | None:
        if self.lost_too_much:
            return "unreadable"
        return "not relaxed" if self.elapsed_s >= self.limit_s else None

    def verdict_released(self) -> Verdict:
        return "not relaxed"


def aim_of(planned: PlannedExercise, target_pct_mvc: float) -> Aim:
    """What the planned exercise asks at this target, as fractions."""
    at_least, tolerance = planned.asks == "at least", planned.tolerance_pct_mvc
    low = (target_pct_mvc - (0.0 if at_least else tolerance)) / 100.0
    ceiling = planned.ceiling_pct_mvc / 100.0
    return Aim(
        target=target_pct_mvc / 100.0,
        low=low,
        high=ceiling if at_least else min((target_pct_mvc + tolerance) / 100.0, ceiling),
        ceiling=ceiling,
        hold_s=planned.hold_s,
        quiet=planned.quiet_pct_mvc / 100.0,
        rise_s=0.5 if planned.rise_s is None else planned.rise_s,
        release_s=planned.release_s,
        opposite_ceiling=_fraction(planned.opposite_ceiling_pct_mvc),
        difference=_fraction(planned.difference_pct_mvc),
        pattern=tuple(planned.pattern or ()),
        at_least=at_least,
        own=planned.own,
    )


def _fraction(pct: float | None) -> float | None:
    return None if pct is None else pct / 100.0


def _rise_per_s(way: np.ndarray, step_s: float) -> float:
    """Slope between a fifth and four fifths of the peak, as rise times are usually read, per second."""
    peak = float(way.max())
    if peak <= 0.0:
        return 0.0
    upper = int(np.argmax(way >= 0.8 * peak))
    under = np.flatnonzero(way[: upper + 1] <= 0.2 * peak)
    lower = int(under[-1]) if under.size else 0
    return float(way[upper] - way[lower]) / (max(1, upper - lower) * step_s)


def _steadiness(earning: list[float]) -> float:
    if not earning:
        return 0.0
    values = np.asarray(earning)
    mean = float(values.mean())
    return max(0.0, 1.0 - float(values.std()) / mean) if mean > 0.0 else 0.0


def _profile(trace_pct: np.ndarray) -> tuple[float, ...]:
    parts = np.array_split(trace_pct, min(PROFILE_POINTS, trace_pct.size))
    return tuple(round(float(part.mean()), 2) for part in parts if part.size and math.isfinite(float(part.mean())))
