"""One patient at a glance for the desk: how it goes, and what needs attention first.

Facts are read once from a hand-over and kept; what they mean depends on today, and is worked out each time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo

from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.journal.ledger import Ledger, LedgerSession
from musclewood.profiles.journal.records import CUT_SHORT_TIRED
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.adherence import lately
from musclewood.profiles.plan.measured import measured_of, planned_looks
from musclewood.profiles.plan.recent_mvc import change, follow, usable
from musclewood.profiles.plan.safety import pain_rule

# Days before the last session in which pain, poor signal and tired muscles are looked for. Our choice.
RECENT_DAYS = 14
# Estimates kept for a small picture of the maximum; the report has all of them.
TRACK_POINTS = 40


@dataclass(frozen=True)
class Maximum:
    """A muscle's recent MVC in µV with its 95 % interval; `track_uv` are the latest estimates on `days` since the
    first."""

    muscle: str
    role: str
    estimate_uv: float
    low_uv: float
    high_uv: float
    change_pct: float | None
    real: bool
    days: tuple[int, ...] = ()
    track_uv: tuple[float, ...] = ()


@dataclass(frozen=True)
class Facts:
    """What does not depend on today. Dates are days in the patient's zone."""

    patient: str
    revision: int | None = None
    issued: date | None = None
    review: date | None = None
    expires: date | None = None
    days: tuple[str, ...] = ()
    pain_stop: int = 10
    pain_lighten: int = 10
    last_handover: date | None = None
    last_session: date | None = None
    sessions: int = 0
    adherence_pct: float | None = None
    maxima: tuple[Maximum, ...] = ()
    highest_pain: tuple[int, date] | None = None
    pain_ended: bool = False
    pain_rose: tuple[int, int, date] | None = None  # from, to and when, where the rise ended the session
    at_upper_bound: tuple[str, ...] = ()
    poor_sets_pct: float = 0.0
    tired: tuple[tuple[str, int], ...] = ()
    journal_worries: int = 0
    unreadable: str = ""
    set_aside: str = ""
    away: tuple[tuple[date, date], ...] = ()  # first and last day of each absence


def facts_of(patient: str, orders: Sequence[Prescription], ledger: Ledger | None, handed_over: date | None) -> Facts:
    """What the orders (oldest first) and everything that was handed over say."""
    order = orders[-1] if orders else None
    zone = zone_of(order.timezone if order else None)
    sessions = ledger.counting() if ledger else []
    played = [session for session in sessions if session.reps]
    last = max((session.day(zone) for session in played), default=None)
    recent = [one for one in sessions if last and one.day(zone) > last - timedelta(days=RECENT_DAYS)]
    sets = [one for session in recent for one in session.sets if one.quality]
    pains = [(rating.value, one.day(zone)) for one in recent for rating in one.ratings if rating.what == "pain"]
    kept = lately(orders, sessions, handed_over, zone) if orders and handed_over else None
    return Facts(
        patient=patient,
        revision=order.revision if order else None,
        issued=order.issued if order else None,
        review=order.review if order else None,
        expires=order.expires if order else None,
        days=tuple(order.days) if order else (),
        pain_stop=order.stop.pain_stop if order else 10,
        pain_lighten=order.stop.pain_lighten if order else 10,
        last_handover=handed_over,
        last_session=last,
        sessions=len(played),
        adherence_pct=kept.reps_capped_pct if kept else None,
        maxima=_maxima(orders, sessions),
        highest_pain=max(pains, default=None),
        pain_ended=any(one.cut_short_by_pain for one in recent),
        pain_rose=next((rise for one in reversed(recent) if (rise := _rise_that_ended(one, order, zone))), None),
        at_upper_bound=_at_upper_bound(order, sessions),
        poor_sets_pct=100 * sum(one.quality == "poor" for one in sets) / len(sets) if sets else 0.0,
        tired=_tired(order, recent),
        journal_worries=len(ledger.problems) + len(ledger.notices) if ledger else 0,
    )


def _rise_that_ended(
    session: LedgerSession, order: Prescription | None, zone: tzinfo | None
) -> tuple[int, int, date] | None:
    """Pain before and at its highest, where it stayed below the stop level and ended the session all the same."""
    if order is None or session.end is None or session.end.ending != "pain":
        return None
    answers = [rating.value for rating in session.ratings if rating.what == "pain"]
    risen = answers and pain_rule(max(answers), answers[0], order.stop) == "rise"
    return (answers[0], max(answers), session.day(zone)) if risen else None


def _maxima(orders: Sequence[Prescription], sessions: Sequence[LedgerSession]) -> tuple[Maximum, ...]:
    found = []
    for muscle in orders[-1].muscles if orders else ():
        measured = measured_of(muscle.id, sessions)
        if shown := follow(measured, latest=TRACK_POINTS):
            seen, now, start = change(measured, planned_looks(orders)), shown[-1], usable(measured)[0].at
            found.append(
                Maximum(
                    muscle=f"{muscle.name}, {muscle.side}",
                    role=muscle.role,
                    estimate_uv=now.estimate_uv,
                    low_uv=now.low_uv,
                    high_uv=now.high_uv,
                    change_pct=seen.percent if seen else None,
                    real=seen.real if seen else False,
                    days=tuple((point.at - start).days for point in shown),
                    track_uv=tuple(round(point.estimate_uv, 2) for point in shown),
                )
            )
    return tuple(sorted(found, key=lambda one: one.role != "involved"))


def _at_upper_bound(order: Prescription | None, sessions: Sequence[LedgerSession]) -> tuple[str, ...]:
    """Exercises in which scaling has nowhere left to go: their last target is the bound that the order sets."""
    latest: dict[str, float] = {}
    for session in sessions:
        if order and session.start.revision == order.revision:
            latest |= {rep.exercise_id: rep.target_pct_mvc for rep in session.reps}
    found = []
    for exercise in order.exercises if order else ():
        if exercise.id not in latest or not exercise.scaling.on:
            continue
        target, effort = latest[exercise.id], exercise.effort
        at_bound = target <= effort.min_pct_mvc if exercise.traits.harder < 0 else target >= effort.max_pct_mvc
        if at_bound:
            found.append(exercise.title)
    return tuple(found)


def _tired(order: Prescription | None, sessions: Sequence[LedgerSession]) -> tuple[tuple[str, int], ...]:
    titles = {exercise.id: exercise.title for exercise in order.exercises} if order else {}
    cut = [one.exercise_id for session in sessions for one in session.sets if one.cut_short == CUT_SHORT_TIRED]
    return tuple((titles.get(key, key), cut.count(key)) for key in dict.fromkeys(cut))
