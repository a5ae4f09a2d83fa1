"""One line a patient, and one line a day: what a caseload says about everybody, by the rules of the report."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from datetime import date, datetime, tzinfo
from operator import attrgetter
from typing import Any

from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.adherence import Adherence, DayDone, SessionDone, days_done
from musclewood.profiles.plan.measured import planned_looks
from musclewood.profiles.plan.recent_mvc import Measured, change, follow, lag_one

DIGITS = 4

PATIENT_COLUMNS: dict[str, tuple[str, str]] = {
    "patient": ("string", "the clinic's code"),
    "hand_overs": ("integer", "hand-overs that were read"),
    "last_hand_over": ("date", "day on which the newest was made, in the patient's time zone"),
    "revision": ("integer", "newest revision of the order"),
    "issued": ("date", "day of the first order that is known"),
    "first_session": ("date", "first day on which something counted"),
    "last_session": ("date", "last day on which something counted"),
    "sessions": ("integer", "sessions with at least one attempt, practice left out"),
    "days_planned": ("integer", "days on which something was ordered, up to the last hand-over"),
    "days_done": ("integer", "days on which something was done"),
    "reps_ordered": ("integer", "repetitions ordered up to the last hand-over"),
    "reps_counted": ("integer", "repetitions that counted"),
    "reps_attempted": ("integer", "repetitions tried"),
    "reps_capped_pct": ("number", "counted over ordered repetitions, a session never counting for more than its order"),
    "reps_uncapped_pct": ("number", "counted over ordered repetitions"),
    "sessions_whole_pct": ("number", "sessions with at least 80 % of their repetitions, over ordered sessions"),
    "in_band_min": ("number", "minutes inside the band during counted repetitions"),
    "highest_pain": ("integer", "0 to 10"),
    "pain_stops": ("integer", "sessions that pain cut short"),
    "muscle": ("string", "the involved muscle with the most calibrations"),
    "mvc_uv": ("number", "its recent MVC"),
    "mvc_low_uv": ("number", "lower end of its 95 % interval"),
    "mvc_high_uv": ("number", "upper end of its 95 % interval"),
    "mvc_change_pct": ("number", "from the first day to the last look, the middle of all pairs of days"),
    "mvc_change_low_pct": ("number", "lower end of its interval, which holds with 95 % however often it is looked at"),
    "mvc_change_high_pct": ("number", "upper end of that interval"),
    "mvc_change_real": ("boolean", "shown to be more than chance at some look"),
    "mvc_change_since": ("date", "day of that look"),
    "mvc_scatter_pct": ("number", "how far its days differ from each other (CV), the pads' place among the reasons"),
    "mvc_lag_one": ("number", "how alike neighbouring days are, around a straight line: 0 not at all, 1 wholly"),
    "cocontraction_pct": ("number", "mean index of the sets in which it was measured (Falconer and Winter)"),
    "sets_tired": ("integer", "sets cut short because the muscle tired"),
    "sets_poor_pct": ("number", "sets with poor signal, of those in which it was judged"),
    "journal_remarks": ("integer", "problems and notices about the journal"),
}
DAY_COLUMNS: dict[str, tuple[str, str]] = {
    "patient": ("string", "the clinic's code"),
    "day": ("date", "calendar day in the patient's time zone"),
    "sessions_ordered": ("integer", "0 on a rest day"),
    "sessions_done": ("integer", "sessions with at least one attempt"),
    "sessions_whole": ("integer", "sessions with at least 80 % of their repetitions"),
    "sets_ordered": ("integer", "sets ordered"),
    "sets_done": ("integer", "sets with all of their repetitions"),
    "reps_ordered": ("integer", "repetitions ordered"),
    "reps_counted": ("integer", "repetitions that counted"),
    "reps_capped": ("integer", "counted repetitions, a session never counting for more than its order"),
    "reps_attempted": ("integer", "repetitions tried"),
    "in_band_ordered_s": ("number", "ordered repetitions times their hold"),
    "in_band_s": ("number", "time inside the band during counted repetitions"),
}


@dataclass
class Case:
    """What is gathered of one patient before its line can be written."""

    patient: str
    orders: dict[int, Prescription] = field(default_factory=dict)
    hand_overs: int = 0
    newest: datetime | None = None
    remarks: int = 0
    sessions: dict[tuple[str, int], _Session] = field(default_factory=dict)
    calibrations: list[tuple[str, Measured]] = field(default_factory=list)
    figures: dict[str, Any] = field(default_factory=dict)

    @property
    def order(self) -> Prescription:
        return self.orders[max(self.orders)]


@dataclass
class _Session:
    started: datetime
    made: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    attempted: int = 0
    sets_done: int = 0
    in_band_s: float = 0.0


def add_session(case: Case, hand_over: str, number: int, started_at: str) -> None:
    case.sessions[hand_over, number] = _Session(datetime.fromisoformat(started_at))


def add_reps(case: Case, place: tuple[str, int], exercise_id: str, made: int, tried: int, in_band_s: float) -> None:
    session = case.sessions[place]
    session.made[exercise_id] += made
    session.attempted += tried
    session.in_band_s += in_band_s


def rows_of(case: Case) -> tuple[list[Any], list[list[Any]]]:
    """The patient's line and its days."""
    zone = zone_of(case.order.timezone)
    orders = sorted(case.orders.values(), key=lambda order: order.revision)
    done = [_done(session, zone) for session in case.sessions.values() if session.attempted]
    first = min([order.issued for order in orders] + [one.day for one in done])
    until = case.newest.astimezone(zone).date() if case.newest else first
    last = max([until] + [one.day for one in done])
    days = days_done(orders, done, first, last)
    return _line(case, orders, done, Adherence(days), until), [_day_line(case.patient, day) for day in days]


def _done(session: _Session, zone: tzinfo | None) -> SessionDone:
    day = session.started.astimezone(zone).date()
    return SessionDone(day, dict(session.made), session.attempted, session.sets_done, session.in_band_s)


def _line(
    case: Case, orders: Sequence[Prescription], done: Sequence[SessionDone], kept: Adherence, until: date
) -> list[Any]:
    played = [one.day for one in done]
    values = {
        "patient": case.patient,
        "hand_overs": case.hand_overs,
        "last_hand_over": until,
        "revision": case.order.revision,
        "issued": min(order.issued for order in orders),
        "first_session": min(played, default=None),
        "last_session": max(played, default=None),
        "sessions": len(done),
        "days_planned": sum(1 for day in kept.days if not day.rest_day),
        "days_done": len(set(played)),
        "reps_ordered": sum(day.reps_ordered for day in kept.days),
        "reps_counted": sum(day.reps_counted for day in kept.days),
        "reps_attempted": sum(day.reps_attempted for day in kept.days),
        "reps_capped_pct": kept.reps_capped_pct,
        "reps_uncapped_pct": kept.reps_uncapped_pct,
        "sessions_whole_pct": kept.sessions_pct,
        "in_band_min": sum(day.in_band_s for day in kept.days) / 60,
        "journal_remarks": case.remarks,
        **case.figures,
        **_maximum(case),
    }
    return [_rounded(values.get(column)) for column in PATIENT_COLUMNS]


def _rounded(value: Any) -> Any:
    """Sums depend on the order in which DuckDB adds in their last digits; nobody needs those."""
    return round(value, DIGITS) if isinstance(value, float) else value


def _maximum(case: Case) -> dict[str, Any]:
    involved = [muscle.id for muscle in case.order.muscles if muscle.role == "involved"]
    number = {muscle: sum(1 for row in case.calibrations if row[0] == muscle) for muscle in involved}
    muscle = max(number, key=lambda key: number[key], default=None)
    measured = sorted((one for key, one in case.calibrations if key == muscle), key=lambda one: one.at)
    track = follow(measured, latest=1)
    if not track:
        return {}
    seen, now, alike = change(measured, planned_looks(list(case.orders.values()))), track[-1], lag_one(measured)
    return {
        "muscle": muscle,
        "mvc_uv": now.estimate_uv,
        "mvc_low_uv": now.low_uv,
        "mvc_high_uv": now.high_uv,
        "mvc_change_pct": seen.percent if seen else None,
        "mvc_change_low_pct": seen.low_percent if seen else None,
        "mvc_change_high_pct": seen.high_percent if seen else None,
        "mvc_change_real": seen.real if seen else None,
        "mvc_change_since": seen.since if seen else None,
        "mvc_scatter_pct": 100 * math.sqrt(math.expm1(now.scatter**2)),
        "mvc_lag_one": alike[0] / alike[1] if alike and alike[1] > 0 else None,
    }


_DAY_FIGURES = attrgetter(*(one.name for one in fields(DayDone)))


def _day_line(patient: str, day: DayDone) -> list[Any]:
    return [patient, *map(_rounded, _DAY_FIGURES(day))]
