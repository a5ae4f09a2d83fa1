"""The loom shows what the muscle does and keeps what counted; it cannot be played into more."""

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
from musclewood.games.workshops.guide import GUIDE_STEPS, note_of
from musclewood.games.workshops.loom import designs
from musclewood.games.workshops.loom.rules import LoomRules
from musclewood.profiles.plan.dose import PlannedExercise

FRAME_S, TICKS = 1 / 30, 2
PATTERN = (0.5, 0.9, 0.6, 1.0)
Will = Callable[[RepView], float]


def exercise(**changes: object) -> PlannedExercise:
    plan = PlannedExercise(
        "wave", "track", "Follow the hills", ("loom",), (0,), 2, 1, 3.0, 1.0, 1.0, 30.0, 6.0, 60.0, 8.0, pattern=PATTERN
    )
    return replace(plan, **changes)  # type: ignore[arg-type]


def following(view: RepView) -> float:
    """Sees the pattern a little ahead, as it is drawn."""
    times = np.linspace(0, view.hold_s, len(PATTERN))
    ahead = float(np.interp(view.effort_s + 0.2, times, PATTERN))
    return view.target * ahead if view.phase == "effort" else 0.0


WILLS: dict[str, Will] = {
    "following": following,
    "asleep": lambda view: 0.0,
    "over-keen": lambda view: 1.7 * following(view),
    "flat": lambda view: 0.3 * view.target if view.phase == "effort" else 0.0,
}


@dataclass
class Evening:
    """One exercise at the loom, frame by frame."""

    who: str
    plan: PlannedExercise = field(default_factory=exercise)
    shelf: list[Product] = field(default_factory=list)
    events: list[RepEvent] = field(default_factory=list)
    cues: list[SoundCue] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rules = LoomRules(self.plan, 5, self.shelf, date(2026, 11, 25))
        self.engine = RepEngine(self.plan, FRAME_S / TICKS)

    def frames(self, limit_s: float = 90.0) -> Iterator[RepView]:
        chance, level = np.random.default_rng(5), 0.0
        for _ in range(round(limit_s / FRAME_S)):
            told: list[RepEvent] = []
            for _ in range(TICKS):
                level += (WILLS[self.who](self.engine.view) - level) * FRAME_S / TICKS / 0.08
                heard = max(0.0, level * (1 + 0.03 * chance.standard_normal()))
                told += self.engine.step(Reading((heard,), (heard > 0.08,)))
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


def midway(evening: Evening, at_s: float = 2.0) -> RepView:
    return next(view for view in evening.frames() if view.phase == "effort" and view.effort_s > at_s)


def test_a_band_for_every_counted_rep_and_none_beside() -> None:
    played = played_through("following")
    assert len(played.rules.made) == len(played.counted) == 2
    assert played.rules.windows_lit == 1.0 and played.rules.finished
    for place, (band, made) in enumerate(zip(played.rules.made, played.counted, strict=True)):
        assert band == product_of(made.rep, "loom", date(2026, 11, 25), place)


@pytest.mark.parametrize("who", ["asleep", "over-keen", "flat"])
def test_nothing_is_made_by_one_who_does_not_follow(who: str) -> None:
    played = Evening(who, exercise(sets=1)).play()
    assert played.counted == [] and played.rules.made == [] and played.rules.windows_lit == 0.0


def test_effort_places_the_shuttle_in_the_same_step_and_to_scale() -> None:
    played = Evening("following")
    view = midway(played)
    for times in (0.25, 0.5, 1.0):
        played.rules.step(FRAME_S, replace(view, activation=(times * view.target,)), [])
        assert played.rules.shuttle == pytest.approx(times / designs.REACH)


@given(first=st.floats(0, 3), second=st.floats(0, 3), target=st.floats(0.02, 1))
@settings(max_examples=60)
def test_more_effort_never_stands_lower(first: float, second: float, target: float) -> None:
    low, high = sorted((first, second))
    assert 0 <= LoomRules.height_of(low, target) <= LoomRules.height_of(high, target) <= 1


def test_within_the_combs_is_what_the_engine_grants() -> None:
    played, agreed, seen, before_s = Evening("over-keen", exercise(ceiling_pct_mvc=90.0)), 0, 0, 0.0
    for view in played.frames(12.0):
        if view.phase == "effort" and view.effort_s > 0.5:
            granted, before_s = view.held_s > before_s + 1e-9, view.held_s
            seen += 1
            agreed += granted == played.rules.within
    assert agreed / seen > 0.97  # they differ only within the frame that crosses the edge


def test_the_cloth_takes_every_deviation() -> None:
    played = Evening("following")
    for view in played.frames():
        if played.rules.made:
            break
        woven = list(played.rules.woven) if view.phase == "effort" else []
        if len(woven) == 47:
            kept = woven
    profile = np.asarray(played.rules.made[0].profile[:47]) / (100 * view.target * designs.REACH)
    assert np.abs(np.asarray(kept) - profile).mean() < 0.02


def test_the_pattern_is_seen_before_it_is_due() -> None:
    """While the next attempt waits, the pattern stands before the race, and arrives there exactly when it counts."""
    played = Evening("following")
    waits = [played.rules.at_s for view in played.frames(3.0) if view.phase == "ready"]
    assert waits[0] < -0.8 and (np.diff(waits) > 0).all() and waits[-1] > -0.1
    assert midway(played).effort_s == played.rules.at_s


def test_too_much_strains_the_thread_and_earns_nothing() -> None:
    played = Evening("following")
    view = midway(played)
    for _ in range(20):
        shown = replace(view, activation=(2 * view.target,), level=(2 * view.target,), over=True)
        played.rules.step(FRAME_S, shown, [])
    assert played.rules.strain > 0.9 and played.rules.glow < 0.1 and not played.rules.within
    assert played.rules.made == [] and played.rules.drone.breath == played.rules.strain


def test_a_missed_rep_is_taken_back_and_the_same_band_begun_again() -> None:
    played = Evening("flat", exercise(sets=1))
    place, most = played.rules.place, 0.0
    for view in played.frames(20.0):
        most = max(most, played.rules.unpicked)
        if view.phase == "ready" and most > 0:
            break
    assert most == pytest.approx(1.0, abs=0.2)
    assert played.rules.woven == [] and played.rules.place == place
    assert [cue.voice for cue in played.cues].count("sigh") == 1


def test_rest_is_silent_and_the_turns_of_the_pattern_are_plucked() -> None:
    played = Evening("following")
    for view in played.frames():
        if view.phase in ("rest", "set rest", "release", "done"):
            assert played.rules.drone.level == 0.0
        elif view.phase == "effort" and view.effort_s > 0.6:
            assert played.rules.drone.level > 0.5
    voices = [cue.voice for cue in played.cues]
    plucked = [f"thread_{note_of(share)}" for share in PATTERN]
    assert [voice for voice in voices if voice.startswith("thread")] == plucked * 2
    assert voices.count("bell") == 2
    assert voices.count("phrase") == sum(isinstance(event, SetFinished) for event in played.events) + 1
    assert set(voices) <= {*workshops()["loom"].voices(), "bell", "phrase", "sigh"}


def test_a_higher_turn_never_sounds_lower() -> None:
    heard = [note_of(height) for height in np.linspace(0, 1, 21)]
    assert heard == sorted(heard) and heard[0] == 0 and heard[-1] >= len(GUIDE_STEPS) - 2


def test_the_same_evening_twice_is_the_same() -> None:
    first, second = played_through("following"), Evening("following").play()
    assert first.rules.made == second.rules.made and first.cues == second.cues


def test_patterns_grow_richer_with_the_shelf_and_with_nothing_else() -> None:
    counts = [tuple(len(part) for part in designs.unlocked(count)) for count in (0, 30, 100, 300)]
    assert counts == sorted(counts) and len(set(counts)) == 4
    assert counts[-1] == (len(designs.YARNS), len(designs.MOTIFS))
    band = Product("loom", 1, date(2026, 11, 1), {}, ())
    novice, master = (Evening("asleep", shelf=[band] * count).rules for count in (0, 170))
    assert novice.design == designs.design_of(0) and master.design == designs.design_of(170)
    assert master.design.motif is designs.MOTIFS[-1][0]  # what has just come within reach is woven at once


@given(place=st.integers(0, 400), peak=st.floats(0, 2))
@settings(max_examples=40)
def test_the_line_of_a_band_is_its_effort(place: int, peak: float) -> None:
    """Whatever the yarn and motif, the line lies where the effort was, and the fill below it."""
    threads = designs.grid(np.full(6, peak), designs.design_of(place))
    line = np.flatnonzero(threads[6] == designs.LINE)
    at = min(peak, 1.0) * designs.ROWS * designs.FINE
    assert (line.size == 0 and at > 40) or abs(line.mean() + 0.5 - at) <= 2
    assert not (threads[6, : max(0, round(at) - 3)] == designs.GROUND).any()


def test_an_unreadable_signal_lets_the_shuttle_down() -> None:
    played = Evening("following")
    lost = replace(midway(played), readable=False, activation=(float("nan"),), level=(float("nan"),))
    played.rules.step(FRAME_S, lost, [])
    assert (played.rules.shuttle, played.rules.within, played.rules.drone.level) == (0.0, False, 0.0)


def test_its_voices_are_soft_and_short() -> None:
    for name, voice in workshops()["loom"].voices().items():
        sound = voice()
        assert np.isfinite(sound).all() and 0.02 < np.abs(sound).max() <= HIGHEST_PEAK, name
        assert sound.size < 44100 and abs(float(sound[-1])) < 0.01, name
