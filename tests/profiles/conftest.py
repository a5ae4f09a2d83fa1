"""Invented patients, orders and sessions for the tests of this room."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import (
    CalibrationRecord,
    RatingRecord,
    RepRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
)
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template


@pytest.fixture
def knee() -> Prescription:
    return template("weak-thigh-after-knee-operation")


@pytest.fixture
def journal_path(tmp_path: Path) -> Path:
    return tmp_path / "HB-0042.sqlite"


def a_rep(number: int = 1, verdict: Any = "counted", **changes: Any) -> RepRecord:
    values: dict[str, Any] = {
        "exercise_id": "thigh-hold",
        "kind": "hold",
        "workshop": "kiln",
        "set_number": 1,
        "rep_number": number,
        "verdict": verdict,
        "onset_s": 60.0 + 11.0 * number,
        "offset_s": 65.6 + 11.0 * number,
        "held_s": 5.6,
        "in_band_s": 5.1,
        "mean_pct_mvc": 35.5,
        "peak_pct_mvc": 41.0,
        "steadiness": 0.93,
        "rise_pct_mvc_per_s": 90.0,
        "target_pct_mvc": 35.0,
        "tolerance_pct_mvc": 8.0,
        "effort_profile": (5.0, 30.5, 36.0, 35.0, 12.0),
    }
    return RepRecord(**(values | changes))


@pytest.fixture
def rep() -> Callable[..., RepRecord]:
    return a_rep


@pytest.fixture
def play() -> Callable[..., int]:
    """Write one session into a journal: `play(journal, started, reps=..., source=..., pain=..., ending=...)`."""

    def write(
        journal: Journal,
        started: datetime,
        *,
        reps: list[RepRecord] | None = None,
        source: Any = "ble",
        pain: tuple[int, ...] = (),
        ending: Any = "complete",
        minutes: float = 10.0,
        mvc_uv: float = 180.0,
        revision: int = 1,
    ) -> int:
        session = journal.begin_session(SessionStart("HB-0042", revision, source, started.isoformat(), "Europe/Prague"))
        trials = (mvc_uv * 0.95, mvc_uv, mvc_uv * 0.97)
        journal.add(session, CalibrationRecord("vastus-medialis", 0, 30.0, 3.1, mvc_uv, 0.026, trials, mvc_uv))
        done = reps if reps is not None else [a_rep(number) for number in range(1, 5)]
        for record in done:
            journal.add(session, record)
        if done:
            counted = sum(record.verdict == "counted" for record in done)
            journal.add(session, SetRecord("thigh-hold", 1, 10, counted, len(done), 60.0, 200.0, quality="good"))
        for number, value in enumerate(pain):
            moment: Any = "before" if number == 0 else "during" if ending == "pain" else "after"
            journal.add(session, RatingRecord(200.0, "pain", value, moment))
        journal.end_session(session, SessionEnd((started + timedelta(minutes=minutes)).isoformat(), ending))
        return session

    return write


class TickingClock:
    """A clock that moves only when it is told to, for journals written without waiting."""

    def __init__(self, start: datetime = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)) -> None:
        self.moment = start

    def __call__(self) -> datetime:
        return self.moment


@pytest.fixture
def clock() -> TickingClock:
    return TickingClock()
