"""When a test that the order repeats is due: by the order's days, once, never after exercises, pain or a clock that was
set."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from musclewood.profiles.errors import PrescriptionError
from musclewood.profiles.journal.history import History, PastSession
from musclewood.profiles.journal.journal import Reading
from musclewood.profiles.journal.records import RetestRecord, SessionEnd, SessionStart
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.prescription import Prescription, dump, parse
from musclewood.profiles.orders.retests import due_since, retest_minutes
from musclewood.profiles.orders.tables import CalibrationOrder, Retest
from musclewood.profiles.orders.templates import template_text
from musclewood.profiles.plan.retest import MOST_A_DAY, retest_due

FIRST = date(2027, 1, 4)
BOTH = Retest(test="both-sides", every_weeks=4, first=FIRST)
NOON = datetime(2027, 1, 4, 12, tzinfo=UTC)
SIDE = RetestRecord("both-sides", "thigh", "Thigh", "left", "involved", 0, 9.0, 3.0, (80.0, 82.0, 81.0))
OTHER = replace(SIDE, muscle="thigh-other", side="right", role="uninvolved")
BEGUN = replace(SIDE, trials_uv=())


@pytest.fixture
def ordered() -> Prescription:
    order = parse(template_text("weak-thigh-after-knee-operation"))
    return order.model_copy(update={"retest": BOTH, "issued": date(2026, 12, 1), "timezone": "Europe/Prague"})


def past(*sessions: tuple[datetime, tuple[RetestRecord, ...]], reps: int = 0, pain: int | None = None) -> History:
    made = []
    for number, (at, _) in enumerate(sessions, start=1):
        start = SessionStart("HB-0042", 1, "ble", at.isoformat())
        end = SessionEnd((at + timedelta(minutes=6)).isoformat(), "complete")
        attempts = {"thigh-hold": reps} if reps else {}
        made.append(PastSession(number, start, end, attempts, attempts, pain, pain))
    tests = tuple((number, one) for number, (_, records) in enumerate(sessions, start=1) for one in records)
    return History(tuple(made), tests=tests)


def test_due_on_its_day_and_until_it_is_done(ordered: Prescription) -> None:
    assert retest_due(ordered, History(), NOON - timedelta(days=1)) is None
    assert retest_due(ordered, History(), NOON) is not None
    assert retest_due(ordered, History(), NOON + timedelta(days=9)) is not None  # missed: still to be done, once
    done = past((NOON, (BEGUN, OTHER, SIDE)))
    assert retest_due(ordered, done, NOON + timedelta(hours=1)) is None
    assert retest_due(ordered, done, NOON + timedelta(days=27)) is None
    assert retest_due(ordered, done, NOON + timedelta(days=28)) is not None


def test_one_side_is_no_test_of_both_and_two_tries_are_the_most_a_day(ordered: Prescription) -> None:
    halves = past(*[(NOON + timedelta(hours=number), (BEGUN, OTHER)) for number in range(MOST_A_DAY)])
    assert retest_due(ordered, past((NOON, (BEGUN, OTHER))), NOON + timedelta(hours=1)) is not None
    assert retest_due(ordered, halves, NOON + timedelta(hours=3)) is None
    assert retest_due(ordered, halves, NOON + timedelta(days=1)) is not None
    one_side = ordered.model_copy(update={"retest": BOTH.model_copy(update={"test": "maximum"})})
    assert retest_due(one_side, past((NOON, (replace(SIDE, test="maximum"),))), NOON + timedelta(hours=1)) is None


def test_never_after_exercises_or_pain_on_the_same_day(ordered: Prescription) -> None:
    assert retest_due(ordered, past((NOON, ()), reps=4), NOON + timedelta(hours=1)) is None
    assert retest_due(ordered, past((NOON, (BEGUN,)), pain=9), NOON + timedelta(hours=1)) is None
    assert retest_due(ordered, past((NOON, (BEGUN,)), pain=9), NOON + timedelta(days=1)) is not None


def test_a_clock_that_was_set_forward_makes_nothing_due(ordered: Prescription) -> None:
    """The machine has run for an hour since the clock was right, a week before the day."""
    right = Reading(0, "open", NOON - timedelta(days=7), "boot", 100.0)
    clocks = Reading(0, "now", NOON, "boot", 3700.0)
    assert retest_due(ordered, History(readings=(right,), clocks=clocks), NOON) is None


def test_days_fall_due_every_so_many_weeks() -> None:
    assert due_since(BOTH, FIRST - timedelta(days=1)) is None
    assert due_since(BOTH, FIRST + timedelta(days=27)) == FIRST
    assert due_since(BOTH, FIRST + timedelta(days=60)) == FIRST + timedelta(days=56)
    assert 5 < retest_minutes(BOTH, CalibrationOrder()) < 12


def test_a_draft_gives_it_its_usual_days_and_takes_it_away_again(ordered: Prescription) -> None:
    draft = Draft.of(ordered.model_copy(update={"retest": None}))
    paths: Callable[[Draft], list[str]] = lambda one: [f.key_path for f in one.fields() if f.group == "retest"]
    assert paths(draft) == ["retest.test"]
    chosen = draft.set("retest.test", "both-sides")
    assert paths(chosen) == ["retest.test", "retest.every_weeks", "retest.first"]
    assert chosen.value("retest.every_weeks") == 4 and chosen.value("retest.first") == date(2026, 12, 29)
    assert chosen.step("retest.every_weeks", 2).value("retest.first") == date(2027, 1, 12)
    own = chosen.set("retest.first", "2027-02-01").step("retest.every_weeks", 2)
    assert own.value("retest.first") == date(2027, 2, 1)
    assert own.prescription is not None and parse(dump(own.prescription)) == own.prescription
    away = own.set("retest.test", "")
    assert away.prescription is not None and away.prescription.retest is None
    assert "[retest]" not in dump(away.prescription)


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"retest": {"test": "both-sides", "first": date(2020, 1, 1)}}, "retest.first"),
        ({"calibration": {"reference": "comfortable"}}, "retest.test"),
        ({"ceilings": {"minutes_per_day": 12.0}}, "ceilings.minutes_per_day"),
    ],
)
def test_what_does_not_fit_is_named(ordered: Prescription, change: dict[str, dict[str, object]], place: str) -> None:
    document = ordered.model_dump(exclude_none=True)
    for table, values in change.items():
        document[table] = {**document[table], **values}
    with pytest.raises((PrescriptionError, ValueError)) as wrong:
        Prescription.model_validate(document)
    assert any(fault.key_path == place for fault in wrong.value.faults)  # type: ignore[union-attr]
