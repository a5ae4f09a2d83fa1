"""The end of an exercise is seen and heard to its end, in every workshop: whatever was counted lies in its place."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import Any, cast

import pytest
from musclewood.games.engine.rep_events import ExerciseFinished, Reading, RepEvent, RepMade
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.session_events import ExerciseBegan, Happening, SessionView
from musclewood.games.gallery.evenings import EXERCISES
from musclewood.games.screens.base.play import ENDING_S, Play
from musclewood.games.workshops import workshops

FRAME_S, REPS = 1 / 30, 5


class PreparedConductor:
    """A session of one exercise that ends in the very tick in which its last repetition is counted."""

    def __init__(self, name: str) -> None:
        self.exercise = replace(EXERCISES[name], sets=1, reps=REPS, rest_s=0.5, workshops=(name,))
        self.engine, self.name = RepEngine(self.exercise, FRAME_S), name
        self.events: list[RepEvent] = []
        self.session: Any = SimpleNamespace(finished=False, view=self._view(), asked="")
        self.acquisition: Any = SimpleNamespace(source=SimpleNamespace(kind="simulated"))
        self._level = 0.0

    def _view(self) -> SessionView:
        over = self.engine.done
        rep, stage = (None, "rating") if over else (self.engine.view, "exercise")
        name, exercise = (None, None) if over else (self.name, self.exercise)
        return SessionView(cast(Any, stage), 0.0, None, None, exercise, 1, name, 0.0, rep=rep)

    def begin(self) -> None: ...

    def advance(self, dt_s: float) -> list[Happening]:
        if self.engine.done:
            return []
        began = [Happening(ExerciseBegan(self.exercise, self.name))] if self.engine.now_s == 0.0 else []
        view = self.engine.view
        works = view.phase in ("ready", "effort") and not (view.kind == "quick" and view.held_s > view.hold_s)
        target = view.target if view.pattern_target is None else view.pattern_target
        aim = (0.02 if view.kind == "relax" else target) if works else 0.0
        self._level += (aim - self._level) * min(1.0, dt_s / 0.08)
        other = 0.02 if view.kind == "selective" else self._level
        levels = (self._level, other)[: len(self.exercise.channels)]
        events = self.engine.step(Reading(levels, tuple(one > 0.07 for one in levels)))
        self.events += events
        self.session.view = self._view()
        return began + [Happening(event) for event in events]


@pytest.mark.parametrize("name", tuple(workshops()))
def test_as_many_things_stand_in_their_place_as_repetitions_were_counted(name: str) -> None:
    conductor = PreparedConductor(name)
    play = Play(cast(Any, conductor), today=date(2026, 11, 25), seed=3)
    cues, frames = [], 0
    while not conductor.engine.done and frames < 300 / FRAME_S:
        play.advance(FRAME_S)
        cues += play.take_cues()
        frames += 1
    counted = [event for event in conductor.events if isinstance(event, RepMade)]
    assert len(counted) == len(play.made) == REPS
    assert any(isinstance(event, ExerciseFinished) for event in conductor.events)
    assert any(cue.voice == "phrase" for cue in cues), "the end is not heard"
    assert play.ending and play.rep is not None
    assert (play.rep.phase, play.rep.made) == ("done", REPS)
    for _ in range(round(ENDING_S / FRAME_S)):
        assert play.ending
        play.advance(FRAME_S)
    assert play.rules is not None and len(play.made) == REPS
    on_their_way = play.rules.carried
    assert len(on_their_way) == REPS
    assert all(one.share >= 1.0 for one in on_their_way)
    play.advance(FRAME_S)
    assert not play.ending and play.rep is None
