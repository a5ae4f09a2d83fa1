"""The report's calendar: weeks, and every day on which less was done than ordered, with its reason."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.journal.records import CUT_SHORT_TIRED, ENDED_BY_ITSELF
from musclewood.profiles.plan.adherence import WHOLE_SESSION, DayDone
from musclewood.profiles.report.words import Words

# Endings that explain why less was done than ordered; each has its words in the catalogue.
_EXPLAIN = ("pain", "ceiling", "sensor", "stopped", "interrupted")
# Not stopped by the patient, where the session says so.
_BY_ITSELF = dict(zip(ENDED_BY_ITSELF, ("unanswered", "cues", "restless", "unsteady", "hidden"), strict=True))


@dataclass(frozen=True)
class Reason:
    """Why a day fell short: a key of the catalogue's `reason`, with what is filled in."""

    key: str
    value: int = 0
    of: int = 0
    verdicts: tuple[tuple[str, int], ...] = ()
    before_first: bool = False

    def say(self, words: Words) -> str:
        if self.verdicts:
            listed = words.listed([f"{number} {words.known('verdict', verdict)}" for verdict, number in self.verdicts])
            return words.count("reason.missed", self.value, list=listed)
        told = words(f"reason.{self.key}", value=self.value, n=self.value, of=self.of)
        return words("reason.before_first", why=told) if self.before_first else told


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
    reasons: tuple[Reason, ...]

    def why(self, words: Words) -> str:
        return "; ".join(reason.say(words) for reason in self.reasons)


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


def missed(days: Sequence[DayDone], sessions: Sequence[LedgerSession], zone: tzinfo | None) -> list[Missed]:
    """Days with less than 80 % of their repetitions, and why.

    `sessions` are all of them, practice included: that only practice was done is a reason too.
    """
    by_day: dict[date, list[LedgerSession]] = {}
    for session in sessions:
        by_day.setdefault(session.day(zone), []).append(session)
    found: list[Missed] = []
    for day in days:
        if day.rest_day or day.reps_capped >= WHOLE_SESSION * day.reps_ordered:
            continue
        reasons = reasons_of(day, by_day.get(day.day, []))
        before = found[-1] if found else None
        if before and before.reasons == reasons and _follows(before.last, day.day, days):
            ordered, made = before.reps_ordered + day.reps_ordered, before.reps_counted + day.reps_counted
            found[-1] = Missed(before.first, day.day, ordered, made, reasons)
        else:
            found.append(Missed(day.day, day.day, day.reps_ordered, day.reps_counted, reasons))
    return found


def _follows(last: date, day: date, days: Sequence[DayDone]) -> bool:
    """Whether no planned day lies between two days."""
    return not any(last < one.day < day and not one.rest_day for one in days)


def reasons_of(day: DayDone, sessions: Sequence[LedgerSession]) -> tuple[Reason, ...]:
    """Why a day was not whole, as far as the journal knows. What the patient thought is for the visit."""
    real = [session for session in sessions if not session.practice] or (list(sessions) if day.reps_attempted else [])
    if not real:
        return (Reason("practice" if sessions else "none"),)
    reasons = list(dict.fromkeys(reason for session in real if (reason := _ending(session))))
    if day.sessions_ordered > 1 and len(real) < day.sessions_ordered:
        reasons.append(Reason("begun", len(real), day.sessions_ordered))
    if any(one.cut_short == CUT_SHORT_TIRED for session in real for one in session.sets):
        reasons.append(Reason("tired"))
    failed = Counter(rep.verdict for session in real for rep in session.reps if rep.verdict != "counted")
    if failed:
        reasons.append(Reason("missed", failed.total(), verdicts=tuple(failed.most_common())))
    return tuple(reasons) or (Reason("fewer"),)


def _ending(session: LedgerSession) -> Reason | None:
    ending = session.end.ending if session.end else "interrupted"
    if ending not in _EXPLAIN or session.pain_came_after:
        return None
    pains = [one.value for one in session.ratings if one.what == "pain"]
    key: str = "pain_value" if ending == "pain" and pains else ending
    if ending == "stopped" and session.end is not None:
        notes = (session.end.note or "").split("; ")
        key = next((_BY_ITSELF[note] for note in notes if note in _BY_ITSELF), key)
    return Reason(key, max(pains) if key == "pain_value" else 0, before_first=not session.reps)
