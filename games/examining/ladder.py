"""The effort ladder: at most twelve short holds, each where it tells most, and the effort and band that they propose.
Pure.

The ladder moves between the bounds that the therapist chose and never beyond them. Where a band is asked for, the
course of each hold is learned from (`hold_model.py`); where at least an effort is asked for, holds are made or missed,
and the skill model of the exercises learns from that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from musclewood.games.examining.hold_model import HoldModel, Seen
from musclewood.profiles.plan.skill import SkillModel

MOST_HOLDS = 12
WANTED = 0.8
LEAST_HOLDS = 8  # our choice: fewer are no basis for a proposal where all of them went alike
SURE_SD = 0.08  # of the range; below it more holds would tell little. Our choice.
# Efforts are asked where somewhat fewer succeed than wanted, since misses say how long somebody keeps on; after the
# first six they stay, so that the last holds tell of the very effort that is proposed. Our choice.
ASKED, SETTLED_AFTER, LOOKED_AGAIN = 0.75, 6, (6, 9)
BAND_STEP = 0.5  # a half-width is proposed in such steps, %
OFF_BY = 0.06  # a proposal that is expected to miss what is wanted by more lies at a bound
Ended = Literal["enough", "pain", "stopped"]
Edge = Literal["lowest", "highest"]


@dataclass(frozen=True, slots=True)
class Proposal:
    """What should succeed about as often as wanted. `edge`: nothing that was allowed would; it lies at that end."""

    target_pct_mvc: float
    success: float
    edge: Edge | None
    tolerance_pct_mvc: float | None = None


class _Climb:
    """What was held at which effort, whether it was made, and why there is no further hold."""

    def __init__(self) -> None:
        self.holds: list[tuple[float, bool]] = []
        self.ended: Ended | None = None

    def stop(self, why: Literal["pain", "stopped"]) -> None:
        """No further hold."""
        self.ended = self.ended or why

    def _note(self, target_pct: float, made: bool, *, sure: bool = False) -> None:
        """One more; it ends where there are as many as anybody is asked for, or where more would tell little."""
        self.holds.append((target_pct, made))
        if len(self.holds) >= MOST_HOLDS or (sure and len(self.holds) >= LEAST_HOLDS):
            self.ended = self.ended or "enough"


class Ladder(_Climb):
    """Ask and tell, in % of the reference between `low_pct` and `high_pct`; holds are made or missed."""

    def __init__(self, low_pct: float, high_pct: float, wanted: float = WANTED) -> None:
        if not 0 < low_pct < high_pct:
            raise ValueError(f"the bounds must rise, got {low_pct} to {high_pct}")
        super().__init__()
        self._low, self._high = low_pct, high_pct
        self._model = SkillModel(wanted)

    def ask(self) -> float:
        """The next effort, to a whole percent, as somebody can be shown it."""
        return float(round(self._low + self._model.ask() * (self._high - self._low)))

    def tell(self, target_pct: float, made: bool) -> None:
        """What came of a hold."""
        self._model.tell(self._level(target_pct), int(made), int(not made))
        self._note(target_pct, made, sure=self._model.skill[1] <= SURE_SD)

    @property
    def proposal(self) -> Proposal | None:
        """None after a stop: what hurt is not proposed, and a few holds are no basis."""
        if self.ended != "enough":
            return None
        target = self.ask()
        edge: Edge | None = "lowest" if target <= self._low else "highest" if target >= self._high else None
        return Proposal(target, self._model.predict(self._level(target)), edge)

    def _level(self, target_pct: float) -> float:
        return (target_pct - self._low) / (self._high - self._low)


class BandLadder(_Climb):
    """The same where a band is asked for: each hold is told with its course, and the band is proposed too.

    `tolerance_pct` is the half-width shown, `bands_pct` the narrowest and widest that may be proposed. The hold stays
    as ordered: how long somebody keeps on goes with what is asked, so another would succeed about as often.
    """

    def __init__(
        self,
        low_pct: float,
        high_pct: float,
        *,
        hold_s: float,
        tolerance_pct: float,
        bands_pct: tuple[float, float],
        wanted: float = WANTED,
    ) -> None:
        if not (0 < low_pct < high_pct and 0 < bands_pct[0] <= bands_pct[1]):
            raise ValueError(f"the bounds must rise, got {low_pct} to {high_pct}, {bands_pct[0]} to {bands_pct[1]}")
        super().__init__()
        self._targets = np.append(np.arange(np.ceil(low_pct), high_pct), high_pct)
        self._bands = np.unique(np.append(np.arange(bands_pct[0], bands_pct[1], BAND_STEP), bands_pct[1]))
        self._hold_s, self._tolerance, self._wanted = hold_s, tolerance_pct, wanted
        self._holding = HoldModel()
        self._now: float | None = None

    def ask(self) -> float:
        """The next effort, to a whole percent, as somebody can be shown it."""
        done = len(self.holds)
        if self._now is None or done < SETTLED_AFTER or done in LOOKED_AGAIN:
            self._now = self._target_for(min(ASKED, self._wanted))
        return self._now

    def tell(self, target_pct: float, levels_pct: Sequence[float]) -> None:
        """A hold's levels in %, every `SAMPLE_S`, from its onset until it was let go."""
        seen = Seen(target_pct, self._hold_s, levels_pct)
        self._note(target_pct, seen.made(self._tolerance))
        self._holding.tell(seen)

    @property
    def proposal(self) -> Proposal | None:
        """None after a stop: what hurt is not proposed, and a few holds are no basis."""
        if self.ended != "enough":
            return None
        target = self._target_for(self._wanted)
        chances = self._holding.success([target], self._bands)[0]
        place = int(np.argmin(np.abs(chances - self._wanted)))
        off = float(chances[place]) - self._wanted
        edge: Edge | None = "highest" if off > OFF_BY else "lowest" if off < -OFF_BY else None
        return Proposal(target, float(chances[place]), edge, float(self._bands[place]))

    def _target_for(self, wanted: float) -> float:
        chances = self._holding.success(self._targets, [self._tolerance])[:, 0]
        return float(self._targets[int(np.argmin(np.abs(chances - wanted)))])
