"""The kiln shows what the muscle does and keeps what counted; it cannot be played into more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from subprocess import run
from sys import executable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from musclewood.games.engine.rep_events import RepView, SetFinished
from musclewood.games.workshops import workshops
from musclewood.games.workshops.gauge import Gauge

Build = Callable[..., Any]


def test_a_pot_for_every_counted_rep_and_none_beside(evening: Build) -> None:
    played = evening("steady").play()
    assert len(played.rules.made) == len(played.counted) == 6
    for pot, made in zip(played.rules.made, played.counted, strict=True):
        assert pot.profile == made.rep.effort_profile
        assert pot.figures["steadiness"] == made.rep.steadiness
        assert pot.workshop == "kiln"


@pytest.mark.parametrize("who", ["asleep", "weak", "over-keen"])
def test_nothing_is_made_without_effort_in_the_band(evening: Build, who: str) -> None:
    played = evening(who, sets=1, reps=2).play()
    assert played.counted == [] and played.rules.made == []
    assert played.rules.windows_lit == 0.0


def test_the_kiln_never_makes_more_than_was_counted_for_a_shaky_patient(evening: Build) -> None:
    played = evening("shaky").play()
    assert len(played.rules.made) == len(played.counted) > 0


def test_heat_beyond_the_band_fires_nothing_and_goes_up_in_smoke(evening: Build) -> None:
    played = evening("over-keen")
    smoke = [played.rules.smoke for view, _ in played.frames(8.0) if view.phase == "effort" and view.effort_s > 1.0]
    assert max(smoke) > 0.95
    assert played.rules.fired == pytest.approx(0.0, abs=0.12)  # what little was earned on the way up


def test_the_pot_fires_exactly_as_the_engine_grants(evening: Build) -> None:
    played = evening("steady")
    for view, _ in played.frames(12.0):
        if view.phase == "effort":
            assert played.rules.fired == pytest.approx(view.held_s / view.hold_s, abs=1e-9)


@given(
    target=st.floats(0.05, 0.95),
    tolerance=st.floats(0.01, 0.2),
    first=st.floats(0, 2),
    second=st.floats(0, 2),
)
def test_more_effort_never_burns_lower_and_keeps_its_side_of_the_marks(
    target: float, tolerance: float, first: float, second: float
) -> None:
    low, high = max(0.005, target - tolerance), target + tolerance
    gauge = Gauge.of(low, target, high)
    lower, upper = sorted((first, second))
    assert gauge.height(lower) <= gauge.height(upper)
    for effort in (first, second):
        assert (gauge.height(effort) >= gauge.low_height - 1e-9) == (effort >= low - 1e-9) or effort == pytest.approx(
            low
        )
        assert (gauge.height(effort) > gauge.high_height + 1e-9) == (effort > high + 1e-9) or effort == pytest.approx(
            high
        )
    assert 0.1 < gauge.low_height < gauge.high_height < 0.9
    assert gauge.high_height - gauge.low_height >= 0.15 - 1e-9


def test_effort_moves_the_flame_in_the_same_step(evening: Build) -> None:
    played = evening("steady")
    view = next(view for view, _ in played.frames() if view.phase == "effort")
    jumped = replace(view, activation=(view.high * 1.3,))
    before = played.rules.flame
    played.rules.step(1 / 60, jumped, [])
    assert played.rules.flame == played.rules.gauge.height(view.high * 1.3) > before


def test_answers_take_between_200_and_600_ms(evening: Build) -> None:
    played = evening("steady")
    view: RepView = next(view for view, _ in played.frames() if view.phase == "effort")
    played.rules.glow = 0.0
    taken_s = 0.0
    while played.rules.glow < 0.9:
        played.rules.step(0.01, replace(view, in_band=True), [])
        taken_s += 0.01
    assert 0.2 <= taken_s <= 0.6


def test_the_same_evening_twice_is_the_same(evening: Build) -> None:
    first, second = evening("shaky").play(), evening("shaky").play()
    assert first.rules.made == second.rules.made
    assert first.cues == second.cues


def test_pots_of_other_evenings_have_other_seeds(evening: Build) -> None:
    today = evening("steady", seed=5).play().rules.made
    tomorrow = evening("steady", seed=6, shelf=list(today)).play().rules.made
    seeds = [pot.seed for pot in [*today, *tomorrow]]
    assert len(set(seeds)) == len(seeds)
    assert [pot.figures["place"] for pot in tomorrow] == [6.0, 7.0, 8.0, 9.0, 10.0, 11.0]


def test_rest_is_silent_and_work_is_heard(evening: Build) -> None:
    played = evening("steady")
    for view, _ in played.frames():
        if view.phase in ("rest", "set rest", "release", "done"):
            assert played.rules.drone.level == 0.0
        elif view.phase == "effort" and view.in_band:
            assert played.rules.drone.level > 0.8
            assert played.rules.drone.height == pytest.approx(view.activation[0] / view.target)


def test_each_pot_sounds_and_each_set_ends_with_a_phrase(evening: Build) -> None:
    played = evening("steady").play()
    voices = [cue.voice for cue in played.cues]
    assert voices.count("bell") == 6
    assert voices.count("phrase") == sum(isinstance(event, SetFinished) for event in played.events) + 1
    known = {*workshops()["kiln"].voices(), "bell", "phrase", "sigh"}
    assert set(voices) <= known


def test_windows_light_one_rep_after_the_other(evening: Build) -> None:
    played = evening("steady")
    lit = [played.rules.windows_lit for _ in played.frames()]
    assert (np.diff(lit) >= 0).all()
    assert lit[-1] == 1.0


def test_an_unreadable_signal_shows_no_flame(evening: Build) -> None:
    played = evening("steady")
    view = next(view for view, _ in played.frames() if view.in_band and view.phase == "effort")
    played.rules.step(1 / 60, replace(view, readable=False, activation=(float("nan"),), level=(float("nan"),)), [])
    assert (played.rules.flame, played.rules.core, played.rules.drone.level) == (0.0, 0.0, 0.0)


def test_step_length_does_not_change_the_outcome(evening: Build) -> None:
    """Two half steps lead where one whole step leads, to within the easing's own rounding."""
    whole, halves = evening("steady"), evening("steady")
    for (view, _), (same, _) in zip(whole.frames(5.0), halves.frames(5.0), strict=True):
        assert view == same
    rested = replace(view, phase="rest", left_s=1.0)
    whole.rules.step(0.2, rested, [])
    for _ in range(2):
        halves.rules.step(0.1, rested, [])
    assert halves.rules.rest == pytest.approx(whole.rules.rest, abs=1e-9)


def test_rules_know_no_pygame() -> None:
    code = (
        "import sys, importlib, musclewood.games.workshops as w\n"
        "for name in w.workshops(): importlib.import_module(f'{w.__name__}.{name}.rules')\n"
        "sys.exit('pygame' in sys.modules)"
    )
    assert run([executable, "-c", code], check=False).returncode == 0


def test_every_folder_is_a_workshop_for_known_kinds() -> None:
    folders = {
        path.parent.name
        for path in Path(__import__("musclewood.games.workshops").games.workshops.__path__[0]).glob("*/__init__.py")
    }
    assert set(workshops()) == folders
    assert workshops()["kiln"].kinds == ("hold",)
