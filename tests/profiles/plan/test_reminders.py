"""The plan in the patient's own calendar."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import rrulestr
from icalendar import Calendar
from musclewood.games.__main__ import main
from musclewood.profiles.home.exchange import take
from musclewood.profiles.home.homes import Home
from musclewood.profiles.orders.prescription import Prescription, dump
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template, template_names, template_text
from musclewood.profiles.plan.reminders import keep_calendar, plan_as_calendar

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


def test_the_hour_stays_through_summer_time(knee: Prescription) -> None:
    """17:00 on the patient's clock, before and after the clocks go forward, as a calendar program expands the rule."""
    order = knee.model_copy(
        update={"issued": date(2026, 3, 16), "review": date(2026, 4, 12), "days": DAYS, "timezone": "Europe/Prague"}
    )
    prague = ZoneInfo("Europe/Prague")
    moments = []
    for event in events(order)["Exercises"]:
        rule = event["RRULE"].to_ical().decode()  # type: ignore[index]
        moments += [day.replace(tzinfo=prague) for day in rrulestr(rule, dtstart=event["DTSTART"].dt)]  # type: ignore[index]
    assert len(moments) == 28 and {moment.time() for moment in moments} == {time(17, 0)}
    in_utc = {moment.date(): moment.astimezone(UTC).hour for moment in moments}
    assert in_utc[date(2026, 3, 28)] == 16 and in_utc[date(2026, 3, 29)] == 15


def test_the_calendar_beside_a_prescription_follows_its_revisions(knee: Prescription, tmp_path: Path) -> None:
    place = tmp_path / "HB-0042.toml"
    path = keep_calendar(knee, place)
    assert path == tmp_path / "HB-0042.ics"
    first = path.read_bytes()
    before = path.stat().st_mtime_ns
    keep_calendar(knee, place)
    assert path.stat().st_mtime_ns == before  # nothing new, nothing written
    keep_calendar(knee.model_copy(update={"revision": 2, "days": ("tue",)}), place)
    old, new = (
        {str(one["UID"]): one for one in Calendar.from_ical(text).walk("VEVENT")} for text in (first, path.read_bytes())
    )
    assert set(old) <= set(new)
    assert all(int(new[uid]["SEQUENCE"]) > int(event["SEQUENCE"]) for uid, event in old.items())


def test_a_prescription_that_is_taken_in_brings_its_calendar(knee: Prescription, tmp_path: Path) -> None:
    home = Home(tmp_path / "home")
    home.create()
    take(home, dump(knee).encode(), today=knee.issued, confirm_unsigned=lambda unsigned: True)
    calendar = Calendar.from_ical((home.prescriptions / f"{knee.patient}.ics").read_bytes())
    assert {str(event["SUMMARY"]) for event in calendar.walk("VEVENT")} >= {"Exercises", "Rest day"}


def test_check_writes_the_calendar(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    order, into = tmp_path / "order.toml", tmp_path / "plan.ics"
    order.write_text(template_text("weak-thigh-after-knee-operation"), encoding="utf-8")
    assert main(["check", str(order), "--calendar", str(into)]) == 0
    assert "plan.ics" in capsys.readouterr().out
    found = Calendar.from_ical(into.read_bytes()).walk("VEVENT")
    assert any(str(event["SUMMARY"]) == "Rest day" for event in found)
    assert main(["check", str(order), str(order), "--calendar", str(into)]) == 2
    assert main(["check", str(order), "--calendar", str(tmp_path)]) == 1
    assert "calendar" in capsys.readouterr().err
