"""Every simulated player in every workshop: the same verdicts, as many things as reps, all on the shelf, words that can
be read.

    python tests/bench/every_player.py [--seeds 200] [--only KIND ...]

A player plays one exercise of each kind, seeing what a patient sees. What the muscle did is then played again in every
workshop of that kind, each with an engine of its own, and in none. Prints for each workshop and player what was tried
and counted, and at the end what must be 0: verdicts that differ, things too many or too few, things missing on the
shelf that the journal gives back, sentences that were gone in less than 0.8 s although nothing said stop.
"""

from __future__ import annotations

import argparse
import itertools
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.players import PLAYERS
from musclewood.games.engine.rep_events import JudgedRep, Reading, RepEvent, RepMade, RepMissed, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.results import Result
from musclewood.games.engine.session_events import SessionView
from musclewood.games.engine.shelf import Product, shelf_of
from musclewood.games.engine.stages import rep_record
from musclewood.games.engine.teacher import Teacher
from musclewood.games.kit.pacing import LEAST_S, HeldInSight
from musclewood.games.screens.session.sayings import STOPS, Sayings
from musclewood.games.workshops import Rules, fitting, workshops
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import SessionEnd, SessionStart
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.signal.simulation.model_patient import Body, ModelPatient

TODAY = date(2026, 11, 25)
TICK_S, FRAME_TICKS, LOOK_TICKS = 0.02, 2, 6  # ticks of the engine; between two frames, between two looks of a player
PERSON = ModelPatient(aim_cv=0.05)
LONGEST_S = 14.0
JOURNAL_SEEDS = 20  # a journal makes each record durable, which takes its time; more seeds say nothing more
OWN = {
    "quick": {"hold_s": 0.5, "rise_s": 0.5, "tolerance_pct_mvc": 10.0},
    "track": {"hold_s": 5.0, "pattern": (0.4, 0.8, 1.0, 0.7, 0.4), "tolerance_pct_mvc": 8.0},
    "relax": {"hold_s": 4.0, "target_pct_mvc": 6.0, "quiet_pct_mvc": 6.0, "tolerance_pct_mvc": 2.0},
    "selective": {"channels": (0, 1), "opposite_ceiling_pct_mvc": 15.0},
    "paired": {"channels": (0, 1), "difference_pct_mvc": 14.0},
}


def exercise_of(kind: str) -> PlannedExercise:
    """One short set, about as hard as the templates order it."""
    usual = PlannedExercise(
        "usual", kind, "Usual", fitting(kind), (0,), 1, 2, 3.0, 2.0, 2.0, 35.0, 6.0, 80.0, 9.0
    )  # fmt: skip
    return replace(usual, **OWN.get(kind, OF_KIND[kind].example))


@dataclass
class Played:
    """What one workshop, or none, saw and made of what a muscle did."""

    judged: list[JudgedRep] = field(default_factory=list)
    made: list[Product] = field(default_factory=list)
    hasty: int = 0  # sentences and results that were gone before they could be read

    def hear(self, events: Sequence[RepEvent]) -> None:
        self.judged += [event.rep for event in events if isinstance(event, RepMade | RepMissed)]


def with_nobody(kind: str, player: str, seed: int) -> tuple[list[Reading], Played]:
    """What a player's muscle does for this exercise, tick by tick, before the engine alone; and how it is judged."""
    exercise = exercise_of(kind)
    channels = len(exercise.channels)
    engine, who = RepEngine(exercise, TICK_S), PLAYERS[player](channels, seed)
    body = Body(PERSON, channels, (seed, 9))
    ticks = round(LONGEST_S / TICK_S)
    noise = (1 + 0.04 * np.random.default_rng((seed, 8)).standard_normal((ticks, channels))).tolist()
    done, found = [], Played()
    for tick in range(ticks):
        if tick % LOOK_TICKS == 0:
            now_s = tick * TICK_S
            seen = SessionView("exercise", now_s, None, None, exercise, 1, "", 0.0, rep=engine.view)
            body.aim(who.aim(seen), body.time_s)
        body.step()
        body.step()
        levels = tuple(max(0.0, m.drive * n + 0.01) for m, n in zip(body.muscles, noise[tick], strict=True))
        done.append(Reading(levels, tuple(level > 0.07 for level in levels)))
        found.hear(engine.step(done[-1]))
        if engine.done:
            break
    return done, found


def in_workshop(kind: str, readings: Sequence[Reading], rules: Rules) -> Played:
    """The same muscle before an engine of its own, in a workshop."""
    exercise = exercise_of(kind)
    engine, found, words = RepEngine(exercise, TICK_S), Played(), Words(exercise)
    told: list[RepEvent] = []
    for tick, reading in enumerate(readings):
        told += engine.step(reading)
        if tick % FRAME_TICKS == 0 and tick + 1 < len(readings):
            continue
        view = engine.view
        rules.step(FRAME_TICKS * TICK_S, view, told)
        found.hasty += words.hasty(FRAME_TICKS * TICK_S, view, told)
        found.hear(told)
        told = []
    found.made = list(rules.made)
    return found


class Words:
    """The sentence of now and what is told of the last attempt, watched over."""

    def __init__(self, exercise: PlannedExercise) -> None:
        self._sayings, self._teacher = Sayings(), Teacher(exercise)
        self._card: HeldInSight[Result] = HeldInSight()
        self._shown: list[object] = [(), None]
        self._since_s = [0.0, 0.0]

    def hasty(self, dt_s: float, view: RepView, events: Sequence[RepEvent]) -> int:
        """How many were taken away too soon in this frame."""
        self._teacher.hear(events)
        said = self._sayings.step(dt_s, view)
        told = self._card.step(dt_s, None if view.phase == "effort" else self._teacher.told)
        early = 0
        for place, (now, stops) in enumerate(((said, said[0] in STOPS), (told, False))):
            self._since_s[place] += dt_s
            if now != self._shown[place]:
                early += bool(self._shown[place]) and not stops and self._since_s[place] < LEAST_S - 1e-6
                self._shown[place], self._since_s[place] = now, 0.0
        return early


def missing_on_the_shelf(kept: Sequence[tuple[str, JudgedRep, str]], made: Sequence[Product]) -> int:
    """Things that were seen being made and that the journal does not give back as they were."""
    with tempfile.TemporaryDirectory() as folder, Journal.open(Path(folder) / "shelf.sqlite") as journal:
        start = SessionStart("HB-0001", 1, "ble", datetime.combine(TODAY, datetime.min.time(), UTC).isoformat(), "UTC")
        session = journal.begin_session(start)
        for kind, rep, workshop in kept:
            journal.add(session, rep_record(RepMade(rep), exercise_of(kind), workshop))
        journal.end_session(session, SessionEnd(60.0, "complete"))
        shelf = shelf_of(journal, "UTC")
    found = Counter((one.workshop, one.seed, one.profile) for one in shelf)
    return (Counter((one.workshop, one.seed, one.profile) for one in made) - found).total()


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--seeds", type=int, default=200)
    options.add_argument("--only", nargs="+", choices=list(OF_KIND), default=list(OF_KIND), help="kinds of exercise")
    chosen = options.parse_args()
    seeds, kinds = chosen.seeds, chosen.only
    tried: Counter[tuple[str, str]] = Counter()
    counted: Counter[tuple[str, str]] = Counter()
    wrong: Counter[str] = Counter()
    kept: list[tuple[str, JudgedRep, str]] = []
    made: list[Product] = []
    for kind, player, seed in itertools.product(kinds, PLAYERS, range(seeds)):
        readings, alone = with_nobody(kind, player, seed)
        for name in fitting(kind):
            here = in_workshop(kind, readings, workshops()[name].rules(exercise_of(kind), seed, [], TODAY))
            reps = [rep for rep in here.judged if rep.verdict == "counted"]
            tried[name, player] += len(here.judged)
            counted[name, player] += len(reps)
            wrong["verdicts that differ"] += here.judged != alone.judged
            wrong["things too many or too few"] += len(here.made) != len(reps)
            wrong["sentences under 0.8 s"] += here.hasty
            if seed < JOURNAL_SEEDS:
                kept += [(kind, rep, name) for rep in reps]
                made += here.made
    wrong["things missing on the shelf"] = missing_on_the_shelf(kept, made)
    print(f"{seeds} seeds of {len(PLAYERS)} players: counted of tried")
    print("workshop        " + "".join(f"{player:>12}" for player in PLAYERS))
    for name in (name for name in workshops() if any(name in fitting(kind) for kind in kinds)):
        print(f"{name:16}" + "".join(f"{counted[name, who]:>7}/{tried[name, who]:<4}" for who in PLAYERS))
    print(f"things looked for on the shelf: {len(made)}")
    for what, number in wrong.items():
        print(f"{what}: {number}")


if __name__ == "__main__":
    main()
