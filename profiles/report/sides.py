"""The involved side beside the other one: a limb symmetry index with the interval that electrodes allow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import Muscle
from musclewood.profiles.plan.recent_mvc import PLACEMENT_CV, SESSIONS_COMPARED, TRIAL_CV, Z95

# What many clinics aim at, by consensus and expert opinion; it is shown, not judged by.
CRITERION = 90.0
CAUTION = (
    "Electrodes never sit alike on both sides, so one session cannot settle whether 90 % is reached. And 90 % of a side "
    "that has weakened too is not the strength of before: of patients after a knee ligament operation 57 % reached 90 % of "
    "the other leg, but only 29 % reached 90 % of what that leg could do before (Wellsandt 2017)."
)


@dataclass(frozen=True)
class Sides:
    """Per cent of the uninvolved side, with its 95 % interval, from the latest `sessions` that measured both."""

    name: str
    index: float
    low: float
    high: float
    sessions: int

    def sentence(self) -> str:
        words = f"{self.name}: the involved side reaches {self.index:.0f} % of the other (95 %: {self.low:.0f} to {self.high:.0f} %)."
        if self.low >= CRITERION:
            return f"{words} That is above {CRITERION:.0f} %, also when chance is allowed for."
        if self.high < CRITERION:
            return f"{words} That is below {CRITERION:.0f} %, also when chance is allowed for."
        return f"{words} That leaves open whether {CRITERION:.0f} % is reached."


def compare(prescription: Prescription, sessions: Sequence[LedgerSession]) -> list[Sides]:
    """Every muscle that is ordered on both sides and was measured on both in one session."""
    found = []
    for muscle in prescription.muscles:
        other = next((one for one in prescription.muscles if _other_side(muscle, one)), None)
        if other is None:
            continue
        ratios = [ratio for session in sessions if (ratio := _log_ratio(session, muscle.id, other.id)) is not None]
        if ratios:
            found.append(_sides(muscle.name, ratios[-SESSIONS_COMPARED:]))
    return found


def _other_side(involved: Muscle, other: Muscle) -> bool:
    return (
        involved.role == "involved"
        and other.role == "uninvolved"
        and involved.name == other.name
        and involved.side != other.side
    )


def _log_ratio(session: LedgerSession, involved: str, uninvolved: str) -> float | None:
    measured = {one.muscle: one.mvc_uv for one in session.calibrations if math.isfinite(one.mvc_uv) and one.mvc_uv > 0}
    if involved not in measured or uninvolved not in measured:
        return None
    return math.log(measured[involved] / measured[uninvolved])


def _sides(name: str, ratios: Sequence[float]) -> Sides:
    """Both sides carry the noise of placing and of trials, so it counts twice; sessions average it."""
    mean = sum(ratios) / len(ratios)
    variance = 2 * (math.log1p(PLACEMENT_CV**2) + math.log1p(TRIAL_CV**2)) / len(ratios)
    half = Z95 * math.sqrt(variance)
    return Sides(name, 100 * math.exp(mean), 100 * math.exp(mean - half), 100 * math.exp(mean + half), len(ratios))
