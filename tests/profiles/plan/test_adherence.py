"""Ordered against done, by the patient's own calendar."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.journal.records import Record, RepRecord, SessionEnd, SessionStart, SetRecord
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.plan.adherence import adherence, in_force

PRAGUE = ZoneInfo("Europe/Prague")


def an_order(knee: Prescription, **changes: Any) -> Prescription:
    """One exercise of 3 x 10 reps, every day."""
    hold = knee.exercises[0].model_copy(update={"sets": 3, "reps": 10})
    return knee.model_copy(update={"exercises": (hold,), "days": DAYS, "issued": date(2026, 10, 20), **changes})


def a_session(number: int, started: datetime, counted: int, missed: int = 0, ended: datetime | None = None) -> Any:
    reps: list[Record] = []
    for index in range(counted + missed):
        verdict: Any = "counted" if index < counted else "weak"
        reps.append(
            RepRecord("thigh-hold", "hold", "kiln", 1 + index // 10, 1 + index % 10, verdict, 1.0, 6.5, 5.5, 5.0,
                      35.0, 40.0, 0.9, 80.0, 35.0, 8.0)
        )  # fmt: skip
    for one in range(3):
        reps.append(SetRecord("thigh-hold", one + 1, 10, max(0, min(10, counted - 10 * one)), 10, 0.0, 100.0))
    end = SessionEnd((ended or started + timedelta(minutes=10)).isoformat(), "complete")
    return LedgerSession(number, SessionStart("HB-0042", 1, "ble", started.isoformat()), end, tuple(reps))


def test_the_worked_example(knee: Prescription) -> None:
    """30 + 30 + 30 ordered, 45 + 30 + 0 done: 83.33 % uncapped, 66.67 % capped per session, two sessions of three."""
    first = datetime(2026, 11, 2, 17, tzinfo=PRAGUE)
    done = [a_session(1, first, 45), a_session(2, first + timedelta(days=1), 30)]
    result = adherence([an_order(knee)], done, date(2026, 11, 2), date(2026, 11, 4), PRAGUE)
    assert result.reps_uncapped_pct == pytest.approx(83.33, abs=0.01)
    assert result.reps_capped_pct == pytest.approx(66.67, abs=0.01)
    assert result.sessions_pct == pytest.approx(66.67, abs=0.01)
    assert result.sets_pct == pytest.approx(66.67, abs=0.01)
    assert [day.reps_counted for day in result.days] == [45, 30, 0]
    assert result.in_band_pct == pytest.approx(100 * 75 * 5.0 / (90 * 5.0))


def test_missed_attempts_are_attempts_and_no_reps(knee: Prescription) -> None:
    done = [a_session(1, datetime(2026, 11, 2, 17, tzinfo=PRAGUE), 20, missed=9)]
    (day,) = adherence([an_order(knee)], done, date(2026, 11, 2), date(2026, 11, 2), PRAGUE).days
    assert (day.reps_counted, day.reps_attempted, day.sessions_done, day.sessions_whole) == (20, 29, 1, 0)


def test_more_than_was_ordered_on_a_day_never_exceeds_the_cap(knee: Prescription) -> None:
    at = datetime(2026, 11, 2, 8, tzinfo=PRAGUE)
    done = [a_session(1, at, 30), a_session(2, at + timedelta(hours=5), 30)]
    result = adherence([an_order(knee)], done, date(2026, 11, 2), date(2026, 11, 2), PRAGUE)
    assert result.reps_capped_pct == 100.0 and result.reps_uncapped_pct == 200.0 and result.sessions_pct == 100.0


def test_a_rest_day_orders_nothing_and_what_is_done_there_is_extra(knee: Prescription) -> None:
    order = an_order(knee, days=("mon",))
    done = [a_session(1, datetime(2026, 11, 3, 17, tzinfo=PRAGUE), 30)]
    monday, tuesday = adherence([order], done, date(2026, 11, 2), date(2026, 11, 3), PRAGUE).days
    assert monday.reps_ordered == 30 and not monday.rest_day
    assert tuesday.rest_day and tuesday.reps_counted == 30 and tuesday.reps_capped == 0


@pytest.mark.parametrize(
    ("moment", "day"),
    [
        # Summer time ends in Prague on 25 October 2026 at 03:00, which then happens twice.
        (datetime(2026, 10, 24, 21, 59, tzinfo=UTC), date(2026, 10, 24)),
        (datetime(2026, 10, 24, 22, 0, tzinfo=UTC), date(2026, 10, 25)),
        (datetime(2026, 10, 25, 0, 30, tzinfo=UTC), date(2026, 10, 25)),
        (datetime(2026, 10, 25, 1, 30, tzinfo=UTC), date(2026, 10, 25)),
        (datetime(2026, 10, 25, 22, 59, tzinfo=UTC), date(2026, 10, 25)),
        (datetime(2026, 10, 25, 23, 0, tzinfo=UTC), date(2026, 10, 26)),
        # It begins on 29 March 2027 at 02:00, which then never happens.
        (datetime(2027, 3, 27, 22, 59, tzinfo=UTC), date(2027, 3, 27)),
        (datetime(2027, 3, 28, 21, 59, tzinfo=UTC), date(2027, 3, 28)),
        (datetime(2027, 3, 28, 22, 0, tzinfo=UTC), date(2027, 3, 29)),
    ],
)
def test_days_are_the_patients_own_when_the_clocks_change(knee: Prescription, moment: datetime, day: date) -> None:
    result = adherence([an_order(knee)], [a_session(1, moment, 30)], day, day, PRAGUE)
    assert result.days[0].reps_counted == 30
    assert result.reps_capped_pct == 100.0


def test_the_days_with_clock_changes_are_one_day_each(knee: Prescription) -> None:
    result = adherence([an_order(knee)], [], date(2026, 10, 23), date(2026, 10, 28), PRAGUE)
    assert [day.day.day for day in result.days] == [23, 24, 25, 26, 27, 28]
    assert all(day.reps_ordered == 30 for day in result.days)


def test_wrong_clocks_are_named_and_lose_no_session(knee: Prescription) -> None:
    at = datetime(2026, 11, 2, 17, tzinfo=PRAGUE)
    done = [
        a_session(1, at, 30),
        a_session(2, at - timedelta(days=1), 30),
        a_session(3, datetime(2020, 1, 1, tzinfo=PRAGUE), 30),
        a_session(4, datetime(2031, 1, 1, tzinfo=PRAGUE), 30, ended=datetime(2030, 1, 1, tzinfo=PRAGUE)),
    ]
    result = adherence([an_order(knee)], done, date(2026, 11, 1), date(2026, 11, 3), PRAGUE)
    doubts = [(one.kind, one.session_id) for one in result.clock_doubts]
    assert doubts == [
        ("earlier", 2),
        ("earlier", 3),
        ("before_order", 3),
        ("future", 4),
        ("ends_early", 4),
    ]
    assert [day.reps_counted for day in result.days] == [30, 30, 0]


def test_each_day_is_compared_with_what_was_ordered_then(knee: Prescription) -> None:
    first = an_order(knee, issued=date(2026, 11, 1), expires=date(2026, 11, 5))
    hold = first.exercises[0].model_copy(update={"sets": 1})
    second = an_order(knee, issued=date(2026, 11, 3), expires=None).model_copy(
        update={"revision": 2, "exercises": (hold,), "expires": date(2026, 11, 5)}
    )
    result = adherence([second, first], [], date(2026, 10, 31), date(2026, 11, 6), PRAGUE)
    assert [day.reps_ordered for day in result.days] == [0, 30, 30, 10, 10, 10, 0]
    assert in_force([first, second], date(2026, 10, 31)) is None


def test_nothing_ordered_has_no_rate(knee: Prescription) -> None:
    result = adherence([an_order(knee, days=("mon",))], [], date(2026, 11, 3), date(2026, 11, 4), PRAGUE)
    assert result.reps_capped_pct is None and result.sessions_pct is None
    assert adherence([an_order(knee)], [], date(2026, 11, 3), date(2026, 11, 2), PRAGUE).days == ()
