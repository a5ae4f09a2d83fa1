"""Whoever leans on the display, told from whoever has learned, by the report's two figures within four sessions.

    python tests/bench/leaning.py [--seeds 200]

Both learners hold by the display while they see it. With the door closed the one who has learned goes on as well as a
hand that knows its force; in the one who leans 'slacking' begins within 250 ms after feedback is gone and is
exponential, none below 10 %MVC, faster at higher force (grip force, 32 adults, PMC6230778; abstract). How fast is not
in the abstract: two rates are tried. Three sessions a week of twelve holds, as the desk offers them; which of them are
done without seeing is decided by the program's own plan, and each is judged by its rep engine. Prints, for each order
of the closed door and each rate, in how many of the seeds the report says of each learner what is so after four
sessions.
"""

from __future__ import annotations

import argparse
import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any, cast

from musclewood.games.engine.rep_events import Reading, RepMade, RepMissed
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.stages import rep_record
from musclewood.games.gallery.evenings import OF_EACH_KIND
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.profiles.plan.unseen import unseen_share
from musclewood.profiles.report.unseen import Seeing, seeing

TICK_S = 0.04
SLACK_AFTER_S, SLACK_ABOVE = 0.25, 0.10
RATES_PER_S = (0.3, 1.2)  # at 100 %MVC, in proportion to the force; assumed
SURE = 0.06  # coefficient of variation of an effort begun from memory; our choice
SEEN_GAIN_PER_S = 2.0  # share of what is seen to be wrong that is mended in a second; our choice
ANSWER_S, TOO_LONG_S = 0.5, 1.0  # from cue to effort; after the end of the hold they let go
SESSIONS = 4
EXERCISE = replace(OF_EACH_KIND["hold"], sets=1, reps=12, hold_s=3.0, rest_s=2.0)


@dataclass
class Learner:
    """Somebody who squeezes on the cue. `rate_per_s` is how fast they slack without seeing; 0 for who has learned."""

    rate_per_s: float
    chance: random.Random
    force: float = 0.0
    works_s: float = -1.0  # since the effort began; negative while waiting for the cue

    def step(self, cued: bool, unseen: bool, target: float, hold_s: float) -> float:
        """The effort in this tick, a fraction of the maximum."""
        if self.works_s < 0:
            self.works_s = -ANSWER_S if not cued else self.works_s + TICK_S
            if self.works_s >= 0:
                self.force = target * self.chance.gauss(1.0, SURE)
            return 0.0
        self.works_s += TICK_S
        if self.works_s > hold_s + TOO_LONG_S or self.force < 0.03:
            self.works_s = -ANSWER_S
            return 0.0
        if not unseen:
            self.force += (target - self.force) * SEEN_GAIN_PER_S * TICK_S
        elif self.works_s > SLACK_AFTER_S:
            above = max(0.0, self.force - SLACK_ABOVE)
            self.force -= above * -math.expm1(-self.rate_per_s * self.force * TICK_S)
        return max(0.0, self.force * self.chance.gauss(1.0, 0.04))


def one_session(learner: Learner, exercise: PlannedExercise) -> list[RepRecord]:
    engine, reps, unseen, target = RepEngine(exercise, TICK_S), [], False, exercise.target_pct_mvc / 100
    while not engine.done:
        if engine.phase == "ready":
            unseen = engine.view.unseen
        level = learner.step(engine.phase == "ready", unseen, target, exercise.hold_s)
        for event in engine.step(Reading((level,), (level > 0.06,))):
            if isinstance(event, RepMade | RepMissed):
                reps.append(rep_record(event, exercise, "kiln"))
    return reps


def four_sessions(door_closed: str, rate_per_s: float, seed: int) -> list[RepRecord]:
    """What the journal holds after four sessions under this order."""
    learner, past = Learner(rate_per_s, random.Random(seed)), []
    ordered = cast(Any, SimpleNamespace(id=EXERCISE.exercise_id, door_closed=door_closed))
    for _ in range(SESSIONS):
        share = unseen_share(ordered, cast(Any, past))
        reps = one_session(learner, replace(EXERCISE, unseen_share=share))
        past.append(SimpleNamespace(attempts={EXERCISE.exercise_id: len(reps)}, reps=tuple(reps)))
    return [rep for one in past for rep in one.reps]


def told_right(found: Seeing | None, leans: bool) -> bool:
    """Whether the report's sentence is the one that is so."""
    return found is not None and found.enough and found.leans is leans


def told(door_closed: str, rate_per_s: float, seeds: Sequence[int]) -> int:
    """In how many of the seeds the report says what is so of who slacks at this rate; at 0, of who has learned."""
    found = (seeing(four_sessions(door_closed, rate_per_s, seed)) for seed in seeds)
    return sum(told_right(one, leans=rate_per_s > 0) for one in found)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--seeds", type=int, default=200)
    seeds = range(options.parse_args().seeds)
    print(
        f"of {len(seeds)} seeds, after {SESSIONS} sessions of {EXERCISE.reps} holds at "
        f"{EXERCISE.target_pct_mvc:.0f} %MVC"
    )
    print("door closed   learned   " + "   ".join(f"leaning, {rate} /s" for rate in RATES_PER_S))
    for order in ("half", "by skill"):
        found = [told(order, rate, seeds) for rate in (0.0, *RATES_PER_S)]
        print(f"{order:12}  {found[0]:>7}   " + "   ".join(f"{number:>15}" for number in found[1:]))


if __name__ == "__main__":
    main()
