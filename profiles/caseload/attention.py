"""What needs the therapist's attention, the most urgent first. Pure: facts and today in, reasons out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from musclewood.assets.saying import Saying, say
from musclewood.profiles.caseload.summary import Facts, Maximum
from musclewood.profiles.orders.tables import DAYS

# Share of sets with poor signal in two weeks from which somebody should look at the electrodes. Our choice.
POOR_PCT = 25.0
# Days for which pain is news. Our choice: until about the next review.
PAIN_DAYS = 21


@dataclass(frozen=True)
class Attention:
    """One reason to look. `urgency` is 1 (now) to 5 (when there is time); `figures` fill the sentence of that key."""

    urgency: int
    key: str
    figures: Mapping[str, str | int]

    def sentence(self) -> Saying:
        """The reason in plain English."""
        return say(f"desk.attention.{self.key}", **self.figures)


@dataclass(frozen=True)
class PatientSummary:
    """A line of the desk's list. Adherence is capped per session, over four weeks up to the last hand-over."""

    patient: str
    revision: int | None
    issued: date | None
    review: date | None
    expires: date | None
    last_handover: date | None
    last_session: date | None
    sessions: int
    adherence_pct: float | None
    maxima: tuple[Maximum, ...]
    attention: tuple[Attention, ...]

    @property
    def urgency(self) -> int:
        """Of the most urgent reason; 9 when there is none."""
        return self.attention[0].urgency if self.attention else 9


def summary(facts: Facts, today: date, *, silent_days: int, review_days_ahead: int) -> PatientSummary:
    """The list's line on a day."""
    reasons = [
        *([Attention(1, "unreadable", {"reason": facts.unreadable})] if facts.unreadable else []),
        *([Attention(1, "set_aside", {"reason": facts.set_aside})] if facts.set_aside else []),
        *_pain(facts, today),
        *_silence(facts, today, silent_days),
        *_dates(facts, today, review_days_ahead),
        *_progress(facts),
    ]
    return PatientSummary(
        patient=facts.patient,
        revision=facts.revision,
        issued=facts.issued,
        review=facts.review,
        expires=facts.expires,
        last_handover=facts.last_handover,
        last_session=facts.last_session,
        sessions=facts.sessions,
        adherence_pct=facts.adherence_pct,
        maxima=facts.maxima,
        attention=tuple(sorted(reasons, key=lambda reason: reason.urgency)),
    )


def _pain(facts: Facts, today: date) -> Iterator[Attention]:
    if facts.highest_pain is None:
        return
    value, day = facts.highest_pain
    if (today - day).days > PAIN_DAYS:
        return
    if value >= facts.pain_stop:
        yield Attention(1, "pain", {"value": value, "level": facts.pain_stop, "day": day.isoformat()})
    elif facts.pain_rose is not None:
        before, value, day = facts.pain_rose
        yield Attention(1, "pain_rose", {"before": before, "value": value, "day": day.isoformat()})
    elif facts.pain_ended:
        yield Attention(1, "pain_ended", {"value": value, "day": day.isoformat()})
    elif value >= facts.pain_lighten:
        yield Attention(3, "pain_rising", {"value": value, "level": facts.pain_lighten, "day": day.isoformat()})


def _silence(facts: Facts, today: date, silent_days: int) -> Iterator[Attention]:
    if facts.issued is None:
        return
    since = max(facts.last_session or facts.issued, facts.issued)
    until = min(today, facts.expires) if facts.expires else today
    here = [day for day in _days_between(since, until) if not any(low <= day <= high for low, high in facts.away)]
    days = len(here)
    due = sum(DAYS[day.weekday()] in facts.days for day in here[: min(days, 60) - 1])
    if days < silent_days or not due:
        return
    if facts.last_handover is None:
        yield Attention(2, "never", {"days": days})
    else:
        yield Attention(2, "silent", {"days": days})


def _days_between(after: date, until: date) -> list[date]:
    """Every day after the one, up to the other, at most the last two years of them."""
    span = max(0, (until - after).days)
    return [until - timedelta(days=back) for back in range(min(span, 730) - 1, -1, -1)]


def _dates(facts: Facts, today: date, ahead: int) -> Iterator[Attention]:
    if facts.expires and today > facts.expires:
        yield Attention(2, "expired", {"day": facts.expires.isoformat()})
    if facts.review is None:
        return
    days = (facts.review - today).days
    if days < 0:
        yield Attention(3, "review", {"day": facts.review.isoformat(), "days": -days})
    elif days <= ahead:
        yield Attention(5, "review_soon", {"day": facts.review.isoformat(), "days": days})


def _progress(facts: Facts) -> Iterator[Attention]:
    for exercise, times in facts.tired:
        yield Attention(4, "tired", {"exercise": exercise, "times": times})
    for exercise in facts.at_upper_bound:
        yield Attention(4, "ceiling", {"exercise": exercise})
    if facts.poor_sets_pct >= POOR_PCT:
        yield Attention(3, "signal", {"percent": round(facts.poor_sets_pct)})
    if facts.journal_worries:
        yield Attention(4, "journal", {"count": facts.journal_worries})
