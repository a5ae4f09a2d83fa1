"""The effort ladder: at most twelve short holds, each where the skill model asks for it, and what they propose. Pure.

The ladder moves between the bounds that the therapist chose and never beyond them. Twelve answers of yes or no leave
the skill uncertain: their Fisher information is at most 12/4, so one standard error is at least 0.58 logits, while
70 to 90 % success is 1.5 logits wide.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from musclewood.profiles.plan.skill import SkillModel

MOST_HOLDS = 12
WANTED = 0.8
LEAST_HOLDS = 8  # our choice: fewer are no basis for a proposal where all of them went alike
SURE_SD = 0.08  # of the range; below it more holds would tell little. Our choice.
Ended = Literal["enough", "pain", "stopped"]


@dataclass(frozen=True, slots=True)
class Proposal:
    """The effort that should succeed about as often as wanted. `edge`: it lies at a bound of what was allowed."""

    target_pct_mvc: float
    success: float
    edge: Literal["lowest", "highest"] | None


class Ladder:
    """Ask and tell, in % of the reference between `low_pct` and `high_pct`."""

    def __init__(self, low_pct: float, high_pct: float, wanted: float = WANTED) -> None:
        if not 0 < low_pct < high_pct:
            raise ValueError(f"the bounds must rise, got {low_pct} to {high_pct}")
        self._low, self._high = low_pct, high_pct
        self._model = SkillModel(wanted)
        self.holds: list[tuple[float, bool]] = []
        self.ended: Ended | None = None

    def ask(self) -> float:
        """The next effort, to a whole percent, as somebody can be shown it."""
        return float(round(self._low + self._model.ask() * (self._high - self._low)))

    def tell(self, target_pct: float, made: bool) -> None:
        """What came of a hold."""
        self.holds.append((target_pct, made))
        self._model.tell(self._level(target_pct), int(made), int(not made))
        sure = len(self.holds) >= LEAST_HOLDS and self._model.skill[1] <= SURE_SD
        if len(self.holds) >= MOST_HOLDS or sure:
            self.ended = self.ended or "enough"

    def stop(self, why: Literal["pain", "stopped"]) -> None:
        """No further hold."""
        self.ended = self.ended or why

    @property
    def proposal(self) -> Proposal | None:
        """None after a stop: what hurt is not proposed, and a few holds are no basis."""
        if self.ended != "enough":
            return None
        target = self.ask()
        edge = "lowest" if target <= self._low else "highest" if target >= self._high else None
        return Proposal(target, self._model.predict(self._level(target)), edge)  # type: ignore[arg-type]

    def _level(self, target_pct: float) -> float:
        return (target_pct - self._low) / (self._high - self._low)
