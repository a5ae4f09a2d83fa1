"""An invented patient's day and shelf, for pictures."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

from musclewood.games.engine.rep_events import JudgedRep
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.workshops import workshops
from musclewood.profiles.journal.records import ScalingRecord
from musclewood.profiles.orders.tables import Muscle
from musclewood.profiles.plan.dose import DayPlan, PlannedExercise
from musclewood.profiles.plan.reasons import Change

DAY = date(2026, 11, 24)

MUSCLES = (
    Muscle(
        id="vastus-medialis-left", name="Vastus medialis", side="left", role="involved", channel=0,
        placement="On the bulge above the inner side of the kneecap.",
    ),
    Muscle(
        id="biceps-femoris-left", name="Biceps femoris", side="left", role="opposite", channel=1,
        placement="Halfway down the back of the thigh, outer side.",
    ),
)  # fmt: skip

PLAN = DayPlan(
    DAY,
    (
        PlannedExercise(
            exercise_id="quad-hold", kind="hold", title="Quadriceps hold", workshops=("kiln",), channels=(0,), sets=1,
            reps=8, hold_s=5.0, rest_s=10.0, set_rest_s=60.0, target_pct_mvc=40.0, tolerance_pct_mvc=5.0,
            ceiling_pct_mvc=60.0, quiet_pct_mvc=5.0,
        ),
    ),
)  # fmt: skip

EVERYWHERE = replace(
    PLAN,
    exercises=tuple(replace(PLAN.exercises[0], exercise_id=place, workshops=(place,), reps=2) for place in workshops()),
)

HARDER = ScalingRecord(
    exercise_id="quad-hold", target_from_pct_mvc=38.0, target_to_pct_mvc=40.0, tolerance_from_pct_mvc=5.0,
    tolerance_to_pct_mvc=5.0, rest_from_s=10.0, rest_to_s=10.0, predicted_success=0.86,
    reason_patient=Change.HARDER.value, reason_therapist="",
)  # fmt: skip


@cache
def judged(number: int) -> JudgedRep:
    """One counted rep, a little different for each number."""
    chance = random.Random(number)
    wobble = chance.uniform(0.5, 4.0)
    profile = tuple(min(1.0, tick / 5) * (40 + chance.gauss(0, wobble)) for tick in range(40))
    return JudgedRep(
        set_number=1 + number // 8, rep_number=1 + number % 8, verdict="counted", onset_s=10.0 * number,
        offset_s=10.0 * number + 5.6, held_s=5.6, in_band_s=5.0, mean_pct_mvc=40.0, peak_pct_mvc=max(profile),
        steadiness=1 - wobble / 20, rise_pct_mvc_per_s=90.0, target_pct_mvc=40.0, tolerance_pct_mvc=5.0,
        opposite_mean_pct_mvc=None, effort_profile=profile,
    )  # fmt: skip


def weeks_of_work(weeks: int) -> list[Product]:
    """Three evenings a week for so many weeks, five things each, from every workshop in turn; the oldest first."""
    places, first = tuple(workshops()), DAY - timedelta(weeks=weeks)
    evenings = [first + timedelta(days=7 * week + day) for week in range(weeks) for day in (0, 2, 4)]
    return [
        _thing(5 * number + thing, places[(5 * number + thing) % len(places)], day, number)
        for number, day in enumerate(evenings)
        for thing in range(5)
    ]


def shelf(count: int) -> list[Product]:
    """So many things from every workshop in turn, the oldest first."""
    first, places = DAY - timedelta(days=count // 8), tuple(workshops())
    return [
        _thing(number, places[number % len(places)], first + timedelta(days=number // 8), number)
        for number in range(count)
    ]


@cache
def _thing(number: int, workshop: str, day: date, place: int) -> Product:
    return product_of(judged(number), workshop, day, place)
