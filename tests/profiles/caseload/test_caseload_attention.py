"""Who needs attention first: every reason, its limits, and its place in the order."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from musclewood.profiles.caseload.attention import PAIN_DAYS, summary
from musclewood.profiles.caseload.summary import Facts, facts_of
from musclewood.profiles.journal.ledger import Ledger, LedgerSession
from musclewood.profiles.journal.records import RatingRecord, Record, SessionEnd, SessionStart, SetRecord
from musclewood.profiles.orders.prescription import Prescription

TODAY = date(2026, 11, 25)
WELL = Facts(
    "HB-0042", revision=1, issued=date(2026, 11, 2), review=date(2026, 12, 24), days=("mon", "wed", "fri"), pain_stop=5,
    pain_lighten=3, last_handover=date(2026, 11, 24), last_session=date(2026, 11, 23), sessions=9,
)  # fmt: skip


def reasons(facts: Facts, today: date = TODAY, **settings: Any) -> list[tuple[int, str]]:
    values = {"silent_days": 7, "review_days_ahead": 7} | settings
    return [(one.urgency, one.key) for one in summary(facts, today, **values).attention]


def test_nothing_to_say_when_all_is_well() -> None:
    assert reasons(WELL) == []
    assert summary(WELL, TODAY, silent_days=7, review_days_ahead=7).urgency == 9


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"highest_pain": (5, TODAY)}, [(1, "pain")]),
        ({"highest_pain": (4, TODAY), "pain_ended": True}, [(1, "pain_ended")]),
        ({"highest_pain": (4, TODAY), "pain_ended": True, "pain_rose": (1, 4, TODAY)}, [(1, "pain_rose")]),
        ({"highest_pain": (7, TODAY), "pain_ended": True, "pain_rose": (1, 4, TODAY)}, [(1, "pain")]),
        ({"highest_pain": (4, TODAY)}, [(3, "pain_rising")]),
        ({"highest_pain": (2, TODAY)}, []),
        ({"highest_pain": (9, TODAY - timedelta(days=PAIN_DAYS + 1))}, []),
        ({"last_session": TODAY - timedelta(days=7)}, [(2, "silent")]),
        ({"last_session": TODAY - timedelta(days=6)}, []),
        ({"last_session": None, "last_handover": None}, [(2, "never")]),
        ({"last_session": TODAY - timedelta(days=30), "days": ()}, []),
        ({"expires": TODAY - timedelta(days=1)}, [(2, "expired")]),
        ({"expires": TODAY}, []),
        ({"review": TODAY - timedelta(days=1)}, [(3, "review")]),
        ({"review": TODAY + timedelta(days=7)}, [(5, "review_soon")]),
        ({"review": TODAY + timedelta(days=8)}, []),
        ({"at_upper_bound": ("Hold",)}, [(4, "ceiling")]),
        ({"tired": (("Hold", 2),)}, [(4, "tired")]),
        ({"poor_sets_pct": 25.0}, [(3, "signal")]),
        ({"poor_sets_pct": 24.0}, []),
        ({"journal_worries": 1}, [(4, "journal")]),
    ],
)
def test_each_reason_has_its_limit(changes: dict[str, Any], expected: list[tuple[int, str]]) -> None:
    facts = replace(WELL, **changes)
    assert reasons(facts) == expected
    for one in summary(facts, TODAY, silent_days=7, review_days_ahead=7).attention:
        assert one.sentence().endswith(".") and "{" not in one.sentence()


def test_the_most_urgent_comes_first() -> None:
    worried = replace(WELL, tired=(("Hold", 1),), review=TODAY, highest_pain=(6, TODAY), poor_sets_pct=80.0)
    assert [urgency for urgency, _ in reasons(worried)] == [1, 3, 4, 5]


def a_session(number: int, day: date, records: list[Record], ending: Any = "complete") -> LedgerSession:
    start = SessionStart("HB-0042", 1, "ble", f"{day}T17:00:00+01:00", "Europe/Prague")
    return LedgerSession(number, start, SessionEnd(f"{day}T17:20:00+01:00", ending), tuple(records))


def test_facts_come_from_what_was_handed_over(knee: Prescription, rep: Any) -> None:
    order = knee.model_copy(update={"issued": date(2026, 11, 2)})
    top = order.exercises[0].effort.max_pct_mvc
    whole: list[Record] = [
        rep(number, exercise_id=one.id, target_pct_mvc=top)
        for one in order.exercises
        for number in range(one.sets * one.reps)
    ]
    tired = SetRecord("thigh-hold", 1, 10, 8, 10, 0.0, 90.0, "tired", quality="poor")
    sessions = (
        a_session(1, date(2026, 11, 3), [*whole, RatingRecord(1.0, "pain", 8, "after")]),
        a_session(2, date(2026, 11, 23), [*whole, tired, RatingRecord(1.0, "pain", 4, "during")], "pain"),
    )
    facts = facts_of("HB-0042", [order], Ledger(sessions, problems=("something",)), date(2026, 11, 24))
    assert (facts.sessions, facts.last_session, facts.journal_worries) == (2, date(2026, 11, 23), 1)
    assert facts.highest_pain == (4, date(2026, 11, 23)), "what is older than two weeks is history"
    assert facts.pain_ended and facts.poor_sets_pct == 100.0
    assert facts.tired == (("Tighten the thigh and hold", 1),)
    assert facts.at_upper_bound[0] == "Tighten the thigh and hold"
    due = sum(day.weekday() in (0, 1, 3, 4, 5) for day in (date(2026, 11, 2) + timedelta(n) for n in range(22)))
    assert facts.adherence_pct == pytest.approx(100 * 2 / due), (
        "today's day is not over and does not count against anybody"
    )
