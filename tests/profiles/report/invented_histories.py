"""Thirty invented histories: paused, travelling, several revisions, three sources, a second computer, none at all."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from musclewood.profiles.handover.merging import merged
from musclewood.profiles.journal.ledger import Ledger, LedgerSession
from musclewood.profiles.journal.records import (
    CalibrationRecord,
    RatingRecord,
    Record,
    RepRecord,
    ScalingRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
)
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template

HISTORIES = 30
FIRST = date(2026, 3, 16)  # two weeks before the clocks change
KINDS = (
    "plain",
    "paused",
    "travelling",
    "revised",
    "three sources",
    "second computer",
    "none",
    "sore",
    "growing",
    "both",
)


def a_history(number: int) -> tuple[Ledger, list[Prescription]]:
    """A ledger and its orders, the oldest first."""
    dice, kind, variant = random.Random(number), KINDS[number % len(KINDS)], number // len(KINDS)
    name = "ankle-after-sprain" if kind == "both" else "weak-thigh-after-knee-operation"
    first = template(name).model_copy(update={"issued": FIRST, "review": FIRST + timedelta(days=dice.choice((21, 42)))})
    if kind == "growing":
        first = first.model_copy(update={"review": FIRST + timedelta(days=60)})
    if (kind, variant) == ("plain", 2):
        first = first.model_copy(update={"expires": FIRST + timedelta(days=30)})
    if (kind, variant) == ("revised", 1):
        still = first.exercises[0].scaling.model_copy(update={"on": False})
        unscaled = first.exercises[0].model_copy(update={"scaling": still})
        first = first.model_copy(update={"exercises": (unscaled, *first.exercises[1:])})
    if (kind, variant) == ("none", 1):
        first = first.model_copy(update={"days": ("sun",)})
    orders = [first]
    if kind == "revised":
        less = first.exercises[0].model_copy(update={"sets": 1})
        for revision, day in ((2, 9), (3, 23)):
            issued = {"revision": revision, "issued": FIRST + timedelta(days=day), "days": ("mon", "wed", "fri")}
            issued["review"] = max(first.review, FIRST + timedelta(days=day + 14))
            orders.append(first.model_copy(update=issued | {"exercises": (less, *first.exercises[1:])}))
    length = dice.choice((3, 12, 40, 75)) if kind not in ("growing", "both", "paused", "travelling") else 40
    length = {("none", 1): 3, ("plain", 0): 1}.get((kind, variant), length)
    sessions: list[LedgerSession] = []
    for offset in range(length if (kind, variant) != ("none", 0) and (kind, variant) != ("none", 2) else 0):
        day = FIRST + timedelta(days=offset)
        if kind == "paused" and 8 <= offset < 20:
            continue
        if (DAYS[day.weekday()] in orders[-1].days or kind == "none") and dice.random() < (
            0.97 if kind == "growing" else 0.8
        ):
            order = max((one for one in orders if one.issued <= day), key=lambda one: one.revision)
            sessions.append(_session(order, len(sessions) + 1, day, kind, variant, dice))
    ledger = Ledger(tuple(sessions), "0" * 64)
    if kind == "second computer":
        half = len(sessions) // 2
        other = [replace(one, start=replace(one.start, sensor="another")) for one in sessions[half:]]
        ledger = merged([Ledger(tuple(sessions[: half + 1])), Ledger(tuple(other))])
    return ledger, orders


def _session(
    order: Prescription, number: int, day: date, kind: str, variant: int, dice: random.Random
) -> LedgerSession:
    zone = ZoneInfo("America/New_York" if kind == "travelling" and day.toordinal() % 2 else "Europe/Prague")
    started = datetime(day.year, day.month, day.day, dice.randint(8, 15), 30, tzinfo=zone)
    source: Any = dice.choice(("ble", "lsl", "replay", "keyboard")) if kind == "three sources" else "ble"
    before = 2 if (kind, variant) in (("sore", 2), ("travelling", 2)) else 0
    highest = dice.choice((0, 1, 2, 3, 6)) if kind == "sore" else dice.choice((0, 0, 1, 1 + before // 2))
    if (kind, variant) == ("sore", 2):
        highest = dice.choice((2, 2, 3))
    if kind == "travelling":  # one session each: stopped after all was done, cut short, made easier
        highest = (6, 6, 3)[variant] if number == (15, 2, 2)[variant] else before
    if kind == "growing":
        highest = 0
    records: list[Record] = [RatingRecord(1.0, "pain", before, "before")]
    grown = {"growing": 1.06, "paused": 0.95 if variant == 0 else 1.0}.get(kind, 1.0) ** number
    skill = {("plain", 1): 0.4, ("travelling", 1): 0.98, ("growing", 2): 0.98}.get((kind, variant), 0.85)
    for muscle in order.muscles:
        mvc = 150 * grown * 2.718 ** dice.gauss(0, 0.05 if kind == "growing" else 0.12)
        records.append(CalibrationRecord(muscle.id, muscle.channel, 30.0, 3.0, mvc, 0.03, (mvc,), mvc))
    rose = highest - before >= order.stop.pain_rise_stop
    ending: Any = "pain" if highest >= order.stop.pain_stop or rose else "complete"
    for exercise in order.exercises:
        if (kind, variant) == ("revised", 1) and exercise is order.exercises[-1]:
            continue
        made = 0
        for rep in range(1, exercise.sets * exercise.reps + 1):
            verdict: Any = "counted" if dice.random() < skill else dice.choice(("short", "weak", "over"))
            made += verdict == "counted"
            effort = exercise.effort
            target = effort.max_pct_mvc if skill > 0.9 else effort.target_pct_mvc
            records.append(RepRecord(
                exercise.id, exercise.kind, exercise.workshops[0], 1, rep, verdict, 9.0 * rep, 9.0 * rep + 5, 5.0, 4.5,
                target, 44.0, round(dice.uniform(0.8, 0.98), 4), 80.0, target, effort.tolerance_pct_mvc,
            ))  # fmt: skip
        tired = "tired" if (kind, variant) == ("paused", 1) and exercise is order.exercises[0] else None
        poor = "poor" if (kind, variant) == ("paused", 2) and dice.random() < 0.5 else "good"
        overlap = round(dice.uniform(10, 40), 2) if len(order.muscles) > 1 else None
        records.append(SetRecord(
            exercise.id, 1, exercise.reps, made, exercise.reps, 0.0, 99.0, tired, round(dice.uniform(1, 19), 2),
            overlap,
            0.97, poor,
        ))  # fmt: skip
    if number % 3 == 0:
        moved, by = order.exercises[0], 0.5 * number
        target = moved.effort.target_pct_mvc
        records.append(ScalingRecord(moved.id, target, target + by, 8.0, 7.5, 6.0, 6.0, 0.84, "harder", "Success."))
    records.append(RatingRecord(700.0, "pain", highest, "after" if number % 2 else "during"))
    records += [RatingRecord(710.0, what, dice.randint(0, 10), "after") for what in ("effort", "tiredness", "ease")]
    start = SessionStart(order.patient, order.revision, source, started.isoformat(), "Europe/Prague", "two-channel-raw")
    end = SessionEnd((started + timedelta(minutes=14)).isoformat(), ending)
    return LedgerSession(number, start, end, tuple(records))
