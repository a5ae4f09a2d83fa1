"""The mill shows what two muscles do, and grinds only what the engine grants."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from musclewood.games.engine.rep_events import CueGiven, Reading, RepMade, RepView, SetFinished
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.shelf import product_of
from musclewood.games.gallery.made_up import judged
from musclewood.games.workshops import workshops
from musclewood.games.workshops.millrace.rules import (
    GAINS,
    MARK,
    SHUT,
    SILL,
    MillraceRules,
    gate_way,
    water_height,
)
from musclewood.profiles.plan.dose import PlannedExercise

TODAY, FRAME_S = date(2026, 11, 25), 1 / 60
THIGH = PlannedExercise(
    "thigh", "selective", "Thigh alone", ("millrace",), (0, 1), 1, 3, 1.5, 1.0, 2.0, 30.0, 8.0, 65.0, 8.0, 15.0
)


def mill(shelf: int = 0) -> MillraceRules:
    return MillraceRules(THIGH, 5, [product_of(judged(number), "millrace", TODAY) for number in range(shelf)], TODAY)


def working(*levels: float, **changes: object) -> RepView:
    """Both muscles at these levels during an effort."""
    view = replace(RepEngine(THIGH, FRAME_S).view, phase="effort", readable=True, activation=levels, level=levels)
    return replace(view, over=levels[0] > view.high, opposite=levels[1], **changes)


def evening(rules: MillraceRules, first: float, second: float) -> Iterator[tuple[RepView, list[object]]]:
    """Both muscles obey each cue at once with these efforts; every frame's view and events."""
    engine = RepEngine(THIGH, FRAME_S)
    for _ in range(1200):
        works = engine.view.phase in ("ready", "effort")
        levels = (first * works, second * works)
        events = engine.step(Reading(levels, tuple(level > 0.06 for level in levels)))
        cues = rules.step(FRAME_S, engine.view, events)
        yield engine.view, [*events, *cues]
        if engine.done:
            return


@given(low=st.floats(0.02, 0.5), half=st.floats(0.02, 0.2), first=st.floats(0, 2), second=st.floats(0, 2))
def test_more_effort_is_never_less_water_and_keeps_its_side_of_sill_and_mark(
    low: float, half: float, first: float, second: float
) -> None:
    high = low + 2 * half
    lower, upper = sorted((first, second))
    assert water_height(lower, low, high) <= water_height(upper, low, high)
    for effort in (first, second):
        height = water_height(effort, low, high)
        assert 0.0 <= height <= 1.0
        if abs(effort - low) > 1e-9:
            assert (height > SILL) == (effort > low)
        if abs(effort - high) > 1e-9:
            assert (height > MARK) == (effort > high)


@given(opposite=st.floats(0, 2), ceiling=st.floats(0.02, 0.5))
def test_the_sluice_stands_at_its_mark_exactly_at_the_ceiling(opposite: float, ceiling: float) -> None:
    way = gate_way(opposite, ceiling)
    assert 0.0 <= way <= SHUT
    if abs(opposite - ceiling) > 1e-9:
        assert (way > 1.0) == (opposite > ceiling)


def test_both_muscles_move_water_and_sluice_in_the_same_step() -> None:
    rules = mill()
    rules.step(FRAME_S, working(0.3, 0.03), [])
    water, gate = rules.water, rules.gate
    rules.step(FRAME_S, working(0.36, 0.12), [])
    assert rules.water == water_height(0.36, 0.22, 0.38) > water
    assert rules.gate == gate_way(0.12, 0.15) > gate


@pytest.mark.parametrize(
    ("levels", "runs"),
    [((0.3, 0.03), True), ((0.15, 0.03), False), ((0.45, 0.03), False), ((0.3, 0.2), False), ((0.3, 0.149), True)],
)
def test_the_race_runs_exactly_where_the_engine_would_grant_time(levels: tuple[float, float], runs: bool) -> None:
    engine, rules = RepEngine(THIGH, FRAME_S), mill()
    reading = Reading(levels, tuple(level > 0.06 for level in levels))
    for frame in range(90):
        events = engine.step(reading if frame > 20 else Reading((0.0, 0.0), (False, False)))
        rules.step(FRAME_S, engine.view, events)
    assert rules.running == runs == engine.view.in_band
    assert (rules.race > 0.9) == runs
    assert (rules.spill > 0.9) == (levels[0] > 0.38)
    assert (rules.blocked > 0.9) == (levels[1] > 0.15 and levels[0] <= 0.38)


def test_a_sack_for_every_counted_rep_and_the_shelf_shows_the_same_one() -> None:
    rules, kept = mill(), []
    for _, happened in evening(rules, 0.3, 0.03):
        made = [event.rep for event in happened if isinstance(event, RepMade)]
        kept += [product_of(rep, "millrace", TODAY, len(kept) + number) for number, rep in enumerate(made)]
    assert rules.made == kept and len(kept) == 3
    assert rules.windows_lit == 1.0


@pytest.mark.parametrize("efforts", [(0.6, 0.03), (0.12, 0.03), (0.3, 0.3), (0.0, 0.3), (0.0, 0.0)])
def test_no_other_effort_makes_any_flour(efforts: tuple[float, float]) -> None:
    rules = mill()
    for view, _ in evening(rules, *efforts):
        assert rules.ground == pytest.approx(0.0, abs=0.1)  # what little was earned on the way
        assert view.made == 0
    assert rules.made == [] and rules.windows_lit == 0.0


def test_flour_and_grain_tell_the_hold_and_what_is_left_of_it() -> None:
    rules = mill()
    for view, _ in evening(rules, 0.3, 0.03):
        if view.phase == "effort":
            assert rules.ground == pytest.approx(view.held_s / view.hold_s)
            assert rules.grain <= 1.0 - rules.ground + 0.55  # a hopper that is being filled again
    rules.step(FRAME_S, working(0.3, 0.03, held_s=1.2), [])
    assert rules.grain == pytest.approx(0.2) == 1.0 - rules.ground


def test_the_wheel_turns_with_the_race_alone() -> None:
    rules = mill()
    for _ in range(60):
        rules.step(FRAME_S, working(0.3, 0.03), [])
    turned = rules.wheel
    assert turned > 0.4
    for levels in ((0.5, 0.03), (0.3, 0.3), (0.1, 0.0)):
        for _ in range(120):
            rules.step(FRAME_S, working(*levels), [])
        standing = rules.wheel
        rules.step(FRAME_S, working(*levels), [])
        assert rules.wheel == pytest.approx(standing, abs=1e-4)


def test_answers_take_between_200_and_600_ms() -> None:
    for name, levels in (("race", (0.3, 0.03)), ("spill", (0.5, 0.03)), ("blocked", (0.3, 0.3))):
        rules, taken_s = mill(), 0.0
        while getattr(rules, name) < 0.9:
            rules.step(0.01, working(*levels), [])
            taken_s += 0.01
        assert 0.2 <= taken_s <= 0.6


def test_rest_is_silent_work_is_heard_and_waste_hisses() -> None:
    rules = mill()
    for view, _ in evening(rules, 0.3, 0.03):
        if view.phase in ("rest", "set rest", "release", "done"):
            assert rules.drone.level == 0.0
        elif view.phase == "effort" and view.in_band:
            assert rules.drone.level > 0.8
    for _ in range(60):
        rules.step(FRAME_S, working(0.3, 0.3), [])
    assert rules.drone.breath > 0.9 and rules.drone.accord < 0.1


def test_every_sound_has_a_voice_and_every_sack_its_note() -> None:
    rules, voices = mill(), []
    for _, happened in evening(rules, 0.3, 0.03):
        voices += [one.voice for one in happened if hasattr(one, "voice")]
    assert voices.count("bell") == voices.count("thud") == 3
    assert "grind" in voices
    assert set(voices) <= {*workshops()["millrace"].voices(), "bell", "phrase", "sigh"}
    assert mill().step(FRAME_S, working(0.0, 0.0), [CueGiven(1, 1)])[0].voice == "knock"
    assert mill().step(FRAME_S, working(0.0, 0.0), [SetFinished(1, 3, 0, 3, 0.0, 9.0)]) == []  # no praise for nothing


def test_the_mill_grows_richer_by_what_was_made_and_by_nothing_else() -> None:
    gains = [mill(count).gains for count in (0, 12, 24, 40, 72, 120)]
    assert [len(some) for some in gains] == [0, 1, 2, 3, 4, 5]
    assert gains[-1] == {name for name, _ in GAINS}
    others = [product_of(judged(number), "kiln", TODAY) for number in range(200)]
    assert MillraceRules(THIGH, 5, others, TODAY).gains == set()
