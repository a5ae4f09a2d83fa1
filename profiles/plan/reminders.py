"""The plan as an iCalendar file (RFC 5545), so that the patient's own calendar reminds of exercise and of rest.

Each day of the week is one recurring event whose UID stays the same for this patient, so that importing a new revision
updates it. A weekday that the new revision no longer knows is cancelled. The events carry the clinic code, nobody's
name.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from musclewood.profiles.disk.files import write_whole
from musclewood.profiles.orders.daily_dose import daily_dose
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS

if TYPE_CHECKING:  # loaded when a calendar is written; the launcher must not wait for it
    from icalendar import Event, vRecur

# When the first session of a day is put into the calendar; the patient may move it. Our choice.
FIRST_SESSION = time(17, 0)
FIRST_OF_SEVERAL = time(9, 0)
SHORTEST_MINUTES = 15


def plan_as_calendar(prescription: Prescription, *, made_at: datetime | None = None) -> bytes:
    """The plan until its end (or its review date), as the bytes of an .ics file."""
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", "-//Musclewood//Exercise plan//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    stamp = (made_at or datetime.now(UTC)).astimezone(UTC)
    for event in (*_sessions(prescription), *_rest_days(prescription), _review(prescription)):
        event.add("dtstamp", stamp)
        event.add("sequence", prescription.revision)
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def calendar_beside(prescription_path: Path) -> Path:
    """Where the calendar of a prescription is kept."""
    return prescription_path.with_suffix(".ics")


def keep_calendar(prescription: Prescription, prescription_path: Path) -> Path:
    """Write the calendar beside its prescription, or refresh it if the plan has changed. Raises StorageError."""
    path, fresh = calendar_beside(prescription_path), plan_as_calendar(prescription)
    if not (path.is_file() and _undated(path.read_bytes()) == _undated(fresh)):
        write_whole(path, fresh)
    return path


def _undated(content: bytes) -> list[bytes]:
    """What a calendar says, whenever it was made."""
    return [line for line in content.splitlines() if not line.startswith(b"DTSTAMP")]


def _uid(prescription: Prescription, what: str) -> str:
    return f"{prescription.patient.lower()}-{what}@musclewood.invalid"


def _first(prescription: Prescription, weekday: int) -> date:
    """The first such weekday on or after the day of issue."""
    return prescription.issued + timedelta(days=(weekday - prescription.issued.weekday()) % 7)


def _last(prescription: Prescription) -> date:
    return prescription.expires or prescription.review


def _sessions(prescription: Prescription) -> Iterator[Event]:
    """Session times are floating local times: 17:00 stays 17:00 when the clocks change or the patient travels."""
    _, minutes = daily_dose(prescription)
    length = timedelta(minutes=max(SHORTEST_MINUTES, round(minutes / prescription.sessions_per_day)))
    for weekday, name in enumerate(DAYS):
        for number in range(4):
            uid = _uid(prescription, f"session-{name}-{number + 1}")
            wanted = name in prescription.days and number < prescription.sessions_per_day
            day = _first(prescription, weekday)
            begin = datetime.combine(day, _begin(prescription, number) if wanted else FIRST_SESSION)
            if wanted and day <= _last(prescription):
                yield _recurring(prescription, uid, name, begin, begin + length)
            elif prescription.revision > 1:
                yield _cancelled(uid, begin)


def _begin(prescription: Prescription, number: int) -> time:
    if prescription.sessions_per_day == 1:
        return FIRST_SESSION
    apart = max(prescription.hours_between_sessions, 1.0) + 0.5
    apart = min(apart, 12 / (prescription.sessions_per_day - 1) if prescription.sessions_per_day > 1 else apart)
    minutes = round(FIRST_OF_SEVERAL.hour * 60 + number * apart * 60)
    return time(min(23, minutes // 60), minutes % 60 if minutes < 24 * 60 else 59)


def _event() -> Event:
    from icalendar import Event

    return Event()


def _recurring(prescription: Prescription, uid: str, day: str, begin: datetime, end: datetime) -> Event:
    event = _event()
    event.add("uid", uid)
    event.add("summary", "Exercises")
    event.add("description", _description(prescription))
    event.add("dtstart", begin)
    event.add("dtend", end)
    event.add("rrule", _weekly(day, datetime.combine(_last(prescription), time(23, 59, 59))))
    return event


def _weekly(day: str, until: date) -> vRecur:
    from icalendar import vRecur

    return vRecur({"freq": "weekly", "byday": day[:2].upper(), "until": until})


def _description(prescription: Prescription) -> str:
    lines = [
        f"{one.title}: {one.sets} x {one.reps}, hold {one.hold_s:g} s, rest {one.rest_s:g} s"
        for one in prescription.exercises
    ]
    return "\n".join([*lines, "Stop on pain, dizziness or a skin reaction."])


def _rest_days(prescription: Prescription) -> Iterator[Event]:
    for weekday, name in enumerate(DAYS):
        uid, day = _uid(prescription, f"rest-{name}"), _first(prescription, weekday)
        if name not in prescription.days and day <= _last(prescription):
            event = _event()
            event.add("uid", uid)
            event.add("summary", "Rest day")
            event.add("description", "Rest is part of the plan.")
            event.add("dtstart", day)
            event.add("dtend", day + timedelta(days=1))
            event.add("transp", "TRANSPARENT")
            event.add("rrule", _weekly(name, _last(prescription)))
            yield event
        elif prescription.revision > 1:
            yield _cancelled(uid, day)


def _review(prescription: Prescription) -> Event:
    event = _event()
    event.add("uid", _uid(prescription, "review"))
    event.add("summary", "Review with the therapist")
    event.add("dtstart", prescription.review)
    event.add("dtend", prescription.review + timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    return event


def _cancelled(uid: str, begin: date) -> Event:
    event = _event()
    event.add("uid", uid)
    event.add("summary", "No longer planned")
    event.add("status", "CANCELLED")
    event.add("dtstart", begin)
    return event
