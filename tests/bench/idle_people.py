"""Whoever does nothing: how much of it counts, and of whoever does as they are asked, where rest wanders.

    python -m tests.bench.idle_people [--people N] [--first SEED]

Whole sessions of muscles too faint to be detected, calibration and eight holds of 60 +/- 25 %, fed with amplitudes
instead of samples: rest whose log wanders with the SD given and forgets itself within 3 s (real rest wanders by up to
half, own look at open recordings), and the noise of a smoothed amplitude. Both kinds of people make the greatest effort
they can in the calibration; after that one does what is asked for and the other nothing.
"""

from __future__ import annotations

import argparse
import math
from collections import deque
from dataclasses import replace
from datetime import date

import numpy as np
from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import Tick
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.plan.dose import DayPlan, planned
from musclewood.signal.quality.quality import Quality

from tests.bench.weak_muscles import order_of

STEP_S, LONGEST_S = 0.04, 500.0
REST_UV, FORGETS_S, LATE_S, RISE_S, FALL_S = 4.0, 3.0, 0.4, 1.0, 0.4
SMOOTH_SD, SMOOTH_S = 0.08, 0.1  # of the log of an amplitude that is smoothed so long; a second's scatters by 0.035
WANDERS_AND_RATIOS = ((0.1, 2.0), (0.15, 2.0), (0.15, 3.0), (0.2, 2.5), (0.25, 3.0))


def verdicts(ratio: float, wander: float, seed: int, *, idle: bool) -> list[str]:
    """What became of the attempts of one session; none where rest is told to hide the effort."""
    random = np.random.default_rng(seed)
    order = order_of()
    plan = DayPlan(date(2026, 6, 1), tuple(replace(planned(order, one), most_attempts=12) for one in order.exercises))
    session = Session(order, plan, STEP_S, 1, minutes_left=60.0)
    session.begin()
    session.answer(0)
    for _ in range(2):
        session.look(Quality(0.0, ("good",), ((),), ()))
    log, noise, effort = wander * random.standard_normal(), 0.0, 0.0
    keeps, noise_keeps = math.exp(-STEP_S / FORGETS_S), math.exp(-STEP_S / SMOOTH_S)
    wants = deque([0.0] * round(LATE_S / STEP_S))
    made = []
    for news in random.standard_normal((round(LONGEST_S / STEP_S), 2)):
        if session.finished or session.stage == "rating":
            break
        view = session.view
        trial = view.calibration is not None and view.calibration.phase == "trial"
        asked = view.rep is not None and view.rep.phase in ("ready", "effort") and not idle
        wants.append(1.0 if trial else view.rep.target if asked else 0.0)
        effort += min(max(wants.popleft() - effort, -STEP_S / FALL_S), STEP_S / RISE_S)
        log = keeps * log + wander * math.sqrt(1.0 - keeps**2) * news[0]
        noise = noise_keeps * noise + SMOOTH_SD * math.sqrt(1.0 - noise_keeps**2) * news[1]
        uv = REST_UV * math.exp(log + noise) * math.hypot(1.0, effort * math.sqrt(ratio**2 - 1.0))
        happened = session.step(Tick((uv,), (0.0,), (False,), (True,)))
        made += [one.record.verdict for one in happened if isinstance(one.record, RepRecord)]
    return made


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--people", type=int, default=20)
    parser.add_argument("--first", type=int, default=0, help="seed of the first of them")
    options = parser.parse_args()
    false = attempts = 0
    for wander, ratio in WANDERS_AND_RATIOS:
        line = f"wander {wander:4.2f} x {ratio:3.1f}:"
        for idle in (True, False):
            people = [
                verdicts(ratio, wander, seed, idle=idle)
                for seed in range(options.first, options.first + options.people)
            ]
            asked, tried = sum(map(bool, people)), sum(map(len, people))
            counted = sum(one.count("counted") for one in people)
            line += f"  {'idle' if idle else 'doing'}: {asked} of {len(people)} asked, counted {counted} of {tried}"
            false, attempts = (false + counted, attempts + tried) if idle else (false, attempts)
        print(line, flush=True)
    print(f"idle in all: {false} of {attempts}, {false / max(1, attempts):.1%}")


if __name__ == "__main__":
    main()
