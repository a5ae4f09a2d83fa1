"""What a test found, in words and as trials that can be taken out; nothing is kept before somebody says so."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from musclewood.games.examining.outcomes import again
from musclewood.games.kit.words import Words
from musclewood.profiles.visits.entries import (
    REASONS,
    LadderTest,
    MuscleTrials,
    OppositeTest,
    Reason,
    ReferenceTest,
    Result,
    SidesTest,
)

Of = Literal["involved", "uninvolved", "only"]


@dataclass
class Found:
    """A result that is looked at. `result` is None once too few trials are left."""

    measured: Result
    pain: tuple[int, ...] = ()
    result: Result | None = None
    taken: dict[tuple[Of, int], Reason | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.result = self.measured

    def trials(self) -> list[tuple[Of, int, float, Reason | None]]:
        """Side, number from 1, µV, and why it is set aside if it is."""
        return [
            (side, number, trial.value_uv, trial.set_aside)
            for side, tested in self._tested()
            for number, trial in enumerate(tested.trials, start=1)
        ]

    def turn(self, side: Of, number: int) -> None:
        """The next reason to set a trial aside; after the last of them it counts again."""
        reasons: tuple[Reason | None, ...] = (None, *REASONS)
        now = next(why for one, place, _, why in self.trials() if (one, place) == (side, number))
        self.taken[side, number] = reasons[(reasons.index(now) + 1) % len(reasons)]
        self.measured = self._with_taken()
        self.result = again(self.measured)

    def _tested(self) -> list[tuple[Of, MuscleTrials]]:
        match self.measured:
            case SidesTest() as sides:
                return [("involved", sides.involved), ("uninvolved", sides.uninvolved)]
            case ReferenceTest() as reference:
                return [("only", reference.found)]
            case _:
                return []

    def _with_taken(self) -> Result:
        changed = self.measured
        for side, tested in self._tested():
            trials = tuple(
                trial.model_copy(update={"set_aside": self.taken.get((side, number), trial.set_aside)})
                for number, trial in enumerate(tested.trials, start=1)
            )
            key = "found" if side == "only" else side
            changed = changed.model_copy(update={key: tested.model_copy(update={"trials": trials})})
        return changed


def told(words: Words, result: Result | None) -> list[str]:
    """The result in sentences: what was found, and what it can and cannot settle."""
    match result:
        case None:
            return [words("desk.bench.too-few")]
        case ReferenceTest():
            figures = {"value": f"{result.reference_uv:.0f}", "low": f"{result.low_uv:.0f}"}
            return [words("desk.bench.found-reference", high=f"{result.high_uv:.0f}", **figures)]
        case SidesTest():
            deficit, low, high = (
                f"{value:.0f}".replace("-", "−") for value in (result.deficit_pct, result.low_pct, result.high_pct)
            )
            says = result.says.replace(" ", "-")
            return [
                words("desk.bench.found-sides", value=deficit, low=low, high=high),
                words(f"desk.bench.says-{says}"),
            ]
        case OppositeTest():
            return [
                words("desk.bench.found-opposite", index=f"{result.index_pct:.0f}"),
                words("desk.bench.opposite-ceiling", value=f"{result.ceiling_pct_mvc:.0f}"),
            ]
        case LadderTest():
            made = sum(hold.made for hold in result.holds)
            lines = [words("desk.bench.found-ladder", made=made, count=len(result.holds))]
            if result.target_pct_mvc is None:
                return [*lines, words("desk.bench.ladder-none")]
            success = f"{100 * (result.success or 0):.0f}"
            proposed = {"target": f"{result.target_pct_mvc:.0f}", "band": f"{result.tolerance_pct_mvc or 0:g}"}
            key = "ladder-proposes" if result.tolerance_pct_mvc else "ladder-proposes-least"
            return [*lines, words(f"desk.bench.{key}", success=success, **proposed)]
