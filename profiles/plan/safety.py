"""The rules that keep a patient safe alone at home. Pure, and never loosened by anything that is played.

Pain thresholds come from the prescription alone: published rules disagree, so there is no default (compare Farrar 2001,
where a change of 2 of 10 points matters to patients on average).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Literal

from musclewood.profiles.journal.history import History, PastSession, zone_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import StopRules


@dataclass(frozen=True)
class Allowance:
    """What the ceilings leave for now. A refusal is a plain sentence."""

    attempts: int
    refusal: str | None = None
    not_before: datetime | None = None


def allowance(prescription: Prescription, history: History, today: date, now: datetime | None) -> Allowance:
    """How many attempts may still be made today, or why none."""
    zone, ceilings = zone_of(prescription.timezone), prescription.ceilings
    monday = today - timedelta(days=today.weekday())
    done_today = done_on(history, today, zone, now)
    done_this_week = [*history.between(monday, today, zone), *_not_on(today, zone, history.ahead_of(now))]
    if any(stopped_by_pain(session, prescription.stop) for session in done_today):
        return Allowance(0, "Pain ended today's session. Rest now, and call your therapist if it stays.")
    if _whole(done_today) >= prescription.sessions_per_day:
        return Allowance(0, "Today's exercises are done.")
    if _whole(done_this_week) >= ceilings.sessions_per_week:
        return Allowance(0, "This week's sessions are done. Rest is part of the plan.")
    if sum(session.minutes for session in done_today) >= ceilings.minutes_per_day:
        return Allowance(0, "Today's minutes are used up. The rest can wait.")
    attempts_today = sum(sum(session.attempts.values()) for session in done_today)
    attempts_this_week = sum(sum(session.attempts.values()) for session in done_this_week)
    left = min(ceilings.reps_per_day - attempts_today, ceilings.reps_per_week - attempts_this_week)
    if left <= 0:
        return Allowance(0, "The most reps allowed are done. The rest can wait.")
    if now is not None and (wait := _wait(prescription, history, now)):
        return Allowance(0, "It is too soon after the last session.", wait)
    return Allowance(left)


def done_on(history: History, today: date, zone: tzinfo | None, now: datetime | None) -> list[PastSession]:
    """What was done today, also if the clock has been set back since."""
    return [*history.on(today, zone), *_not_on(today, zone, history.ahead_of(now))]


def _not_on(day: date, zone: tzinfo | None, sessions: list[PastSession]) -> list[PastSession]:
    return [session for session in sessions if session.day(zone) != day]


def _whole(sessions: list[PastSession]) -> int:
    """Sessions with dose. One that broke off without anyone wanting it may be taken up again, so it is none."""
    return sum(1 for session in sessions if session.attempts and not _broke_off(session))


def _broke_off(session: PastSession) -> bool:
    return session.end is not None and session.end.ending in ("interrupted", "sensor")


def _wait(prescription: Prescription, history: History, now: datetime) -> datetime | None:
    """When the next session may begin, if that is not yet. One that broke off may be taken up at once."""
    done = [session for session in history.sessions if session.attempts and session.started <= now]
    if not done or _broke_off(done[-1]):
        return None
    ready = done[-1].ended + timedelta(hours=prescription.hours_between_sessions)
    return ready if now < ready else None


def pain_rule(pain: int, before: int | None, rules: StopRules) -> Literal["level", "rise"] | None:
    """Which rule an answer ends the session by: at or above the stop level, or risen too far since the session began."""
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
    """What the past asks of one exercise: by how many percent its effort falls (0: not at all), why nothing may rise."""

    lighten: float = 0.0
    held: str | None = None


def restraint(exercise_id: str, sessions: Sequence[PastSession], rules: StopRules) -> Restraint:
    """From the sessions under the same order, the oldest first.

    Pain lightens the next session in which the exercise is done, however many were begun without it since.
    """
    tried = [number for number, session in enumerate(sessions) if session.attempts.get(exercise_id)]
    if not tried:
        return Restraint()
    last = sessions[tried[-1]]
    if any(pain_says_lighten(session, rules) for session in sessions[tried[-1] :]):
        return Restraint(rules.lighten_pct, "There was pain lately.")
    if any(pain_says_lighten(session, rules) for session in sessions[-rules.calm_sessions :]):
        return Restraint(held="There was pain lately.")
    if exercise_id in last.tired or last.declines.get(exercise_id, 0.0) >= rules.fatigue_decline_pct:
        return Restraint(held="The muscle was tired last time.")
    if any(rep.exercise_id == exercise_id and rep.verdict == "unreadable" for rep in last.reps):
        return Restraint(held="The signal could not be read all the time.")
    return Restraint()
