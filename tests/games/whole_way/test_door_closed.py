"""Reps with the door closed: judged by the same engine, shown as time and not as effort, told beforehand, reported
apart.

Intervals: Wilson 1927, Newcombe 1998.
"""

from __future__ import annotations

import importlib.util
import math
import sys
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pygame
import pytest
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.rep_events import JudgedRep, Reading, RepMade, RepMissed, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.gallery.evenings import OF_EACH_KIND
from musclewood.games.kit.canvas import Canvas
from musclewood.games.screens.session.sayings import Sayings
from musclewood.games.workshops import workshops
from musclewood.games.workshops.door_pictures import _mist, _panel, draw_door, prepare_door
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.profiles.report.unseen import Share, seeing, share_of
from scipy.stats import binomtest

TICK_S = 0.02
BENCH = Path(__file__).parents[2] / "bench" / "leaning.py"


def exercise_of(kind: str, share: float, **changes: object) -> PlannedExercise:
    usual = {"sets": 1, "reps": 6, "rest_s": 1.0, "unseen_share": share}
    return replace(OF_EACH_KIND[kind], **{**usual, **changes})


def recorded(channels: int) -> list[tuple[float, ...]]:
    chance, ticks = np.random.default_rng(4), []
    for effort in (0.4, 0.25, 0.41, 0.6, 0.4, 0.39):
        for tick in range(round(8.0 / TICK_S)):
            level = effort if tick * TICK_S < 6.0 else 0.0
            ticks.append(tuple(max(0.0, level * (1 + 0.04 * chance.standard_normal())) for _ in range(channels)))
    return ticks


@pytest.mark.parametrize("kind", list(OF_KIND))
def test_the_same_muscle_is_judged_alike_with_and_without_seeing(kind: str) -> None:
    judged: list[list[JudgedRep]] = []
    for share in (0.0, 0.5, 1.0):
        engine, found = RepEngine(exercise_of(kind, share), TICK_S), []
        for levels in recorded(len(OF_EACH_KIND[kind].channels)):
            events = engine.step(Reading(levels, tuple(level > 0.07 for level in levels)))
            found += [event.rep for event in events if isinstance(event, RepMade | RepMissed)]
        judged.append(found)
    assert judged[0]
    assert [replace(rep, unseen=False) for rep in judged[1]] == judged[0]
    assert [replace(rep, unseen=False) for rep in judged[2]] == judged[0]
    assert not any(rep.unseen for rep in judged[0])
    assert not judged[1][0].unseen, "never the first"
    assert all(rep.unseen for rep in judged[2]) and (len(judged[1]) < 2 or judged[1][1].unseen)


@pytest.mark.parametrize("kind", list(OF_KIND))
def test_nothing_that_is_shown_follows_the_effort(kind: str) -> None:
    """Two muscles, one at the target and one far above or below, look the same from cue to end of effort."""

    def views(level: float) -> list[RepView]:
        engine, seen = RepEngine(exercise_of(kind, 1.0), TICK_S), []
        for _ in range(round(4.0 / TICK_S)):
            working = engine.phase in ("ready", "effort")
            levels = (level if working else 0.0,) * len(OF_EACH_KIND[kind].channels)
            engine.step(Reading(levels, tuple(one > 0.05 for one in levels)))
            if engine.view.phase == "effort":
                seen.append(engine.view)
        return seen

    for one, other in zip(views(0.4), views(0.2), strict=False):
        if one.rep_number == other.rep_number == 1 and one.last_verdict is other.last_verdict is None:
            names = [field.name for field in fields(RepView)]
            assert [name for name in names if getattr(one, name) != getattr(other, name)] == [] and one.unseen


@pytest.mark.parametrize("name", list(workshops()))
def test_every_workshop_closes_its_door_and_is_silent_behind_it(name: str) -> None:
    from datetime import date

    workshop = workshops()[name]
    exercise = exercise_of(workshop.kinds[0], 1.0)
    rules, engine = workshop.rules(exercise, 3, [], date(2026, 11, 25)), RepEngine(exercise, TICK_S)
    doors, drones = [], []
    for _ in range(round(3.0 / TICK_S)):
        level = 0.4 if engine.phase in ("ready", "effort") else 0.0
        levels = (level,) * len(exercise.channels)
        events = engine.step(Reading(levels, tuple(one > 0.07 for one in levels)))
        rules.step(TICK_S, engine.view, events)
        if engine.view.unseen:
            doors.append(rules.door)
            drones.append(rules.drone.level)
    assert max(doors, default=0.0) > 0.5
    assert set(drones) == {0.0}


def test_no_two_workshops_close_alike() -> None:
    doors = [(one.door.way, one.door.stuff, one.door.colour) for one in workshops().values()]
    assert len(set(doors)) == len(doors) == 9


@pytest.mark.parametrize("name", list(workshops()))
def test_a_door_is_painted_with_its_workshop_so_that_no_frame_waits_for_it(name: str) -> None:
    """At sizes at which pixels are rounded either way."""
    door = workshops()[name].door
    for width, height in ((320, 180), (333, 187), (448, 252)):
        canvas = Canvas(pygame.Surface((width, height)))
        prepare_door(door, canvas.scale)
        before = [painted.cache_info().misses for painted in (_panel, _mist)]
        draw_door(canvas, door, 1.0)
        draw_door(canvas, door, 0.5)
        assert [painted.cache_info().misses for painted in (_panel, _mist)] == before


def test_it_is_told_beforehand_and_neither_more_nor_less_is_asked_for() -> None:
    engine, sayings, said = RepEngine(exercise_of("hold", 1.0), TICK_S), Sayings(), set()
    first = None
    for _ in range(round(8.0 / TICK_S)):
        view = engine.view
        level = 0.25 if view.phase == "effort" or (view.phase == "ready" and len(said) and first) else 0.0
        engine.step(Reading((level,), (level > 0.07,)))
        key = sayings.step(TICK_S, engine.view)[0]
        first = first or (key == "frame.unseen-ready")
        said.add(key)
    assert first and "frame.unseen-effort" in said
    assert not said & {"frame.more", "frame.less", "frame.effort"}


# --- who leans on the display is told from who has learned
# ---------------------------------------------------------------
def test_whoever_leans_on_the_display_is_told_from_whoever_has_learned() -> None:
    """By the report's two figures, within four sessions; the benchmark plays 200 seeds."""
    name = "musclewood_leaning"
    spec = importlib.util.spec_from_file_location(name, BENCH)
    assert spec is not None and spec.loader is not None
    sys.modules[name] = bench = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bench)
    assert bench.told("half", bench.RATES_PER_S[0], range(2)) == bench.told("half", 0.0, range(2)) == 2


def test_intervals_are_those_that_were_published() -> None:
    """Newcombe 1998, table II (a): 56 of 70 and 48 of 80 have 0.0524 to 0.3339 by his method 10."""
    reps = [replaced(n < 56, False) for n in range(70)] + [replaced(n < 48, True) for n in range(80)]
    found = seeing(reps)
    assert found is not None
    assert (found.low, found.high) == (pytest.approx(0.0524, abs=5e-5), pytest.approx(0.3339, abs=5e-5))
    assert isinstance(found.seen, Share) and math.isclose(found.seen.value, 0.8)
    for made, tried in ((0, 1), (1, 1), (0, 9), (7, 9), (300, 301)):  # Wilson's, as another library has it
        share = share_of([replaced(n < made, False) for n in range(tried)])
        other = binomtest(made, tried).proportion_ci(method="wilson")
        assert share is not None and (share.low, share.high) == pytest.approx((other.low, other.high), abs=1e-12)


def replaced(made: bool, unseen: bool) -> RepRecord:
    return RepRecord(
        "a", "hold", "kiln", 1, 1, "counted" if made else "short", 0, 1, 1, 1, 40, 40, 0.9, 1, 40, 5, unseen=unseen
    )
