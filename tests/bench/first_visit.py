"""How far both-sides tests and effort ladders can be trusted, against simulated people whose truth is known.

    python -m tests.bench.first_visit

Both sides: 2,000 tests, the placement CV of each drawn from the published range of 9 to 36 % (Norcross 2010), trials from 3 to
15 % (our choice). The ladder: 500 people whose success falls with effort along a logistic curve, their skill and slope
drawn as the model itself believes; beside the skill model Kaernbach's weighted up-down (Percept Psychophys 1991;49:227)
with the same twelve holds, and the most that any procedure with twelve answers of yes or no could reach.
"""

from __future__ import annotations

import math

import numpy as np
from musclewood.games.examining.ladder import MOST_HOLDS, Ladder
from musclewood.games.examining.outcomes import sides_test
from musclewood.profiles.plan.skill import PRIOR_SD, SLOPES, success_at
from musclewood.profiles.visits.entries import MuscleTrials, Trial

from tests.bench.staircase import WeightedUpDown

WANTED, LOW, HIGH = 0.8, 15.0, 55.0


def sides(tests: int, seed: int = 2) -> tuple[float, dict[str, int], float]:
    """Coverage of the 95 % interval, how often it says what, and how often 'weaker' or 'stronger' was wrong."""
    random = np.random.default_rng(seed)
    covered, wrong, says = 0, 0, {"weaker": 0, "stronger": 0, "left open": 0}
    for _ in range(tests):
        truth, placement, trial = random.uniform(0.3, 1.2), random.uniform(0.09, 0.36), random.uniform(0.03, 0.15)
        spread, within = (math.sqrt(math.log1p(cv**2)) for cv in (placement, trial))
        involved, other = (
            _side(level * np.exp(spread * random.standard_normal() + within * random.standard_normal(3)))
            for level in (400.0 * truth, 400.0)
        )
        found = sides_test(involved, other, first="uninvolved", way="two channels")
        assert found is not None
        deficit = 100 * (1 - truth)
        covered += found.low_pct <= deficit <= found.high_pct
        wrong += (found.says == "weaker" and deficit <= 0) or (found.says == "stronger" and deficit >= 0)
        says[found.says] += 1
    return covered / tests, says, wrong / tests


def _side(values_uv: np.ndarray) -> MuscleTrials:
    trials = tuple(Trial(value_uv=float(value)) for value in values_uv)
    return MuscleTrials(muscle="thigh", name="Thigh", side="left", channel=0, rest_uv=3.0, trials=trials)


def ladders(people: int, seed: int = 4) -> dict[str, float]:
    """The share of people for whom the proposal truly succeeds at 70 to 90 %, by procedure."""
    random = np.random.default_rng(seed)
    good = {"skill model": 0, "weighted up-down": 0}
    for _ in range(people):
        slope = float(random.choice(SLOPES))
        skill = 0.5 + math.log(WANTED / (0.98 - WANTED)) / slope + PRIOR_SD * random.standard_normal()
        chances = random.random(MOST_HOLDS)

        ladder = Ladder(LOW, HIGH)
        while ladder.ended is None:
            target = ladder.ask()
            ladder.tell(target, chances[len(ladder.holds)] < _success(target, skill, slope))
        good["skill model"] += _fits(_success(ladder.proposal.target_pct_mvc, skill, slope) if ladder.proposal else 0.0)

        staircase = WeightedUpDown(WANTED, 0.05)
        for chance in chances:
            level = min(1.0, max(0.0, staircase.ask()))
            staircase.tell(bool(chance < success_at(level, skill, slope)))
        level = min(1.0, max(0.0, staircase.ask()))
        good["weighted up-down"] += _fits(float(success_at(level, skill, slope)))
    return {name: number / people for name, number in good.items()}


def _success(target_pct: float, skill: float, slope: float) -> float:
    return float(success_at((target_pct - LOW) / (HIGH - LOW), skill, slope))


def _fits(success: float) -> bool:
    return 0.7 <= success <= 0.9


def best_possible() -> float:
    """The share that an estimate at the bound of twelve yes-or-no answers would reach, were the slope known.

    Answers at one effort carry p(1 - p) each, 1/4 at most; the wanted 70 to 90 % reach from -0.54 to +0.81 logits around 80 %.
    """
    from scipy.stats import norm

    error = 1 / math.sqrt(MOST_HOLDS / 4)
    logit = lambda p: math.log(p / (0.98 - p))
    return float(norm.cdf((logit(0.9) - logit(0.8)) / error) - norm.cdf((logit(0.7) - logit(0.8)) / error))


def main() -> None:
    coverage, says, wrong = sides(2000)
    print(
        f"both sides, 2,000 tests: the interval covers {100 * coverage:.1f} %; says {says}; wrong {100 * wrong:.2f} %"
    )
    for name, share in ladders(500).items():
        print(f"ladder, 500 people, {name}: {100 * share:.1f} % of the proposals succeed at 70 to 90 %")
    print(f"ladder, bound of twelve answers with a known slope: {100 * best_possible():.1f} %")


if __name__ == "__main__":
    main()
