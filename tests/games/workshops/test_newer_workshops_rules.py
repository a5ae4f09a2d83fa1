"""Rope walk, smithy and rose window: what effort moves, at once, and what a repetition leaves behind."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.gallery.evenings import EXERCISES
from musclewood.games.gallery.made_up import judged
from musclewood.games.workshops import workshops
from musclewood.games.workshops.guide import GUIDE_STEPS, Guide, note_of
from musclewood.games.workshops.ropewalk.coils import widths_of
from musclewood.games.workshops.smithy.keys import MOST_RINGS, rings_for, teeth_of, temper
from musclewood.games.workshops.smithy.rules import BRISKEST, briskness
from musclewood.profiles.plan.dose import PlannedExercise

TODAY, STEP_S = date(2026, 11, 25), 1 / 60


def opened(name: str) -> tuple[Any, Any, PlannedExercise]:
    exercise = EXERCISES[name]
    view = replace(RepEngine(exercise, STEP_S).view, readable=True)
    return workshops()[name].rules(exercise, 3, [], TODAY), view, exercise


@pytest.mark.parametrize(("name", "moved"), [("ropewalk", "haul"), ("smithy", "lift"), ("rose_window", "iron")])
def test_effort_moves_the_hero_on_the_same_tick_and_only_upwards(name: str, moved: str) -> None:
    rules, view, _ = opened(name)
    heights = []
    for effort in np.linspace(0.0, 1.3 * view.high, 14):
        rules.step(STEP_S, replace(view, phase="effort", activation=(effort,), level=(effort,)), [])
        heights.append(getattr(rules, moved))
    assert heights[0] == 0.0
    assert all(low < high for low, high in itertools.pairwise(heights) if high < 1.0)


@pytest.mark.parametrize(("name", "moved"), [("ropewalk", "haul"), ("smithy", "lift")])
def test_between_the_marks_is_within_the_band(name: str, moved: str) -> None:
    rules, view, _ = opened(name)
    for share, inside in ((-0.1, False), (0.1, True), (0.9, True), (1.1, False)):
        effort = view.low + share * (view.high - view.low)
        for _ in range(120):  # the marks settle
            rules.step(STEP_S, replace(view, phase="effort", activation=(effort,), level=(effort,)), [])
        assert (rules.mark_low <= getattr(rules, moved) <= rules.mark_high) == inside


def test_the_top_runs_with_the_time_that_the_engine_grants() -> None:
    rules, view, exercise = opened("ropewalk")
    rules.step(STEP_S, replace(view, phase="effort", held_s=0.5 * exercise.hold_s), [])
    assert rules.laid == pytest.approx(0.5)


def test_panes_take_the_effort_as_it_was_and_shine_where_it_was_asked() -> None:
    rules, view, exercise = opened("rose_window")
    for tick in range(round(exercise.hold_s / STEP_S)):
        moment = tick * STEP_S
        wanted = rules.pattern_height(moment - 0.05) * 1.35 * view.target
        effort = wanted if moment < 0.5 * exercise.hold_s else wanted + 3 * (view.high - view.target)
        told = replace(view, phase="effort", effort_s=moment, activation=(effort,), level=(effort,), left_s=0.0)
        rules.step(STEP_S, told, [])
    half = len(rules.panes) // 2
    assert len(rules.panes) >= 46
    assert np.mean([pane.true for pane in rules.panes[: half - 1]]) > 0.9
    assert not any(pane.true for pane in rules.panes[half + 2 :])


def test_a_turn_of_the_pattern_is_announced_once_and_by_the_pitch_of_the_drone() -> None:
    guide = Guide(np.asarray((0.4, 1.0, 0.4)), 4.0)
    view = replace(RepEngine(EXERCISES["rose_window"], STEP_S).view, phase="effort", left_s=0.0)
    told = [(tick * STEP_S, guide.due(replace(view, effort_s=tick * STEP_S))) for tick in range(240)]
    heard = [(moment, note) for moment, note in told if note is not None]
    assert [note for _, note in heard] == [note_of(0.4), note_of(1.0), note_of(0.4)]
    assert heard[1][0] == pytest.approx(2.0 - 0.45, abs=2 * STEP_S)
    assert GUIDE_STEPS[note_of(1.0)] == 7  # a fifth above the root: where the drone is on target


def test_things_are_drawn_from_the_repetition() -> None:
    even, uneven = (40.0,) * 20, (40.0, 40.0, 40.0, 60.0, 20.0) * 4
    assert np.ptp(widths_of(even, 40.0)) == pytest.approx(0.0)
    assert np.ptp(widths_of(uneven, 40.0)) > 0.3
    assert teeth_of((10.0, 40.0, 10.0)).argmax() == 4  # the peak is the longest tooth
    assert temper(0.0) != temper(0.5) != temper(1.0)


@pytest.mark.parametrize("name", ["ropewalk", "smithy", "rose_window"])
def test_what_was_made_before_stands_there_and_numbers_go_on(name: str) -> None:
    before: list[Product] = [product_of(judged(number), name, TODAY, number) for number in range(7)]
    rules: Any = workshops()[name].rules(EXERCISES[name], 3, [*before, product_of(judged(1), "kiln", TODAY)], TODAY)
    assert len(rules.before) == rules.place == 7


def test_skill_is_seen_in_a_key_without_its_colour() -> None:
    """The brisker the rep, the more rings of brass; the briskest wears them all."""
    worn = [rings_for(briskness({"rise_pct_mvc_per_s": 40.0 * rise, "target_pct_mvc": 40.0})) for rise in range(12)]
    assert worn == sorted(worn) and worn[0] == 0 and worn[round(BRISKEST)] == MOST_RINGS
    assert set(worn) == set(range(MOST_RINGS + 1)), "no step is left out"
