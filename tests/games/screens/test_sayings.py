"""What is said at work: at a pace that can be read, about every muscle that works, and at once where it says stop.

The pace is our choice (0.8 s); that all muscles are looked at is a fact of the matter.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.players import PLAYERS
from musclewood.games.engine.rep_events import Reading, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.session_events import SessionView
from musclewood.games.gallery.evenings import OF_EACH_KIND
from musclewood.games.kit.pacing import LEAST_S, HeldInSight, PacedWords
from musclewood.games.screens.session.rest_moon import RestMoon
from musclewood.games.screens.session.sayings import STOPS, Sayings, sentence_of
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.signal.simulation.model_patient import Body, ModelPatient

TICK_S = FRAME_S = 0.01  # of body, engine and words


def exercise_of(kind: str) -> PlannedExercise:
    return replace(OF_EACH_KIND[kind], sets=1, reps=3, rest_s=3.0)


def frames(kind: str, player: str, seed: int, limit_s: float) -> Iterator[RepView]:
    """What the engine shows while a simulated patient plays."""
    exercise = exercise_of(kind)
    engine, who = RepEngine(exercise, TICK_S), PLAYERS[player](len(exercise.channels), seed)
    body, chance = Body(ModelPatient(aim_cv=0.08), len(exercise.channels), (seed, 9)), np.random.default_rng(seed)
    for tick in range(round(limit_s / TICK_S)):
        if tick % 6 == 0:
            seen = SessionView("exercise", tick * TICK_S, None, None, exercise, 1, "x", 0.0, rep=engine.view)
            body.aim(who.aim(seen), body.time_s)
        body.step()
        levels = [max(0.0, one.drive * (1 + 0.06 * float(chance.standard_normal())) + 0.01) for one in body.muscles]
        engine.step(Reading(tuple(levels), tuple(level > 0.07 for level in levels)))
        yield engine.view
        if engine.done:
            return


@pytest.mark.full_size
@pytest.mark.parametrize("kind", list(OF_KIND))
@pytest.mark.parametrize("player", ["steady", "shaky", "over-keen", "random"])
def test_no_sentence_is_gone_before_it_can_be_read(kind: str, player: str, full: bool) -> None:
    """Unless the next one says to let go."""
    shortest, changes, raw = 9.0, 0, 0
    for seed in range(200 if full else 1):
        sayings, shown, since_s, before = Sayings(), (), 0.0, ""
        for view in frames(kind, player, seed, 40.0 if full else 16.0):
            said = sayings.step(FRAME_S, view)
            raw, before = raw + (sentence_of(view) != before), sentence_of(view)
            since_s += FRAME_S
            if said != shown:
                if shown and said[0] not in STOPS:
                    shortest = min(shortest, since_s)
                shown, since_s, changes = said, 0.0, changes + 1
    print(f"\n{kind}, {player}: shortest {shortest:.2f} s; {changes} sentences instead of {raw}")
    assert shortest >= LEAST_S - 1e-6
    assert changes >= 2


def view_of(kind: str, **changes: object) -> RepView:
    return replace(RepEngine(exercise_of(kind), TICK_S).view, **changes)  # type: ignore[arg-type]


def engine_at(kind: str, levels: tuple[float, ...], time_s: float) -> RepEngine:
    engine = RepEngine(exercise_of(kind), TICK_S)
    for _ in range(round(time_s / TICK_S)):
        quiet = engine.phase in ("release", "rest")
        now = (0.0,) * len(levels) if quiet else levels
        engine.step(Reading(now, tuple(level > 0.07 for level in now)))
    return engine


@pytest.mark.parametrize(("levels", "expected"), [((0.6, 0.6), "less"), ((0.4, 0.6), "less"), ((0.6, 0.4), "less")])
def test_either_side_above_the_band_asks_for_less(levels: tuple[float, ...], expected: str) -> None:
    assert sentence_of(engine_at("paired", levels, 1.0).view) == f"frame.{expected}"


@pytest.mark.parametrize("levels", [(0.25, 0.25), (0.4, 0.33), (0.33, 0.4)])
def test_a_side_below_the_band_asks_for_more_only_while_the_other_is_not_above(levels: tuple[float, ...]) -> None:
    view = engine_at("paired", levels, 1.0).view
    assert sentence_of(view) in ("frame.more", "frame.alike") and not view.over


def test_a_muscle_that_tightens_in_rest_is_answered_in_the_same_frame_and_the_moon_waits() -> None:
    engine, sayings, moon = RepEngine(exercise_of("hold"), TICK_S), Sayings(), RestMoon()
    heard = []
    for tick in range(round(16.0 / TICK_S)):
        view = engine.view
        stirs = view.phase == "rest" and view.left_s < 1.5
        level = 0.2 if stirs else 0.4 if view.phase in ("ready", "effort") else 0.0
        engine.step(Reading((level,), (level > 0.07,)))
        said = sayings.step(FRAME_S, engine.view)
        moon.step(FRAME_S, engine.view, 3.0)
        if stirs:
            heard.append((tick, said, engine.view.left_s, moon.share, moon.cloud))
            if len(heard) == 30:
                break
    assert heard[0][1] == ("frame.stirred",)
    assert {left_s for _, _, left_s, _, _ in heard} == {heard[0][2]}, "the clock stands"
    assert heard[-1][3] is not None and abs(heard[-1][3] - 0.5) < 0.1, "and so does the moon"
    assert heard[-1][4] > 0.8, "behind its cloud"


def test_a_rest_that_begins_anew_empties_the_moon_gently() -> None:
    moon, shares = RestMoon(), []
    resting = view_of("hold", phase="rest", left_s=0.5, quiet=True, readable=True)
    for view in [resting] * 60 + [replace(resting, phase="release")] * 20 + [replace(resting, left_s=3.0)] * 60:
        moon.step(FRAME_S, view, 3.0)
        shares.append(moon.share)
    assert shares[-1] < 0.05
    assert max(abs(a - b) for a, b in zip(shares[1:], shares, strict=False)) < 0.12, "never a jump"


def test_what_says_stop_is_never_kept_waiting_and_a_wobble_is_not_spoken_of() -> None:
    paced = PacedWords()
    assert paced.step(0.0, ("a",)) == ("a",)
    assert paced.step(0.1, ("b",)) == ("a",)
    assert paced.step(0.1, ("stop",), stop=True) == ("stop",)
    seen = [paced.step(0.1, (("stop",), ("b",))[n % 2]) for n in range(40)]
    assert set(seen) == {("stop",)}, "a wobble"
    seen = [paced.step(0.1, (("a",), ("b",))[n % 2]) for n in range(40)]
    assert seen[-1] != ("stop",), "nobody who wavers is left with what was said before"


def test_a_result_is_not_gone_before_it_can_be_read() -> None:
    """Unless the next effort begins: then nothing is told of the last."""
    held: HeldInSight[str] = HeldInSight()
    assert held.step(0.0, "over") == "over"
    assert [held.step(0.2, "rest") for _ in range(5)] == ["over"] * 3 + ["rest"] * 2
    assert held.step(0.1, None) is None and held.step(0.0, "good") == "good"
