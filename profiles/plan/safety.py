"""The rules that keep a patient safe alone at home. Pure, and never loosened by anything that is played.

Pain thresholds come from the prescription alone: published rules disagree, so there is no default (compare Farrar 2001,
where a change of 2 of 10 points matters to patients on average).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Literal

from musclewood.profiles.journal.history import History, PastSession, zone_of
from musclewood.profiles.orders.exercises import reps_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import StopRules
from musclewood.profiles.plan.reasons import Reason
from musclewood.profiles.plan.trusted_time import Lived


@dataclass(frozen=True)
class Allowance:
    """What the past leaves for now: attempts, minutes, and counted reps of the next session by exercise."""

    attempts: int
    minutes: float = 0.0
    left: Mapping[str, int] = field(default_factory=dict)
    refusal: Reason | None = None
    not_before: datetime | None = None


def allowance(prescription: Prescription, lived: Lived, today: date) -> Allowance:
    """What may still be done today, or why nothing. Asked once a plan; everything else follows from the answer."""
    zone, ceilings, history = zone_of(prescription.timezone), prescription.ceilings, lived.history
    if lived.unmoved is not None and lived.unmoved.astimezone(zone).date() < prescription.issued:
        lived = replace(lived, unmoved=None)  # a clock that had never been right was put right
    done_today, done_this_week = lived.on(today, zone), lived.this_week(today, zone)
    minutes = max(0.0, ceilings.minutes_per_day - sum(session.minutes for session in done_today))
    left = _left_now(prescription, done_today)
    attempts = min(
        ceilings.reps_per_day - sum(sum(session.attempts.values()) for session in done_today),
        ceilings.reps_per_week - sum(sum(session.attempts.values()) for session in done_this_week),
    )

    def refused(why: Reason, wait: datetime | None = None) -> Allowance:
        return Allowance(0, minutes, refusal=why, not_before=wait)

    if any(stopped_by_pain(session, prescription.stop) for session in done_today):
        return refused(Reason.PAIN)
    if lived.behind:
        return refused(Reason.CLOCK_BEHIND)
    if _journal_was_set_aside(prescription, lived, today):
        return refused(Reason.SET_ASIDE)
    if _whole(prescription, done_today) >= prescription.sessions_per_day:
        return refused(Reason.DONE)
    if _whole(prescription, done_this_week) >= ceilings.sessions_per_week:
        return refused(Reason.WEEK_DONE)
    if minutes <= 0:
        return refused(Reason.MINUTES_DONE)
    if attempts <= 0:
        return refused(Reason.REPS_DONE)
    if lived.now is not None and (wait := _wait(prescription, history, lived.now)):
        return refused(*wait)
    return Allowance(attempts, minutes, left)


def _journal_was_set_aside(prescription: Prescription, lived: Lived, today: date) -> bool:
    """Whether a damaged journal was set aside today. What it held is unknown; a newer order says that all is well."""
    zone = zone_of(prescription.timezone)
    return any(
        at.astimezone(zone).date() == today and (revision is None or prescription.revision <= revision)
        for at, revision in lived.set_aside
    )


@dataclass(frozen=True)
class _Progress:
    """How many sessions of the order are done, and the counted reps of the one at hand; None where none was begun."""

    whole: int = 0
    at_hand: Mapping[str, int] | None = None


def _progress(prescription: Prescription, sessions: Sequence[PastSession]) -> _Progress:
    """A session of the order that ended early is taken up by the next one played."""
    whole, made = 0, Counter[str]()
    begun = False
    for session in sessions:
        if not session.attempts:
            continue
        made.update(session.counted)
        begun = not _closed(prescription, session, made)
        if not begun:
            whole, made = whole + 1, Counter()
    return _Progress(whole, made if begun else None)


def _closed(prescription: Prescription, session: PastSession, made: Mapping[str, int]) -> bool:
    """Whether nothing of the ordered session is left: it ran to its end, or all its reps are made."""
    if not _ended_early(session):
        return True
    return all(made.get(exercise.id, 0) >= reps_of(exercise) for exercise in prescription.exercises)


def _ended_early(session: PastSession) -> bool:
    return session.end is not None and session.end.ending in ("interrupted", "sensor", "stopped")


def _broke_off(session: PastSession) -> bool:
    """Ended without anyone wanting it."""
    return session.end is not None and session.end.ending in ("interrupted", "sensor")


def _whole(prescription: Prescription, sessions: Sequence[PastSession]) -> int:
    """Sessions of the order that are done."""
    zone = zone_of(prescription.timezone)
    days = dict.fromkeys(session.day(zone) for session in sessions)
    of_day = [[session for session in sessions if session.day(zone) == day] for day in days]
    return sum(_progress(prescription, one).whole for one in of_day)


def _left_now(prescription: Prescription, done: Sequence[PastSession]) -> dict[str, int]:
    """Counted reps still to be made in the session at hand, by exercise: never beyond the day's."""
    at_hand = _progress(prescription, done).at_hand or {}
    left = {}
    for exercise in prescription.exercises:
        ordered = reps_of(exercise)
        made = sum(session.counted.get(exercise.id, 0) for session in done)
        room = prescription.sessions_per_day * ordered - made
        left[exercise.id] = max(0, min(ordered - at_hand.get(exercise.id, 0), room))
    return left


def _wait(prescription: Prescription, history: History, now: datetime) -> tuple[Reason, datetime] | None:
    """Why and until when the next session must wait.

    The ordered hours lie between sessions, also after one that somebody ended early. One that broke off may be taken up
    once the muscle has rested as long as between two sets.
    """
    done = [session for session in history.sessions if session.attempts]
    if not done:
        return None
    last = done[-1]
    rested = last.ended + timedelta(seconds=max(one.set_rest_s for one in prescription.exercises))
    day = [one for one in done if last.started - one.started < timedelta(hours=24)]
    going_on = _broke_off(last) and _progress(prescription, day).at_hand is not None
    ready = last.ended + timedelta(hours=prescription.hours_between_sessions)
    if not going_on and now < ready:
        return Reason.TOO_SOON, ready
    return (Reason.STILL_RESTING, rested) if now < rested else None


def pain_rule(pain: int, before: int | None, rules: StopRules) -> Literal["level", "rise"] | None:
    """Which rule an answer ends the session by: at or above the stop level, or risen too far
    since the session began."""
    if pain >= rules.pain_stop:
        return "level"
    return "rise" if before is not None and pain - before >= rules.pain_rise_stop else None


def pain_says_stop(pain: int, before: int | None, rules: StopRules) -> bool:
    """Whether an answer ends the session, by whichever rule."""
    return pain_rule(pain, before, rules) is not None


def stopped_by_pain(session: PastSession, rules: StopRules) -> bool:
    """Whether a session ended, or should have ended, because of pain."""
    if session.end is not None and session.end.ending == "pain":
        return True
    highest = session.highest_pain
    return highest is not None and pain_says_stop(highest, session.first_pain, rules)


def pain_says_lighten(session: PastSession, rules: StopRules) -> bool:
    """Whether the session after this one must be easier."""
    if stopped_by_pain(session, rules):
        return True
    return session.highest_pain is not None and session.highest_pain >= rules.pain_lighten


@dataclass(frozen=True)
class Restraint:
    """What the past asks of one exercise: by how many percent its effort falls (0: not at all), whether nothing may
    rise."""

    lighten: float = 0.0
    held: bool = False


def restraint(exercise_id: str, sessions: Sequence[PastSession], rules: StopRules) -> Restraint:
    """From the sessions under the same order, the oldest first.

    Pain lightens the next session in which the exercise is done, however many were begun without it since.
    """
    tried = [number for number, session in enumerate(sessions) if session.attempts.get(exercise_id)]
    if not tried:
        return Restraint()
    last = sessions[tried[-1]]
    if any(pain_says_lighten(session, rules) for session in sessions[tried[-1] :]):
        return Restraint(rules.lighten_pct, held=True)
    if any(pain_says_lighten(session, rules) for session in sessions[-rules.calm_sessions :]):
        return Restraint(held=True)
    if exercise_id in last.tired or last.declines.get(exercise_id, 0.0) >= rules.fatigue_decline_pct:
        return Restraint(held=True)
    if any(rep.exercise_id == exercise_id and rep.verdict == "unreadable" for rep in last.reps):
        return Restraint(held=True)
    return Restraint()
