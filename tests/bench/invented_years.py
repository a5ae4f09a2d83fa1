"""Invented patient-years for benchmarks: a year of sessions as a ledger, and as hand-overs of many patients."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
from musclewood.profiles.handover.package import pack
from musclewood.profiles.journal.ledger import Ledger, LedgerSession
from musclewood.profiles.journal.records import (
    CalibrationRecord,
    InterruptionRecord,
    RatingRecord,
    Record,
    RepRecord,
    ScalingRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
    Verdict,
)
from musclewood.profiles.orders.exercises import reps_of
from musclewood.profiles.orders.prescription import Prescription, dump
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template

FIRST = date(2025, 11, 24)
DAYS_A_YEAR = 365
POINTS = 40


def an_order(name: str = "weak-thigh-after-knee-operation", code: str = "HB-0042") -> Prescription:
    order = template(name)
    review = FIRST + timedelta(days=400)
    return order.model_copy(update={"patient": code, "issued": FIRST, "review": review, "note": None})


def a_year(order: Prescription, seed: int, missed: float = 0.15, days: int = DAYS_A_YEAR) -> Ledger:
    """About every planned day a whole session; the muscle comes back, some days are left out."""
    dice = np.random.default_rng(seed)
    sessions: list[LedgerSession] = []
    for offset in range(days):
        day = FIRST + timedelta(days=offset)
        if DAYS[day.weekday()] in order.days and dice.random() > missed:
            at = datetime(day.year, day.month, day.day, 16, int(dice.integers(60)), tzinfo=UTC)
            records = _records(order, dice, offset / DAYS_A_YEAR)
            start = SessionStart(
                order.patient, 1, "ble", at.isoformat(), order.timezone or "", "two-channel-raw", "0.1.0"
            )
            end = SessionEnd((at + timedelta(minutes=14)).isoformat(), "complete")
            sessions.append(LedgerSession(len(sessions) + 1, start, end, tuple(records)))
    return Ledger(tuple(sessions), f"{seed:064x}")


def _records(order: Prescription, dice: np.random.Generator, gone: float) -> list[Record]:
    records: list[Record] = [RatingRecord(5.0, "pain", int(dice.integers(0, 3)), "before")]
    for muscle in order.muscles:
        mvc = float(np.round(180 * (1 + 0.8 * gone) * np.exp(dice.normal(0, 0.18)), 2))
        trials = tuple(float(np.round(mvc * share, 2)) for share in (0.94, 1.0, 0.97))
        records.append(CalibrationRecord(muscle.id, muscle.channel, 60.0, 3.1, mvc, 0.03, trials, mvc))
    at = 200.0
    for exercise in order.exercises:
        target = exercise.effort.target_pct_mvc + min(15.0, 20 * gone)
        for number in range(1, exercise.sets + 1):
            begun, made = at, 0
            for rep in range(1, exercise.reps + 1):
                mean = float(np.round(dice.normal(target, 3.5), 3))
                verdict: Verdict = (
                    "counted" if dice.random() < 0.86 else ("weak", "short", "over")[int(dice.integers(3))]
                )
                made += verdict == "counted"
                profile = tuple(np.round(dice.normal(mean, 2, POINTS), 2).tolist())
                records.append(
                    RepRecord(
                        exercise.id,
                        exercise.kind,
                        exercise.workshops[0],
                        number,
                        rep,
                        verdict,
                        round(at, 3),
                        round(at + exercise.hold_s + 0.6, 3),
                        exercise.hold_s + 0.6,
                        round(exercise.hold_s * float(dice.uniform(0.9, 1)), 3),
                        mean,
                        round(mean + 6, 3),
                        float(np.round(dice.uniform(0.85, 0.97), 4)),
                        float(np.round(dice.normal(90, 15), 2)),
                        target,
                        exercise.effort.tolerance_pct_mvc,
                        float(np.round(dice.uniform(3, 12), 2)) if len(exercise.muscles) == 2 else None,
                        profile,
                    )
                )
                at += exercise.hold_s + exercise.rest_s
            tired = "tired" if dice.random() < 0.01 else None
            records.append(
                SetRecord(
                    exercise.id,
                    number,
                    exercise.reps,
                    made,
                    exercise.reps,
                    round(begun, 2),
                    round(at, 2),
                    tired,
                    float(np.round(dice.normal(8, 4), 2)),
                    float(np.round(dice.uniform(10, 35), 2)) if len(order.muscles) > 1 else None,
                    0.98,
                    ("good", "good", "good", "fair", "poor")[int(dice.integers(5))],
                )
            )
    if dice.random() < 0.2:
        title = order.exercises[0]
        low = title.effort.target_pct_mvc
        records.append(
            ScalingRecord(
                title.id, low, low + 1.5, 8.0, 7.6, 6.0, 6.0, 0.84, "A little more.", "Predicted success 84 %."
            )
        )
    if dice.random() < 0.1:
        records.append(InterruptionRecord(300.0, 12.0, "pause", None))
    records += [RatingRecord(at, "pain", int(dice.integers(0, 4)), "after"), RatingRecord(at, "effort", 5, "after")]
    return records


def reps_of_year(ledger: Ledger) -> int:
    return sum(len(session.reps) for session in ledger.sessions)


def write_many(folder: Path, number: int, seeds: int = 8) -> None:
    """Hand-overs of `number` patients. A few different years are packed whole; each patient is one of them by another
    code, for which only the small files of the zip are made anew.
    """
    folder.mkdir(parents=True, exist_ok=True)
    order, moment = an_order(), datetime(2026, 11, 24, 18, tzinfo=UTC)
    years = []
    for seed in range(seeds):
        packed = pack(a_year(order, seed), order, "<!DOCTYPE html>" + "x" * 200_000, moment)
        with zipfile.ZipFile(io.BytesIO(packed)) as archive:
            small = {name: archive.read(name) for name in ("datapackage.json", "sessions.csv", "prescription.toml")}
            rest = io.BytesIO()
            with zipfile.ZipFile(rest, "w", zipfile.ZIP_DEFLATED) as kept:
                for name in archive.namelist():
                    if name not in small:
                        kept.writestr(name, archive.read(name))
        years.append((rest.getvalue(), small))
    for patient in range(number):
        code = f"HB-{10000 + patient}"
        rest_bytes, small = years[patient % seeds]
        buffer = io.BytesIO(rest_bytes)
        sessions = small["sessions.csv"].replace(b"HB-0042", code.encode())
        with zipfile.ZipFile(buffer, "a", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("sessions.csv", sessions)
            archive.writestr("datapackage.json", _relabelled(small["datapackage.json"], code, sessions))
            archive.writestr("prescription.toml", dump(an_order(code=code)))
        (folder / f"{code}-{patient:08x}-000001.zip").write_bytes(buffer.getvalue())


def _relabelled(descriptor: bytes, code: str, sessions: bytes) -> str:
    from hashlib import sha256

    package = json.loads(descriptor)
    package["musclewood"]["patient"] = code
    for resource in package["resources"]:
        if resource["name"] == "sessions":
            resource |= {"bytes": len(sessions), "hash": f"sha256:{sha256(sessions).hexdigest()}"}
    return json.dumps(package)


def attempts_a_session(order: Prescription) -> int:
    return sum(reps_of(exercise) for exercise in order.exercises)
