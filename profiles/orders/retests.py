"""A test that an order repeats at home: how long it takes, when it is due next. Pure."""

from __future__ import annotations

from datetime import date, timedelta

from musclewood.profiles.orders.tables import CalibrationOrder, Retest

# Three maximal contractions of 5 s a side: common practice, no source. A minute between them: PRACTICE of strength
# tests, value from memory.
SIDE_TRIALS, SIDE_TRIAL_S, SIDE_REST_S = 3, 5.0, 60.0
DEFAULT_WEEKS = 4  # our choice: less often shows little of four to eight weeks of training, more often is mostly noise
_TO_BEGIN_S = 3.0  # from a cue to the contraction, and away from it; our choice
_ASKED_S = 45.0  # the pads, and pain before, between and after; our choice


def retest_minutes(retest: Retest, calibration: CalibrationOrder) -> float:
    """About how long a willing person needs, pads and questions included."""
    if retest.test == "maximum":
        trials, trial_s, rest_s, sides = calibration.trials, calibration.trial_s, calibration.rest_between_s, 1
    else:
        trials, trial_s, rest_s, sides = SIDE_TRIALS, SIDE_TRIAL_S, SIDE_REST_S, 2
    one_s = calibration.rest_s + trials * (trial_s + _TO_BEGIN_S) + (trials - 1) * rest_s + _ASKED_S
    return (sides * one_s + (sides - 1) * rest_s) / 60


def usual_first(issued: date, every_weeks: int) -> date:
    """The day of the first one: the visit itself has tested."""
    return issued + timedelta(weeks=every_weeks)


def due_since(retest: Retest, today: date) -> date | None:
    """The latest day by `today` on which one fell due; None before the first."""
    if today < retest.first:
        return None
    every = 7 * retest.every_weeks
    return retest.first + timedelta(days=every * ((today - retest.first).days // every))
