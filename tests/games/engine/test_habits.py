"""Late to start, late to stop: waiting and release times follow the order and the person."""

from __future__ import annotations

import pytest
from musclewood.games.engine.habits import (
    LONGEST_RELEASE_S,
    LONGEST_START_S,
    USUAL_RELEASE_S,
    USUAL_START_S,
    Habits,
    habits_of,
    in_own_time,
)
from musclewood.profiles.journal.records import CalibrationRecord
from musclewood.profiles.orders.tables import CalibrationOrder
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan.dose import PlannedExercise, planned

# Grip, healthy and paretic hand: start 0.2 and 1.9 s late, stop 0.4 and 5.0 s late (Seo 2009).
PARETIC = Habits(0.1, 1.9, 5.0)


@pytest.fixture(scope="module")
def hold() -> PlannedExercise:
    order = template("weak-thigh-after-knee-operation")
    return planned(order, order.exercises[0])


def test_a_paretic_grip_is_given_the_time_it_takes(hold: PlannedExercise) -> None:
    own = in_own_time(hold, CalibrationOrder(), {hold.channels[0]: PARETIC})
    assert 1.9 < own.start_s < LONGEST_START_S and 5.0 < own.release_s < LONGEST_RELEASE_S


def test_nobody_is_given_less_than_everybody(hold: PlannedExercise) -> None:
    quick = in_own_time(hold, CalibrationOrder(), {hold.channels[0]: habits_of(calibration(None, None))})
    nothing_known = in_own_time(hold, CalibrationOrder(), {})
    assert (quick.start_s, quick.release_s) == (nothing_known.start_s, nothing_known.release_s)
    assert quick.start_s >= USUAL_START_S and quick.release_s >= USUAL_RELEASE_S


def test_what_is_ordered_holds_whatever_was_learned(hold: PlannedExercise) -> None:
    own = in_own_time(hold, CalibrationOrder(start_s=3.0, release_s=1.5), {hold.channels[0]: PARETIC})
    assert (own.start_s, own.release_s) == (3.0, 1.5)


def test_what_was_learned_is_bounded(hold: PlannedExercise) -> None:
    own = in_own_time(hold, CalibrationOrder(), {hold.channels[0]: Habits(0.1, 60.0, 60.0)})
    assert (own.start_s, own.release_s) == (LONGEST_START_S, LONGEST_RELEASE_S)


def test_a_calibration_tells_how_late(hold: PlannedExercise) -> None:
    assert habits_of(calibration(1.9, 5.0)) == Habits(0.15, 1.9, 5.0)


def calibration(start_s: float | None, release_s: float | None) -> CalibrationRecord:
    return CalibrationRecord(
        "grip",
        0,
        0.0,
        3.0,
        90.0,
        None,
        (90.0,),
        90.0,
        rest_scatter=0.15,
        late_start_s=start_s,
        late_release_s=release_s,
    )
