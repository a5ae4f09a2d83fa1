"""What holds for the rules of every workshop there is: they show, and never judge; skill pays, nothing else does."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from functools import cache
from subprocess import run
from sys import executable
from typing import Any

import numpy as np
import pytest
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.players import PLAYERS
from musclewood.games.engine.rep_events import Reading, RepEvent, RepMade, RepMissed, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.session_events import SessionView
from musclewood.games.engine.shelf import FIGURES, product_of
from musclewood.games.running.offscreen import Workbench, play_offscreen
from musclewood.games.running.setting_up import set_up
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.workshops import Rules, workshops
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.signal.simulation.model_patient import Body, ModelPatient
from musclewood.signal.sources.simulated import SimulatedSource

TODAY = date(2026, 11, 25)
TICK_S, FRAME_S, LOOK_EVERY = 0.02, 0.04, 3  # of the engine, of the rules; frames between two looks of a player
PERSON = ModelPatient(aim_cv=0.05)
EVERY = tuple(workshops())
BY_KIND = sorted({(kind, name) for name, workshop in workshops().items() for kind in workshop.kinds})


def asked(kind: str, workshop: str, **changes: Any) -> PlannedExercise:
    """One short set of each kind, about as hard as the templates order it."""
    usual = PlannedExercise(
        "usual", kind, "Usual", (workshop,), (0,), 1, 2, 3.0, 1.0, 2.0, 35.0, 6.0, 80.0, 9.0
    )  # fmt: skip
    own: dict[str, dict[str, Any]] = {
        "quick": {"hold_s": 0.5, "rise_s": 0.5, "tolerance_pct_mvc": 10.0},
        "track": {"hold_s": 5.0, "pattern": (0.4, 0.8, 1.0, 0.7, 0.4), "tolerance_pct_mvc": 8.0},
        "relax": {"hold_s": 8.0, "target_pct_mvc": 6.0, "quiet_pct_mvc": 6.0, "tolerance_pct_mvc": 2.0},
        "selective": {"channels": (0, 1), "opposite_ceiling_pct_mvc": 15.0},
        "paired": {"channels": (0, 1), "difference_pct_mvc": 14.0},
    }
    return replace(usual, **{**own.get(kind, OF_KIND[kind].example), **changes})


@dataclass
class PreparedSession:
    """One exercise, played without chain and screen: a body, the engine, a workshop's rules."""

    exercise: PlannedExercise
    rules: Rules | None
    events: list[RepEvent] = field(default_factory=list)
    earned_beyond_s: float = 0.0  # time that was granted while the muscle was above the band
    time_s: float = 0.0

    def play(self, levels: Iterable[Sequence[float]]) -> PreparedSession:
        engine = RepEngine(self.exercise, TICK_S)
        self.engine, told, before = engine, [], engine.view
        for tick, level in enumerate(levels):
            told += engine.step(Reading(tuple(level), tuple(one > 0.07 for one in level)))
            if tick % 2:
                view = engine.view
                if before.over and view.over and view.kind not in ("track", "quick"):
                    self.earned_beyond_s += max(
                        0.0, view.held_s - before.held_s - 1.5 * TICK_S
                    )  # one tick may lie between
                if self.rules:
                    self.rules.step(FRAME_S, view, told)
                self.events += told
                told, before = [], view
            if engine.done:
                break
        self.events += told
        if self.rules and told:
            self.rules.step(FRAME_S, engine.view, told)
        self.time_s = engine.now_s
        return self

    @property
    def made(self) -> int:
        return sum(isinstance(event, RepMade) for event in self.events)

    @property
    def verdicts(self) -> list[object]:
        return [event.rep for event in self.events if isinstance(event, RepMade | RepMissed)]


def opened(name: str, exercise: PlannedExercise, seed: int = 3) -> Rules:
    return workshops()[name].rules(exercise, seed, [], TODAY)


def with_player(name: str, kind: str, player: str, seed: int, limit_s: float = 24.0) -> PreparedSession:
    """A simulated patient of this character at a workshop, for as long as `limit_s`."""
    exercise = asked(kind, name)
    sitting = PreparedSession(exercise, opened(name, exercise, seed))
    who, body = PLAYERS[player](len(exercise.channels), seed), Body(PERSON, len(exercise.channels), (seed, 9))
    chance = np.random.default_rng((seed, 8))

    def levels() -> Iterator[Sequence[float]]:
        for tick in range(round(limit_s / TICK_S)):
            if tick % (2 * LOOK_EVERY) == 0:
                rep = sitting.engine.view
                seen = SessionView("exercise", tick * TICK_S, None, None, exercise, 1, name, 0.0, rep=rep)
                body.aim(who.aim(seen), body.time_s)
            body.step()
            body.step()
            noise = 1 + 0.04 * chance.standard_normal(len(body.muscles))
            yield [max(0.0, muscle.drive * float(n) + 0.01) for muscle, n in zip(body.muscles, noise, strict=True)]

    return sitting.play(levels())


# --- counting is not the workshop's business
# ----------------------------------------------------------------------------
@cache
def recorded(channels: int, kind: str) -> list[Sequence[float]]:
    """The same activation every time, half a minute of it: efforts too weak, right, too strong, too short, and with the
    other muscle joining in."""
    chance, level, ticks = np.random.default_rng(12), np.zeros(channels), []
    for effort in ((0.35, 0.05), (0.2, 0.02), (0.5, 0.03), (0.35, 0.3), (0.35, 0.34), (0.36, 0.05), (0.0, 0.0)):
        for tick in range(round(4.6 / TICK_S)):
            aim = np.asarray(effort[:channels]) * (tick * TICK_S < (0.9 if kind == "quick" else 3.6))
            level = level + (aim - level) * TICK_S / 0.1
            ticks.append(np.maximum(0.0, level * (1 + 0.04 * chance.standard_normal(channels))).tolist())
    return ticks


@pytest.mark.parametrize(("kind", "name"), BY_KIND)
def test_the_same_activation_is_judged_alike_in_every_workshop(kind: str, name: str) -> None:
    """Engine alone, with this workshop, and with every other that allows the kind, changed after every single frame."""
    exercise = asked(kind, name, reps=3, **({"hold_s": 0.7} if kind == "relax" else {}))
    alone = PreparedSession(exercise, None).play(recorded(len(exercise.channels), kind))
    here = PreparedSession(exercise, opened(name, exercise)).play(recorded(len(exercise.channels), kind))
    wanderer = Wandering(exercise, [other for allowed, other in BY_KIND if allowed == kind])
    moving = PreparedSession(exercise, wanderer).play(recorded(len(exercise.channels), kind))
    assert alone.verdicts == here.verdicts == moving.verdicts
    assert len(alone.verdicts) >= 2


class Wandering:
    """Rules that move house with every frame."""

    def __init__(self, exercise: PlannedExercise, names: Sequence[str]) -> None:
        self._all = [opened(name, exercise, seed) for seed, name in enumerate([*names, *names])]
        self._frame = 0
        self.drone, self.made = self._all[0].drone, self._all[0].made

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[Any]:
        self._frame += 1
        return list(self._all[self._frame % len(self._all)].step(step_s, view, events))


def test_a_whole_session_is_judged_alike_with_and_without_a_workshop(order: Callable[..., Any], tmp_path: Any) -> None:
    """Through source, chain, session and journal: the same samples, with a workshop at work on them and without."""
    prescription = order(sets=1, reps=2, hold_s=1.0, rest_s=1.0, trial_s=1.0)
    now, judged = datetime(2026, 6, 1, 12, tzinfo=UTC), []
    for number, workbench in enumerate((None, Workbench(1, TODAY))):
        supply = Supply(SimulatedSource(PERSON, channels=1, seed=4, envelope=True), PLAYERS["shaky"](1, 2))
        with Journal.open(tmp_path / f"{number}.sqlite") as journal:
            sitting = set_up(prescription, journal, supply, clock=lambda: now, by_ticks=True)
            player = {"player": supply.player, "fast": True, "frame_s": 0.1}
            play_offscreen(sitting.conductor, lambda line: None, workbench=workbench, **player)
            judged.append(journal.records(1, RepRecord))
    assert judged[0] == judged[1]
    assert "counted" in [rep.verdict for rep in judged[0]]


@pytest.mark.parametrize("name", EVERY)
def test_one_thing_is_made_for_every_counted_rep_and_it_is_the_one_that_the_shelf_keeps(name: str) -> None:
    kind = workshops()[name].kinds[0]
    sitting = with_player(name, kind, "steady", 1, 14.0)
    assert sitting.rules is not None
    assert len(sitting.rules.made) == sitting.made > 0
    reps = [event.rep for event in sitting.events if isinstance(event, RepMade)]
    shelf = [product_of(rep, name, TODAY, place) for place, rep in enumerate(reps)]
    for made, kept in zip(sitting.rules.made, shelf, strict=True):
        assert (made.workshop, made.seed, made.made_on, made.profile) == (name, kept.seed, kept.made_on, kept.profile)
        assert {key: made.figures[key] for key in FIGURES} == {key: kept.figures[key] for key in FIGURES}


# --- players
# ------------------------------------------------------------------------------------------------------------
@pytest.mark.full_size
@pytest.mark.parametrize("name", EVERY)
def test_skill_pays_and_nothing_else_does(name: str, full: bool) -> None:
    """Steady beats shaky, asleep makes nothing, random next to nothing, and more than was asked gains nothing.

    Somebody asleep answers no cue. Where stillness is what is asked (`relax`) their muscle does just that: the rep
    engine listens to the muscle and not to the person, so there the sleeper makes as much as the steady one.
    """
    kind = workshops()[name].kinds[0]
    seeds, limit_s = (range(200), 40.0) if full else (range(1), {"relax": 24.0, "track": 17.0}.get(kind, 13.0))
    all_of: dict[str, list[PreparedSession]] = {
        player: [with_player(name, kind, player, seed, limit_s) for seed in seeds]
        for player in ("steady", "shaky", "over-keen", "random", "asleep")
    }
    made = {player: sum(sitting.made for sitting in sittings) for player, sittings in all_of.items()}
    pace = {
        player: sum(map(earned_s, sittings)) / sum(one.time_s for one in sittings)
        for player, sittings in all_of.items()
    }
    most = 2 * len(seeds)
    print(f"\n{name}: of {most} " + ", ".join(f"{who} {made[who]} ({pace[who]:.2f})" for who in made))
    assert made["steady"] >= 0.9 * most
    assert made["steady"] >= made["shaky"] and pace["steady"] > pace["shaky"]
    assert made["random"] <= 0.15 * most and pace["random"] <= 0.05 * pace["steady"]
    assert made["over-keen"] <= made["steady"] and pace["over-keen"] < pace["steady"]
    assert made["asleep"] == (made["steady"] if kind == "relax" else 0)
    for sittings in all_of.values():
        assert all(len(one.rules.made) == one.made for one in sittings if one.rules)
        assert sum(one.earned_beyond_s for one in sittings) == pytest.approx(0.0, abs=1e-9)


def earned_s(sitting: PreparedSession) -> float:
    """Seconds that counted in what was made."""
    return sum(event.rep.in_band_s for event in sitting.events if isinstance(event, RepMade))


@pytest.mark.parametrize("name", EVERY)
def test_effort_beyond_the_band_makes_nothing(name: str) -> None:
    kind = workshops()[name].kinds[0]
    exercise = asked(kind, name)
    beyond = (exercise.target_pct_mvc + exercise.tolerance_pct_mvc) / 100 + 0.1

    def levels() -> Iterator[Sequence[float]]:
        level = 0.0
        for _ in range(round(20.0 / TICK_S)):
            # Let go as the engine asks, so that it is strength alone that spoils it.
            works = sitting.engine.view.phase in ("ready", "effort")
            level += (beyond * works - level) * TICK_S / 0.02
            yield [level] * len(exercise.channels)

    sitting = PreparedSession(exercise, opened(name, exercise))
    assert sitting.play(levels()).made == 0
    assert sitting.rules is not None and sitting.rules.made == []


# --- pure, and at any step
# ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", EVERY)
def test_the_same_evening_twice_is_the_same(name: str) -> None:
    kind = workshops()[name].kinds[0]

    def evening() -> tuple[list[Any], list[Any], dict[str, Any]]:
        exercise, cues = asked(kind, name), []
        rules = opened(name, exercise)
        engine, told = RepEngine(exercise, TICK_S), []
        for tick, level in enumerate(recorded(len(exercise.channels), kind)[:700]):
            told += engine.step(Reading(tuple(level), tuple(one > 0.07 for one in level)))
            if tick % 2:
                cues += rules.step(FRAME_S, engine.view, told)
                told = []
        return cues, rules.made, plain(rules)

    assert evening() == evening()


def plain(thing: object) -> Any:
    """A deep copy of everything an object holds, as plain data that can be compared."""
    if isinstance(thing, dict):
        return {key: plain(value) for key, value in thing.items()}
    if isinstance(thing, list | tuple | set | frozenset):
        return sorted(map(repr, thing)) if isinstance(thing, set | frozenset) else [plain(part) for part in thing]
    if isinstance(thing, np.ndarray):
        return thing.tolist()
    if hasattr(thing, "getstate"):  # a random generator
        return repr(thing.getstate())
    if hasattr(thing, "__dict__"):
        return {"is": type(thing).__name__, **{key: plain(value) for key, value in vars(thing).items()}}
    if hasattr(thing, "__slots__") and not isinstance(thing, str | bytes):
        return {"is": type(thing).__name__, **{key: plain(getattr(thing, key)) for key in thing.__slots__}}
    return copy.copy(thing)


@pytest.mark.parametrize("name", EVERY)
def test_what_answers_does_not_hang_on_the_length_of_a_step(name: str) -> None:
    """A second of rest in 30 steps and in 120 ends with the same drone, the same things made
    and the same sounds due."""
    kind = workshops()[name].kinds[0]
    exercise = asked(kind, name)
    view = RepEngine(exercise, TICK_S).view
    rested = replace(view, phase="rest", left_s=1.0, readable=True, activation=(0.0,) * len(exercise.channels))
    ends = []
    for steps in (30, 120):
        rules = opened(name, exercise)
        for _ in range(steps):
            rules.step(1.0 / steps, rested, [])
        ends.append((rules.drone, rules.made))
    assert ends[0] == ends[1]
    assert ends[0][0].level == 0.0


@pytest.mark.parametrize("name", EVERY)
def test_an_unreadable_signal_is_borne_and_silent(name: str) -> None:
    exercise = asked(workshops()[name].kinds[0], name)
    rules, view = opened(name, exercise), RepEngine(exercise, TICK_S).view
    nothing = (float("nan"),) * len(exercise.channels)
    for phase in ("ready", "effort", "release", "rest"):
        rules.step(FRAME_S, replace(view, phase=phase, readable=False, activation=nothing, level=nothing), [])
        assert rules.drone.level == 0.0
    assert "nan" not in repr(plain(rules)).lower()


def test_the_rules_of_no_workshop_know_pygame() -> None:
    code = (
        "import sys; from datetime import date; from musclewood.games.workshops import workshops\n"
        "from musclewood.games.gallery.evenings import EXERCISES\n"
        "for name, workshop in workshops().items(): workshop.rules(EXERCISES[name], 1, [], date(2026, 1, 1))\n"
        "sys.exit('pygame' in sys.modules)"
    )
    assert run([executable, "-c", code], check=False).returncode == 0
