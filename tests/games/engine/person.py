"""Somebody who goes through a session: the levels of their muscle and the seconds of quality, answer by answer."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import (
    Happening,
    Tick,
)
from musclewood.games.running.todays_plan import plan_for
from musclewood.profiles.journal.history import History
from musclewood.profiles.orders.prescription import Prescription
from musclewood.signal.quality.quality import Quality

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
STEP_S = 0.01
FULL_UV = 400.0


class Person:
    """Feeds a session with levels and seconds of quality."""

    def __init__(self, prescription: Prescription, **settings: Any) -> None:
        plan = plan_for(prescription, History(), NOW, practice=True)
        settings.setdefault("minutes_left", 60.0)
        self.session = Session(prescription, plan, STEP_S, 1, **settings)
        self.told: list[Happening] = list(self.session.begin())
        self._ticks = 0
        self.verdict, self.faults = "good", ()

    def act(self, happened: list[Happening]) -> list[Happening]:
        self.told += happened
        return happened

    def do(self, level: float, for_s: float, *, readable: bool = True) -> list[Happening]:
        told: list[Happening] = []
        tick = Tick((max(3.0, level * FULL_UV),), (level,), (level > 0.1,), (readable,))
        for _ in range(round(for_s / STEP_S)):
            told += self.session.step(tick)
            self._ticks += 1
            if self._ticks % 100 == 0:
                told += self.session.look(Quality(0.0, (self.verdict,), (self.faults,), ()))
        return self.act(told)

    def until(self, wanted: Callable[[], bool], level: float = 0.0, limit_s: float = 900.0) -> None:
        for _ in range(round(limit_s / 0.1)):
            if wanted():
                return
            self.do(level, 0.1)
        raise AssertionError(f"still at {self.session.view}")

    def calibrate(self) -> None:
        """Through comfort, signal and calibration to the first exercise."""
        self.act(self.session.answer(0))
        self.until(lambda: self.session.stage == "calibration")
        while self.session.stage == "calibration":
            squeezing = self.session.view.calibration.phase == "trial"
            self.do(0.0, 0.3)
            self.do(1.0 if squeezing else 0.0, 1.5)
            self.do(0.0, 0.5)

    def play(self, level: float = 0.4) -> None:
        """Steadily, to the end of the exercises."""
        while self.session.stage in ("exercise", "break"):
            rep = self.session.view.rep
            self.do(level if rep and rep.phase in ("ready", "effort") else 0.0, 0.1)

    def whats(self, kind: type) -> list[Any]:
        return [happening.what for happening in self.told if isinstance(happening.what, kind)]

    def records(self, kind: type) -> list[Any]:
        return [happening.record for happening in self.told if isinstance(happening.record, kind)]
