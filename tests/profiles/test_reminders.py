"""The plan in the patient's own calendar."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from icalendar import Calendar
from musclewood.profiles.prescription import DAYS, Prescription
from musclewood.profiles.reminders import plan_as_calendar
from musclewood.profiles.templates import template, template_names

MADE = datetime(2026, 11, 25, 9, tzinfo=UTC)


def events(prescription: Prescription) -> dict[str, list[object]]:
    calendar = Calendar.from_ical(plan_as_calendar(prescription, made_at=MADE))
    found: dict[str, list[object]] = {}
    for event in calendar.walk("VEVENT"):
        found.setdefault(str(event["SUMMARY"]), []).append(event)
    return found


def days_of(event: object) -> list[date]:
    """The days on which a weekly event falls, worked out by hand from its rule."""
    rule, begin = event["RRULE"], event["DTSTART"].dt  # type: ignore[index]
    until = rule["UNTIL"][0]
    days = []
    moment = begin
    while moment <= until:
        days.append(moment.date() if isinstance(moment, datetime) else moment)
        moment += timedelta(days=7)
    assert all(day.strftime("%a")[:2].upper() == rule["BYDAY"][0] for day in days)
    return days


@pytest.mark.parametrize("name", template_names())
def test_every_day_until_the_review_is_exercise_or_rest(name: str) -> None:
    order = template(name)
    found = events(order)
    exercise = sorted(day for event in found["Exercises"] for day in days_of(event))
    rest = sorted(day for event in found.get("Rest day", []) for day in days_of(event))
    every = [order.issued + timedelta(days=number) for number in range((order.review - order.issued).days + 1)]
    assert sorted({*exercise, *rest}) == every and not {*exercise} & {*rest}
    assert all(DAYS[day.weekday()] in order.days for day in exercise)
    assert len(exercise) == len({*exercise}) * order.sessions_per_day


def test_sessions_of_a_day_keep_their_distance() -> None:
    found = events(template("wrist-after-stroke"))
    monday = sorted(event["DTSTART"].dt.time() for event in found["Exercises"] if event["RRULE"]["BYDAY"] == ["MO"])  # type: ignore[index]
    assert monday == [time(9, 0), time(13, 30)]


def test_a_new_revision_updates_the_same_events(knee: Prescription) -> None:
    later = knee.model_copy(update={"revision": 2, "days": ("mon", "wed"), "issued": date(2026, 12, 1)})
    first = Calendar.from_ical(plan_as_calendar(knee, made_at=MADE)).walk("VEVENT")
    second = Calendar.from_ical(plan_as_calendar(later, made_at=MADE)).walk("VEVENT")
    before = {str(event["UID"]): event for event in first}
    after = {str(event["UID"]): event for event in second}
    assert set(before) <= set(after)
    assert {int(event["SEQUENCE"]) for event in first} == {1} and {int(event["SEQUENCE"]) for event in second} == {2}
    gone = {uid for uid, event in after.items() if event.get("STATUS") == "CANCELLED"}
    assert "hb-0042-session-tue-1@musclewood.invalid" in gone and "hb-0042-rest-wed@musclewood.invalid" in gone
    assert "hb-0042-session-mon-1@musclewood.invalid" not in gone
    assert len(after) == len(second)


def test_the_file_keeps_to_the_standard(knee: Prescription) -> None:
    content = plan_as_calendar(knee, made_at=MADE)
    lines = content.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR" and lines[-2] == b"END:VCALENDAR"
    assert all(len(line) <= 75 for line in lines)
    assert content == plan_as_calendar(knee, made_at=MADE)
    for event in Calendar.from_ical(content).walk("VEVENT"):
        assert event["UID"] and event["DTSTAMP"].dt == MADE and "DTSTART" in event
