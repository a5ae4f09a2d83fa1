"""The pond shows what the muscle does and keeps what counted; briskness skips further, force does not."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from musclewood.games.engine.rep_events import Reading, RepEvent, RepMade, RepView, SetFinished
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.workshops import SoundCue, workshops
from musclewood.games.workshops.skimming_pond.rules import PondRules
from musclewood.games.workshops.skimming_pond.skips import FEWEST, MOST, touches_in, touches_of, way_of
from musclewood.profiles.plan.dose import PlannedExercise

FRAME_S, TICKS = 1 / 60, 2
TODAY = date(2026, 11, 25)
EXERCISE = PlannedExercise(
    exercise_id="foot-quick", kind="quick", title="Lift the foot briskly", workshops=("skimming_pond",), channels=(0,),
    sets=1, reps=2, hold_s=0.4, rest_s=1.0, set_rest_s=2.0, target_pct_mvc=50.0, tolerance_pct_mvc=15.0,
    ceiling_pct_mvc=85.0, quiet_pct_mvc=8.0, rise_s=0.5,
)  # fmt: skip


def flick(view: RepView) -> float:
    """On, and off as soon as it was held."""
    return view.target if view.phase == "ready" or (view.phase == "effort" and 0 <= view.held_s < view.hold_s) else 0.0


WILLS: dict[str, Callable[[RepView], float]] = {
    "brisk": flick,
    "over-keen": lambda view: 1.25 * view.high if flick(view) else 0.0,
    "weak": lambda view: 0.7 * view.low if view.effort_s < 0.8 and view.phase in ("ready", "effort") else 0.0,
    "clinging": lambda view: view.target if view.phase in ("ready", "effort") else 0.0,
    "asleep": lambda view: 0.0,
}


@dataclass
class Evening:
    """One exercise at the pond, frame by frame; `settle_s` is how slowly the muscle follows the will."""

    who: str = "brisk"
    exercise: PlannedExercise = EXERCISE
    settle_s: float = 0.04
    shelf: list[Product] = field(default_factory=list)
    events: list[RepEvent] = field(default_factory=list)
    cues: list[SoundCue] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rules = PondRules(self.exercise, 5, self.shelf, TODAY)
        self.engine, self.level = RepEngine(self.exercise, FRAME_S / TICKS), 0.0

    def frames(self, limit_s: float = 60.0) -> Iterator[RepView]:
        """After every frame: what the engine shows. Goes on where an earlier call stopped."""
        engine = self.engine
        for _ in range(round(limit_s / FRAME_S)):
            told: list[RepEvent] = []
            for _ in range(TICKS):
                self.level += (WILLS[self.who](engine.view) - self.level) * FRAME_S / TICKS / self.settle_s
                told += engine.step(Reading((self.level,), (self.level > 0.08,)))
            self.events += told
            self.cues += self.rules.step(FRAME_S, engine.view, told)
            yield engine.view
            if engine.done:
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


def test_a_print_for_every_counted_rep_as_the_shelf_will_show_it() -> None:
    played = Evening().play()
    assert len(played.counted) == 2
    assert played.rules.made == [
        product_of(made.rep, "skimming_pond", TODAY, place) for place, made in enumerate(played.counted)
    ]
    assert played.rules.windows_lit == 1.0


@pytest.mark.parametrize("who", ["asleep", "weak", "over-keen", "clinging"])
def test_nothing_is_made_without_a_brisk_effort_in_the_band_and_a_full_release(who: str) -> None:
    played = Evening(who).play(7.0)
    assert played.counted == [] and played.rules.made == [] and played.rules.carried == []
    assert not any(cue.voice.startswith("plip") or cue.voice == "bell" for cue in played.cues)


def test_effort_draws_the_arm_in_the_same_step_and_keeps_its_side_of_the_reeds() -> None:
    played = Evening()
    view = played.until(lambda view: view.phase == "effort")
    for effort, side in ((0.9 * view.low, -1), (view.target, 0), (1.1 * view.high, 1)):
        played.rules.step(FRAME_S, replace(view, activation=(effort,)), [])
        rules = played.rules
        assert (rules.swing > rules.gauge.high_height) - (rules.swing < rules.gauge.low_height) == side


def test_too_much_clouds_the_water_and_fills_nothing() -> None:
    played = Evening("over-keen")
    murk = [(played.rules.murk, played.rules.held) for view in played.frames(3.0) if view.phase == "effort"]
    assert max(value for value, _ in murk) > 0.6
    assert max(held for _, held in murk) < 0.5  # what little was earned on the way up


def test_a_brisk_hand_leaves_a_longer_streak_than_a_slow_one() -> None:
    streaks = []
    for settle_s in (0.03, 0.2):
        played = Evening(settle_s=settle_s)
        streaks.append(max(played.rules.swing - played.rules.trail for view in played.frames(2.0)))
    assert streaks[0] > 1.5 * streaks[1] > 0


def test_letting_go_throws_and_the_verdict_decides_whether_it_skips() -> None:
    played = Evening()
    played.until(lambda view: view.phase == "effort" and view.held_s >= view.hold_s)
    assert played.rules.let_go and played.rules.stone is None
    played.until(lambda view: view.activation[0] < 0.5 * view.low)
    assert played.rules.stone is not None and played.rules.stone.fate == "waiting"


def test_every_skip_sounds_and_leaves_its_ring() -> None:
    played = Evening(exercise=replace(EXERCISE, reps=1, rest_s=4.0, sets=2, set_rest_s=6.0))
    for _ in played.frames(6.0):
        if played.rules.made and played.rules.stone is None:
            break
    touches = touches_in(played.rules.made[0])
    notes = [cue for cue in played.cues if cue.voice.startswith("plip") or cue.voice == "bell"]
    assert len(notes) == touches == len(played.rules.rings)
    assert np.all(np.diff([ring.share for ring in played.rules.rings]) > 0)


def test_a_missed_stone_goes_under_with_one_ring_and_a_breath() -> None:
    played = Evening("weak")
    for _ in played.frames(4.0):
        if played.rules.rings:
            break
    assert [ring.share for ring in played.rules.rings] == [0.0]
    assert {"sigh", "plop"} <= {cue.voice for cue in played.cues}


def test_brisker_skips_further_and_stronger_does_not() -> None:
    brisk, slow = Evening(settle_s=0.03).play(), Evening(settle_s=0.09).play()
    assert touches_in(brisk.rules.made[0]) > touches_in(slow.rules.made[0])
    assert touches_of(100.0, 20.0) == touches_of(250.0, 50.0)


@given(st.floats(0, 5000), st.floats(0, 5000))
def test_touches_grow_with_the_rise_between_the_fewest_and_the_most(first: float, second: float) -> None:
    lower, upper = sorted((first, second))
    assert FEWEST <= touches_of(lower, 50.0) <= touches_of(upper, 50.0) <= MOST


def test_a_way_over_the_water_only_goes_on_and_shortens_its_hops() -> None:
    for touches in range(1, MOST + 1):
        way = way_of(touches)
        assert len(way.shares) == len(way.times_s) == touches and 0 < way.shares[-1] <= 1.0
        assert (np.diff(way.shares, n=2) < 0).all() and (np.diff(way.times_s) > 0).all()
        assert way.at(way.end_s) is None


def test_water_is_stirred_by_the_muscle_and_lies_still_at_rest() -> None:
    played = Evening(exercise=replace(EXERCISE, rest_s=3.0))
    played.until(lambda view: view.phase == "effort" and view.in_band and view.effort_s > 0.3)
    stirred = played.rules.stir
    played.until(lambda view: view.phase == "rest" and view.left_s < 0.5)
    assert played.rules.stir < 0.1 and stirred > 0.4
    assert played.rules.rested > 0.8


def test_the_longest_skip_is_known() -> None:
    played = Evening(exercise=replace(EXERCISE, reps=4)).play()
    rises = [print_.figures["rise_pct_mvc_per_s"] for print_ in played.rules.made]
    assert played.rules.best == int(np.argmax(rises))


def test_the_same_evening_twice_is_the_same() -> None:
    first, second = Evening().play(), Evening().play()
    assert first.rules.made == second.rules.made and first.cues == second.cues


def test_rest_is_silent_and_every_voice_is_known() -> None:
    played = Evening()
    for view in played.frames():
        if view.phase in ("rest", "set rest", "release", "done"):
            assert played.rules.drone.level == 0.0
    voices = [cue.voice for cue in played.cues]
    assert set(voices) <= {*workshops()["skimming_pond"].voices(), "bell", "phrase", "sigh"}
    assert voices.count("phrase") == sum(isinstance(event, SetFinished) for event in played.events) + 1


def test_an_unreadable_signal_lets_the_arm_hang() -> None:
    played = Evening()
    view = played.until(lambda view: view.in_band and view.phase == "effort")
    lost = float("nan")
    played.rules.step(FRAME_S, replace(view, readable=False, activation=(lost,), level=(lost,)), [])
    assert (played.rules.swing, played.rules.drone.level) == (0.0, 0.0)
    assert np.isfinite(played.rules.stir)
