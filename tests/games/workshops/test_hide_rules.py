"""The hide shows how quiet the muscle is and keeps what counted; nothing else brings an animal near."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from musclewood.games.engine.rep_events import Reading, RepEvent, RepMade, RepView, SetFinished
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.sound.synthesis import HIGHEST_PEAK
from musclewood.games.workshops import SoundCue, workshops
from musclewood.games.workshops.hide.rules import FULL_BEND, HideRules
from musclewood.games.workshops.hide.visitors import VISITORS, met_before, unlocked, visitor_of
from musclewood.profiles.plan.dose import PlannedExercise

FRAME_S, TICKS = 1 / 30, 2
Will = Callable[[RepView, float], float]
PLAN = PlannedExercise("neck", "relax", "Be quiet", ("hide",), (0,), 2, 1, 3.0, 1.0, 1.0, 6.0, 1.0, 25.0, 6.0)

WILLS: dict[str, Will] = {
    "asleep": lambda view, time_s: 0.0,
    "calm": lambda view, time_s: 0.02,
    "tense": lambda view, time_s: 0.12,
    "startled": lambda view, time_s: 0.12 if 3.6 < time_s < 4.6 else 0.02,  # within the first attempt
}


@dataclass
class Evening:
    """One exercise at the hide, frame by frame."""

    who: str
    plan: PlannedExercise = PLAN
    shelf: list[Product] = field(default_factory=list)
    events: list[RepEvent] = field(default_factory=list)
    cues: list[SoundCue] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rules = HideRules(self.plan, 5, self.shelf, date(2026, 11, 25))
        self.engine = RepEngine(self.plan, FRAME_S / TICKS)

    def frames(self, limit_s: float = 60.0) -> Iterator[RepView]:
        for frame in range(round(limit_s / FRAME_S)):
            level = WILLS[self.who](self.engine.view, frame * FRAME_S)
            told = [event for _ in range(TICKS) for event in self.engine.step(Reading((level,), (level > 0.08,)))]
            self.events += told
            self.cues += self.rules.step(FRAME_S, self.engine.view, told)
            yield self.engine.view
            if self.engine.done:
                return

    def play(self) -> Evening:
        for _ in self.frames():
            pass
        return self

    @property
    def counted(self) -> list[RepMade]:
        return [event for event in self.events if isinstance(event, RepMade)]


@cache
def played_through(who: str) -> Evening:
    """A whole evening, played once for all tests that only look at it."""
    return Evening(who).play()


def midway(evening: Evening, at_s: float = 1.5) -> RepView:
    return next(view for view in evening.frames() if view.phase == "effort" and view.effort_s > at_s)


@pytest.mark.parametrize("who", ["asleep", "calm", "startled"])
def test_a_page_for_every_counted_rep_and_none_beside(who: str) -> None:
    """Here a muscle that sleeps does just what is asked."""
    played = played_through(who)
    assert len(played.rules.made) == len(played.counted) == 2
    for place, (page, made) in enumerate(zip(played.rules.made, played.counted, strict=True)):
        assert page == product_of(made.rep, "hide", date(2026, 11, 25), place)


def test_quiet_alone_makes_nothing_without_a_counted_rep() -> None:
    played = Evening("asleep")
    view = midway(played, 2.5)
    for _ in range(300):
        played.rules.step(FRAME_S, replace(view, held_s=view.hold_s), [])
    assert played.rules.sketched == 1.0 and played.rules.made == [] and played.rules.windows_lit == 0.0


def test_a_tense_muscle_is_left_alone() -> None:
    played = Evening("tense", replace(PLAN, sets=1))
    near = max(played.rules.nearness for _ in played.frames())
    assert played.counted == [] and played.rules.made == [] and near == pytest.approx(0.0, abs=0.01)


def test_effort_bends_the_stalk_in_the_same_step_and_to_scale() -> None:
    played = Evening("calm")
    view = midway(played)
    for times in (0.0, 0.5, 1.0, 2.0, 9.0):
        played.rules.step(FRAME_S, replace(view, activation=(times * view.quiet_below,)), [])
        assert played.rules.bend == pytest.approx(min(times, FULL_BEND))


def test_the_sketch_grows_exactly_as_the_engine_grants() -> None:
    played = Evening("startled")
    for view in played.frames(10.0):
        if view.phase == "effort":
            assert played.rules.sketched == pytest.approx(view.held_s / view.hold_s, abs=1e-9)


def test_the_quieter_the_nearer() -> None:
    def nearest(level: float) -> float:
        rules = HideRules(PLAN, 5, [], date(2026, 11, 25))
        view = replace(midway(Evening("asleep")), activation=(level,), level=(level,), held_s=2.4)
        for _ in range(120):
            rules.step(FRAME_S, view, [])
        return rules.nearness

    stages = [nearest(level) for level in (0.055, 0.04, 0.02, 0.0)]
    assert stages == sorted(stages) and stages[-1] > stages[0] + 0.1


def test_a_stir_stops_the_animal_and_a_long_one_sends_it_back() -> None:
    played, nearness, sketched = Evening("startled"), [], []
    for _ in played.frames(5.2):
        nearness.append(played.rules.nearness)
        sketched.append(played.rules.sketched)
    assert max(nearness) > 0.25 and nearness[-1] < max(nearness) - 0.02
    assert max(sketched) > 0.5 and min(sketched[len(sketched) // 2 :]) == 0.0
    voices = [cue.voice for cue in played.cues]
    assert 1 <= voices.count("rustle") <= 2


def test_a_missed_rep_keeps_its_animal() -> None:
    played = Evening("tense", replace(PLAN, sets=1))
    visitor = played.rules.visitor
    assert played.play().rules.visitor is visitor and played.rules.place == 0


def test_it_is_near_silent_and_only_stirring_is_heard() -> None:
    calm, tense = Evening("calm"), Evening("tense", replace(PLAN, sets=1))
    assert all(calm.rules.drone.level == 0.0 for _ in calm.frames())
    heard = [tense.rules.drone for view in tense.frames(6.0) if view.phase == "effort"]
    assert heard[-1].level > 0.3 and heard[-1].height == pytest.approx(2.0) and heard[-1].breath > 0.9
    voices = [cue.voice for cue in calm.cues]
    assert voices.count("bell") == 2
    sets, first_meetings = sum(isinstance(event, SetFinished) for event in calm.events), 2
    assert voices.count("phrase") == sets + 1 + first_meetings
    assert set(voices) <= {*workshops()["hide"].voices(), "bell", "phrase", "sigh"}


def test_the_same_evening_twice_is_the_same() -> None:
    first, second = played_through("startled"), Evening("startled").play()
    assert first.rules.made == second.rules.made and first.cues == second.cues


def test_rarer_animals_come_with_the_weeks() -> None:
    assert [len(unlocked(count)) for count in (0, 8, 60, 400)] == [3, 4, 7, len(VISITORS)]
    for visitor in VISITORS[3:]:
        assert visitor_of(visitor.from_count) is visitor  # at once
        assert visitor.name not in met_before(visitor.from_count)
    page = Product("hide", 1, date(2026, 11, 1), {}, ())
    rules = HideRules(PLAN, 5, [page] * 170, date(2026, 11, 25))
    assert rules.visitor is VISITORS[-1] and rules.new_here


@given(place=st.integers(0, 3000))
@settings(max_examples=60)
def test_nobody_comes_twice_running_nor_too_early(place: int) -> None:
    assert visitor_of(place) is not visitor_of(place + 1)
    assert visitor_of(place).from_count <= place
    assert visitor_of(place) in unlocked(place)


def test_an_unreadable_signal_shows_no_effort_and_adds_nothing() -> None:
    played = Evening("calm")
    view = midway(played)
    before = played.rules.sketched
    lost = replace(view, readable=False, activation=(float("nan"),), level=(float("nan"),))
    played.rules.step(FRAME_S, lost, [])
    assert (played.rules.bend, played.rules.drone.level, played.rules.sketched) == (0.0, 0.0, before)


def test_answers_take_between_200_and_600_ms() -> None:
    played = Evening("calm")
    view, taken_s = midway(played), 0.0
    played.rules.glow = 0.0
    while played.rules.glow < 0.9:
        played.rules.step(0.01, view, [])
        taken_s += 0.01
    assert 0.2 <= taken_s <= 0.6
    assert np.isfinite(played.rules.nearness)


def test_its_voices_are_soft_and_short() -> None:
    for name, voice in workshops()["hide"].voices().items():
        sound = voice()
        assert np.isfinite(sound).all() and 0.02 < np.abs(sound).max() <= HIGHEST_PEAK, name
        assert sound.size < 44100 and abs(float(sound[-1])) < 0.01, name
