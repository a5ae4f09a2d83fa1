"""Knowledge of results: what happened in an attempt, in one code and a few figures.  Pure; the words stand in the
catalogues.

A code is what somebody can do something about: the verdict, its side, and for `quick` and the rest what made it so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from musclewood.games.engine.judging import QUIET_FLOOR
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.rep_events import JudgedRep
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.plan.dose import PlannedExercise

ALIKE = ("absent", "rest", "broken", "unreadable")  # told in every workshop alike
STEADY = 0.9  # our choice: from here on a hold looks even to the eye


@dataclass(frozen=True, slots=True)
class Result:
    """What is told of one attempt.

    code: 'good', or one of `Kind.told` and `ALIKE`. good: of a good one, what was good. figure: which figure goes with
    it ('' none) and its values, seconds and whole per cent. share: how far the thing came, 0..1. The rest is for the
    picture: the band as fractions of the reference, the hold in seconds, the pattern as shares of the target.
    """

    code: str
    kind: str
    rep: JudgedRep | RepRecord
    good: str = ""
    figure: str = ""
    values: Mapping[str, float] = field(default_factory=dict)
    share: float = 0.0
    low: float = 0.0
    high: float = 0.0
    hold_s: float = 0.0
    pattern: tuple[float, ...] = ()

    @property
    def made(self) -> bool:
        return self.code == "good"

    @property
    def unseen(self) -> bool:
        return self.rep.unseen

    @property
    def profile(self) -> tuple[float, ...]:
        """The effort over the attempt, evenly spaced, as fractions of the reference."""
        return tuple(value / 100 for value in self.rep.effort_profile)

    @property
    def opposite(self) -> float | None:
        """The second muscle's mean effort, as a fraction of its reference."""
        mean = self.rep.opposite_mean_pct_mvc
        return None if mean is None else mean / 100


def result_of(rep: JudgedRep | RepRecord, planned: PlannedExercise, *, cued: bool = True) -> Result:
    """What is told of a judged attempt; `cued` is false for one that came in a rest."""
    code = code_of(rep, planned, cued=cued)
    low, high = band_of(rep, planned)
    share = _share(rep, planned, code, low)
    figure, values = _figure(rep, planned, code, low, high)
    good = good_of(rep, planned) if code == "good" else ""
    pattern = tuple(planned.pattern or ())
    return Result(code, planned.kind, rep, good, figure, values, share, low, high, planned.hold_s, pattern)


def band_of(rep: JudgedRep | RepRecord, planned: PlannedExercise) -> tuple[float, float]:
    """The band that was asked for, as fractions. `relax` asks for all below its limit, 'at least' for all above."""
    target, ceiling = rep.target_pct_mvc / 100, planned.ceiling_pct_mvc / 100
    if planned.kind == "relax":
        return 0.0, planned.quiet_pct_mvc / 100
    if planned.asks == "at least":
        return target, ceiling
    return target - rep.tolerance_pct_mvc / 100, min(target + rep.tolerance_pct_mvc / 100, ceiling)


def code_of(rep: JudgedRep | RepRecord, planned: PlannedExercise, *, cued: bool = True) -> str:
    """The code of a verdict, with its side."""
    kind = planned.kind
    match rep.verdict:
        case "counted":
            return "good"
        case "unreadable":
            return "unreadable"
        case "not relaxed" if not cued:
            return "rest"
        case "not relaxed":
            return "stirred" if kind == "relax" else "late"
        case "compensated":
            return "unlike" if kind == "paired" else "helped"
        case "weak" if rep.peak_pct_mvc <= 100 * QUIET_FLOOR:
            return "absent"
        case "weak" if kind == "quick" and rep.peak_pct_mvc >= rep.target_pct_mvc - rep.tolerance_pct_mvc:
            return "slow"
        case "short" if kind == "relax":
            return "broken"
    return str(rep.verdict)


def good_of(rep: JudgedRep | RepRecord, planned: PlannedExercise) -> str:
    """What was good about a counted one."""
    return "even" if OF_KIND[planned.kind].even and rep.steadiness >= STEADY else planned.kind


def _share(rep: JudgedRep | RepRecord, planned: PlannedExercise, code: str, low: float) -> float:
    """How far the thing came that was being made."""
    if code == "good":
        return 1.0
    if code in ("absent", "rest", "unreadable", "broken"):
        return 0.0
    if code == "weak" and low > 0:
        return min(0.9, rep.peak_pct_mvc / 100 / low)
    return min(0.9, rep.in_band_s / planned.hold_s) if planned.hold_s > 0 else 0.0


def _figure(
    rep: JudgedRep | RepRecord, planned: PlannedExercise, code: str, low: float, high: float
) -> tuple[str, Mapping[str, float]]:
    """The one figure that says by how much."""
    if planned.kind == "track" and code in ("good", "short", "weak", "over"):
        return "followed", {"share": round(100 * min(1.0, rep.in_band_s / max(planned.hold_s, 0.1)))}
    if code == "short" or (code == "good" and planned.kind not in ("quick", "track")):
        return "held", {"held": round(rep.in_band_s, 1), "asked": round(planned.hold_s, 1)}
    if code == "weak" and low > 0:
        return "below", {"share": round(100 * max(0.0, 1 - rep.peak_pct_mvc / 100 / low))}
    if code == "unlike" and planned.sides and rep.opposite_mean_pct_mvc is not None:
        return f"more-{planned.sides[rep.opposite_mean_pct_mvc > rep.mean_pct_mvc]}", {}
    if code == "over" and high > 0:
        return "above", {"share": round(100 * max(0.0, rep.peak_pct_mvc / 100 / high - 1))}
    return "", {}
