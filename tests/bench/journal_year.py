"""How long a year in the journal takes: 250 sessions of 5 exercises, and opening it for Today.

Run with `python tests/bench/journal_year.py`. The target for opening is 200 ms.
"""

from __future__ import annotations

import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from musclewood.profiles.journal.history import History, read_history
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
from musclewood.profiles.plan.dose import plan_today

SESSIONS, EXERCISES, SETS, REPS = 250, 5, 3, 10
FIRST = datetime(2025, 11, 20, 16, tzinfo=UTC)


def an_order() -> Prescription:
    order = template("weak-thigh-after-knee-operation")
    first = order.exercises[0]
    exercises = tuple(
        first.model_copy(update={"id": f"exercise-{number}", "sets": SETS, "reps": REPS}) for number in range(EXERCISES)
    )
    ceilings = order.ceilings.model_copy(update={"reps_per_day": 400, "reps_per_week": 2800, "minutes_per_day": 240.0})
    days = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    return order.model_copy(
        update={"exercises": exercises, "ceilings": ceilings, "days": days, "issued": datetime(2025, 1, 1).date()}
    )


def write_year(
    path: Path, order: Prescription, sessions: int = SESSIONS, first: datetime = FIRST
) -> tuple[float, float, int]:
    """Write so many sessions of a year; returns seconds of clock and processor, and the number of records."""
    dice = np.random.default_rng(1)
    records = 0
    began, busy = time.perf_counter(), time.process_time()
    with Journal.open(path) as journal:
        for number in range(sessions):
            at = first + timedelta(days=number * 365 // SESSIONS)
            session = journal.begin_session(SessionStart("HB-0042", 1, "ble", at.isoformat(), "Europe/Prague"))
            journal.add(
                session, CalibrationRecord("vastus-medialis", 0, 30.0, 3.0, 180.0, 0.05, (171.0, 180.0, 175.0), 180.0)
            )
            for exercise in order.exercises:
                for set_number in range(1, exercise.sets + 1):
                    for rep in range(1, exercise.reps + 1):
                        mean = float(dice.normal(35, 5))
                        profile = tuple(np.round(dice.normal(mean, 2, 48), 2).tolist())
                        verdict = "counted" if abs(mean - 35) < 6.4 else "weak"
                        figures = (60.0, 65.5, 5.5, 5.0, mean, mean + 5, 0.94, 80.0, 35.0, 8.0)
                        journal.add(
                            session,
                            RepRecord(exercise.id, "hold", "kiln", set_number, rep, verdict, *figures, None, profile),
                        )
                    journal.add(session, SetRecord(exercise.id, set_number, *[exercise.reps] * 3, 0.0, 100.0))
            journal.add(session, RatingRecord(900.0, "pain", 1, "after"))
            journal.end_session(session, SessionEnd((at + timedelta(minutes=25)).isoformat(), "complete"))
            records += 2 + sum(exercise.sets * (exercise.reps + 1) for exercise in order.exercises)
    return time.perf_counter() - began, time.process_time() - busy, records


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path, order = Path(folder) / "year.sqlite", an_order()
        seconds, busy, records = write_year(path, order)
        print(
            f"{SESSIONS} sessions of {EXERCISES} exercises, {records} durable records: {seconds:.0f} s "
            f"(processor {busy:.0f} s), {path.stat().st_size / 1e6:.1f} MB, {1e3 * seconds / records:.2f} ms a record"
        )
        plan_today(order, read_empty(Path(folder) / "warm.sqlite"), now=datetime(2025, 6, 1, 9, tzinfo=UTC))
        for attempt in range(3):
            began, busy = time.perf_counter(), time.process_time()
            with Journal.open(path) as journal:
                opened = time.perf_counter()
                history = read_history(journal)
                read = time.perf_counter()
                plan = plan_today(order, history, now=datetime(2026, 11, 26, 16, tzinfo=UTC))
                planned = time.perf_counter()
            print(
                f"Today, run {attempt + 1}: {1e3 * (planned - began):.0f} ms (open {1e3 * (opened - began):.0f}, "
                f"read {1e3 * (read - opened):.0f}, plan {1e3 * (planned - read):.0f}); "
                f"processor {1e3 * (time.process_time() - busy):.0f} ms; {plan.reps} reps planned"
            )
        began = time.perf_counter()
        with Journal.open(path) as journal:
            assert journal.verify() == []
            print(f"verifying the whole year: {1e3 * (time.perf_counter() - began):.0f} ms")


def read_empty(path: Path) -> History:
    with Journal.open(path) as journal:
        return read_history(journal)


if __name__ == "__main__":
    main()
