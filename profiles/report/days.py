"""The report's calendar: weeks, and every day on which less was done than ordered, with its reason."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.journal.records import CUT_SHORT_TIRED, ENDED_BY_ITSELF
from musclewood.profiles.plan.adherence import WHOLE_SESSION, DayDone

_ENDED = {
    "pain": "pain ended the session",
    "ceiling": "the day's ceiling was reached",
    "sensor": "the sensor failed",
    "stopped": "the patient stopped",
    "interrupted": "the program ended in the middle",
}


@dataclass(frozen=True)
class Week:
    """Monday to Sunday, as far as the report reaches. `share_pct` is None when nothing was ordered."""

    monday: date
    days_planned: int
    days_done: int
    reps_ordered: int
    reps_counted: int
    share_pct: float | None
    sessions_whole: int
    sessions_ordered: int
    in_band_min: float
    highest_pain: int | None


@dataclass(frozen=True)
class Missed:
    """Days in a row with the same reason. Figures are sums over them."""

    first: date
    last: date
    reps_ordered: int
    reps_counted: int
    reason: str


def weeks(days: Sequence[DayDone], sessions: Sequence[LedgerSession], zone: tzinfo | None) -> list[Week]:
    """Every week that the days touch."""
    pains: dict[date, int] = {}
    for session in sessions:
        for rating in session.ratings:
            if rating.what == "pain":
                monday = _monday(session.day(zone))
                pains[monday] = max(rating.value, pains.get(monday, 0))
    grouped: dict[date, list[DayDone]] = {}
    for day in days:
        grouped.setdefault(_monday(day.day), []).append(day)
    return [_week(monday, of_week, pains.get(monday)) for monday, of_week in grouped.items()]


def _week(monday: date, days: Sequence[DayDone], pain: int | None) -> Week:
    ordered, capped = sum(day.reps_ordered for day in days), sum(day.reps_capped for day in days)
    return Week(
        monday=monday,
        days_planned=sum(1 for day in days if not day.rest_day),
        days_done=sum(1 for day in days if day.reps_attempted),
        reps_ordered=ordered,
        reps_counted=sum(day.reps_counted for day in days),
        share_pct=100 * capped / ordered if ordered else None,
        sessions_whole=sum(min(day.sessions_whole, day.sessions_ordered) for day in days),
        sessions_ordered=sum(day.sessions_ordered for day in days),
        in_band_min=sum(day.in_band_s for day in days) / 60,
        highest_pain=pain,
    )


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def missed(
    days: Sequence[DayDone], sessions: Sequence[LedgerSession], zone: tzinfo | None, today: date
) -> list[Missed]:
    """Days with less than 80 % of their repetitions, and why. Today is not over, so it is not among them.

    `sessions` are all of them, practice included: that only practice was done is a reason too.
    """
    by_day: dict[date, list[LedgerSession]] = {}
    for session in sessions:
        by_day.setdefault(session.day(zone), []).append(session)
    found: list[Missed] = []
    for day in days:
        if day.rest_day or day.day >= today or day.reps_capped >= WHOLE_SESSION * day.reps_ordered:
            continue
        reason = reason_of(day, by_day.get(day.day, []))
        before = found[-1] if found else None
        if before and before.reason == reason and _follows(before.last, day.day, days):
            found[-1] = Missed(
                before.first,
                day.day,
                before.reps_ordered + day.reps_ordered,
                before.reps_counted + day.reps_counted,
                reason,
            )
        else:
            found.append(Missed(day.day, day.day, day.reps_ordered, day.reps_counted, reason))
    return found


def _follows(last: date, day: date, days: Sequence[DayDone]) -> bool:
    """Whether no planned day lies between two days."""
    return not any(last < one.day < day and not one.rest_day for one in days)


def reason_of(day: DayDone, sessions: Sequence[LedgerSession]) -> str:
    """Why a day was not whole, as far as the journal knows. What the patient thought is for the visit."""
    real = [session for session in sessions if not session.practice]
    if not real:
        return "only practice without a sensor" if sessions else "no session was begun"
    reasons = list(dict.fromkeys(reason for session in real if (reason := _ending(session))))
    if day.sessions_ordered > 1 and len(real) < day.sessions_ordered:
        reasons.append(f"{len(real)} of {day.sessions_ordered} sessions were begun")
    if any(one.cut_short == CUT_SHORT_TIRED for session in real for one in session.sets):
        reasons.append("sets were cut short because the muscle tired")
    missed_reps = Counter(rep.verdict for session in real for rep in session.reps if rep.verdict != "counted")
    if missed_reps:
        words = ", ".join(f"{number} {verdict}" for verdict, number in missed_reps.most_common())
        reasons.append(f"{missed_reps.total()} attempts did not count ({words})")
    return "; ".join(reasons) or "fewer repetitions were begun than ordered"


def _ending(session: LedgerSession) -> str:
    ending = session.end.ending if session.end else "interrupted"
    notes = (session.end.note or "").split("; ") if session.end else []
    words = _ENDED.get(ending, "")
    if ending == "stopped":  # not by the patient, where the session says so
        words = next((note for note in notes if note in ENDED_BY_ITSELF), words)
    elif ending == "pain" and (rule := next((note for note in notes if note.startswith("pain ")), "")):
        return rule  # which answer, and by which rule of the order
    elif ending == "pain":
        highest = max((one.value for one in session.ratings if one.what == "pain"), default=None)
        words += f" ({highest} of 10)" if highest is not None else ""
    return words if session.reps or not words else f"{words} before the first repetition"
