"""The yoke shows what two muscles do and keeps what counted; neither force nor one strong side brings a pail over."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
import pytest
from musclewood.games.engine.rep_events import Reading, RepEvent, RepMade, RepView, SetFinished
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.workshops import SoundCue, workshops
from musclewood.games.workshops.yoke.bridge import PARTS, standing
from musclewood.games.workshops.yoke.places import HALF_YOKE, end_y, hooks, tilt
from musclewood.games.workshops.yoke.rules import YokeRules
from musclewood.profiles.plan.dose import PlannedExercise

FRAME_S, TICKS = 1 / 60, 2
TODAY = date(2026, 11, 25)
EXERCISE = PlannedExercise(
    exercise_id="feet-together", kind="paired", title="Lift both feet alike", workshops=("yoke",), channels=(0, 1),
    sets=1, reps=2, hold_s=1.0, rest_s=1.5, set_rest_s=2.0, target_pct_mvc=35.0, tolerance_pct_mvc=10.0,
    ceiling_pct_mvc=75.0, quiet_pct_mvc=8.0, difference_pct_mvc=12.0,
)  # fmt: skip
Will = Callable[[RepView], tuple[float, float]]
WILLS: dict[str, Will] = {
    "alike": lambda view: (view.target, view.target),
    "one-sided": lambda view: (view.high - 0.01, view.low + 0.01),
    "over-keen": lambda view: (1.4 * view.high, 1.4 * view.high),
    "weak": lambda view: (0.7 * view.low, 0.7 * view.low),
    "asleep": lambda view: (0.0, 0.0),
}


@dataclass
class Evening:
    """One exercise at the bridge, frame by frame."""

    who: str = "alike"
    exercise: PlannedExercise = EXERCISE
    shelf: list[Product] = field(default_factory=list)
    events: list[RepEvent] = field(default_factory=list)
    cues: list[SoundCue] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rules = YokeRules(self.exercise, 5, self.shelf, TODAY)
        self.engine, self.levels = RepEngine(self.exercise, FRAME_S / TICKS), np.zeros(2)

    def frames(self, limit_s: float = 60.0) -> Iterator[RepView]:
        """After every frame: what the engine shows. Goes on where an earlier call stopped."""
        for _ in range(round(limit_s / FRAME_S)):
            told: list[RepEvent] = []
            for _ in range(TICKS):
                view = self.engine.view
                aim = WILLS[self.who](view) if view.phase in ("ready", "effort") else (0.0, 0.0)
                self.levels += (np.asarray(aim) - self.levels) * FRAME_S / TICKS / 0.1
                told += self.engine.step(Reading(tuple(self.levels.tolist()), tuple((self.levels > 0.07).tolist())))
            self.events += told
            self.cues += self.rules.step(FRAME_S, self.engine.view, told)
            yield self.engine.view
            if self.engine.done:
                return

    def play(self, limit_s: float = 60.0) -> Evening:
        for _ in self.frames(limit_s):
            pass
        return self

    def until(self, wanted: Callable[[RepView], bool]) -> RepView:
        return next(view for view in self.frames() if wanted(view))

    @property
    def counted(self) -> list[RepMade]:
        return [event for event in self.events if isinstance(event, RepMade)]


def test_a_pail_for_every_counted_rep_as_the_shelf_will_show_it() -> None:
    played = Evening().play()
    assert len(played.counted) == 2
    assert played.rules.made == [product_of(made.rep, "yoke", TODAY, n) for n, made in enumerate(played.counted)]
    assert played.rules.windows_lit == 1.0


@pytest.mark.parametrize("who", ["asleep", "weak", "over-keen", "one-sided"])
def test_nothing_is_brought_over_without_both_sides_alike_in_the_band(who: str) -> None:
    played = Evening(who).play(7.0)
    assert played.counted == [] and played.rules.made == [] and played.rules.carried == []
    assert "bell" not in {cue.voice for cue in played.cues}


def test_each_side_lifts_its_own_end_in_the_same_step() -> None:
    played = Evening()
    view = played.until(lambda view: view.phase == "effort")
    played.rules.borne = 0.0
    played.rules.step(FRAME_S, replace(view, activation=(0.9 * view.low, 1.1 * view.high)), [])
    rules = played.rules
    assert rules.effort[0] < rules.gauge.low_height < rules.gauge.high_height < rules.effort[1]
    (_, left), (_, right) = hooks(rules.along, rules.ends)
    assert left > right and tilt(rules.ends) < 0


def test_a_level_yoke_is_level_and_its_hooks_stand_where_the_ropes_measure() -> None:
    for height in (0.0, 0.4, 0.9):
        (x0, left), (x1, right) = hooks(0.5, (height, height))
        assert left == right == end_y(height) and x1 - x0 == 2 * HALF_YOKE
    (_, left), (_, right) = hooks(0.5, (0.5, 0.7))
    assert (left, right) == pytest.approx((end_y(0.5), end_y(0.7)))


def test_she_goes_exactly_as_far_as_the_engine_grants() -> None:
    played = Evening()
    for view in played.frames(3.0):
        if view.phase == "effort":
            assert played.rules.walked == pytest.approx(view.held_s / view.hold_s, abs=1e-9)
            assert played.rules.along <= max(played.rules.walked, 0.0) + 1e-9


@pytest.mark.parametrize(("who", "spilling"), [("one-sided", (False, True)), ("over-keen", (True, True))])
def test_unlike_sides_and_too_much_spill_and_stand_still(who: str, spilling: tuple[bool, bool]) -> None:
    played = Evening(who)
    view = played.until(lambda view: view.phase == "effort" and view.effort_s > 1.4)
    assert tuple(side > 0.5 for side in played.rules.spilling) == spilling
    before = played.rules.walked
    played.until(lambda view: view.effort_s > 2.0 or view.phase != "effort")
    assert played.rules.walked <= before < 0.7
    assert (played.rules.murk > 0.5) == view.over
    assert "splash" in {cue.voice for cue in played.cues}


def test_she_is_back_for_the_next_rep_and_walks_on_her_own_only_when_nothing_is_asked() -> None:
    played = Evening(exercise=replace(EXERCISE, rest_s=4.0))
    played.until(lambda view: bool(played.rules.made) and view.phase == "ready")
    assert played.rules.along == pytest.approx(0.0, abs=0.05) and played.rules.errand == "waiting"
    for view in played.frames(3.0):
        if view.phase == "effort" and view.effort_s > 0.5:
            assert played.rules.borne < 0.1


def test_a_missed_rep_is_a_breath_and_the_way_back() -> None:
    played = Evening("one-sided", replace(EXERCISE, hold_s=0.5))
    played.until(lambda view: view.phase in ("release", "rest") and view.last_verdict is not None)
    assert played.rules.errand in ("back", "waiting") and played.rules.walked == 0.0
    assert "sigh" in {cue.voice for cue in played.cues}


def test_the_bridge_only_ever_grows() -> None:
    counts = [0, 10, 30, 60, 100, 150, 250]
    whole = [len(standing(count, before=False)) + len(standing(count, before=True)) for count in counts]
    assert whole == sorted(set(whole)) and whole[0] == 1 and whole[-1] == len(PARTS) - 1


def test_the_same_evening_twice_is_the_same() -> None:
    first, second = Evening().play(), Evening().play()
    assert first.rules.made == second.rules.made and first.cues == second.cues


def test_rest_is_silent_and_every_voice_is_known() -> None:
    played = Evening()
    for view in played.frames():
        if view.phase in ("rest", "set rest", "release", "done"):
            assert played.rules.drone.level == 0.0
        elif view.phase == "effort" and view.effort_s > 0.6:
            assert played.rules.drone.height == pytest.approx(min(view.activation) / view.target)
    voices = [cue.voice for cue in played.cues]
    assert set(voices) <= {*workshops()["yoke"].voices(), "bell", "phrase", "sigh"}
    assert voices.count("phrase") == sum(isinstance(event, SetFinished) for event in played.events) + 1


def test_an_unreadable_signal_lets_the_yoke_down() -> None:
    played = Evening()
    view = played.until(lambda view: view.in_band and view.phase == "effort" and view.effort_s > 0.6)
    lost = (float("nan"), float("nan"))
    played.rules.step(FRAME_S, replace(view, readable=False, activation=lost, level=lost), [])
    assert played.rules.effort == (0.0, 0.0) and played.rules.drone.level == 0.0
    assert np.isfinite([*played.rules.ends, *played.rules.spilling, played.rules.murk]).all()
