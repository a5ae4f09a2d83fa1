"""The report: what was done beside what was ordered, in plain words first and numbers second.

One HTML page that holds everything it needs, so it opens anywhere, prints on A4 and Letter, and can be kept.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from functools import cache
from importlib.resources import files
from typing import Any

import jinja2
from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import Ledger, LedgerSession, counted, read_ledger
from musclewood.profiles.orders.exercises import AnyExercise, asked_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.adherence import Adherence, DayDone, adherence
from musclewood.profiles.report import figures as report_figures
from musclewood.profiles.report.courses import (
    POINTS_APART,
    Course,
    cocontraction,
    cocontraction_sentence,
    fatigue,
    fatigue_sentence,
)
from musclewood.profiles.report.days import Missed, missed, weeks
from musclewood.profiles.report.muscles import muscle_reports
from musclewood.profiles.report.patient import patient_page
from musclewood.profiles.report.sides import compare
from musclewood.profiles.report.words import (
    CAUTIONS,
    METHODS,
    SIDES_CAUTION,
    name_of,
    opening_sentences,
    quality_sentence,
    ratings_sentences,
    scaling_sentences,
    side_sentence,
)

# Reps shown in one figure; older ones are in the hand-over's tables. Our choice: more would not be told apart on paper.
REPS_SHOWN = 150
# Up to so many days are drawn one beside the other; more are drawn as weeks. Our choice: bars stay told apart.
DAYS_AS_BARS = 45


@dataclass(frozen=True)
class ExerciseReport:
    exercise: AnyExercise
    figure: str
    made: int
    attempted: int
    shown: int
    in_band_s: float
    steadiness: float | None
    verdicts: tuple[tuple[str, int], ...]

    @property
    def asked(self) -> str:
        return asked_of(self.exercise)


def render_report(
    source: Journal | Ledger,
    prescription: Prescription,
    *,
    demonstration: bool = False,
    now: datetime | None = None,
    revisions: Sequence[Prescription] = (),
) -> str:
    """The report as HTML. `demonstration` says so in a banner and shows practice as if it were dose.

    `revisions` are earlier orders, so that the past is compared with what was ordered then. Raises JournalError.
    """
    ledger = read_ledger(source) if isinstance(source, Journal) else source
    zone = zone_of(prescription.timezone)
    sessions = ledger.counting(practice_too=demonstration)
    moment = now or datetime.now().astimezone()
    orders = [*(older for older in revisions if older.revision != prescription.revision), prescription]
    today = moment.astimezone(zone).date()
    done = _adherence(orders, sessions, today, zone)
    muscles = muscle_reports(orders, sessions)
    left_out = missed(done.days, ledger.counting(practice_too=True), zone, today)
    missed_days = sum(1 for day in done.days if _left_out(day, left_out))
    overlap, tiring = cocontraction(prescription, sessions, zone), fatigue(prescription, sessions, zone)
    values: dict[str, Any] = {
        "prescription": prescription,
        "demonstration": demonstration,
        "made_at": moment.astimezone(zone),
        "typeface": _typeface(),
        "done": done,
        "opening": opening_sentences(prescription, done, sessions, muscles),
        "calendar": _calendar(done),
        "weeks": weeks(done.days, sessions, zone),
        "missed": left_out,
        "missed_days": missed_days,
        "exercises": [_exercise(exercise, sessions) for exercise in prescription.exercises],
        "muscles": muscles,
        "muscle_figures": [
            report_figures.recent_mvc(one.track, name_of(one.muscle), one.real_since) for one in muscles
        ],
        "sides": compare(orders, sessions),
        "sides_caution": SIDES_CAUTION,
        "side_sentence": side_sentence,
        "name_of": name_of,
        "cocontraction": overlap,
        "cocontraction_words": [cocontraction_sentence(course) for course in overlap],
        "cocontraction_figure": report_figures.by_session(overlap, "overlap, %", "Co-contraction") if overlap else "",
        "fatigue": tiring,
        "fatigue_words": [fatigue_sentence(prescription, course, sessions) for course in tiring],
        "fatigue_figure": _fatigue_figure(prescription, tiring),
        "ratings_words": ratings_sentences(prescription, sessions),
        "ratings": _ratings(prescription, sessions, zone),
        "scaling": _scaling(prescription, sessions, zone),
        "scaling_words": scaling_sentences(prescription, sessions),
        "notes": _notes(ledger, done),
        "interruptions": _interruptions(sessions, zone),
        "quality": _quality(sessions),
        "quality_words": quality_sentence(sessions),
        "patient": patient_page(prescription, done, sessions, muscles, missed_days),
        "practice": sum(1 for session in ledger.sessions if session.practice),
        "cautions": CAUTIONS,
        "methods": METHODS,
        "journal_hash": ledger.journal_hash,
    }
    return _environment().get_template("report.html").render(values)


@cache
def _environment() -> jinja2.Environment:
    folder = files("musclewood.assets") / "report"
    loader = jinja2.FunctionLoader(lambda name: (folder / name).read_text(encoding="utf-8"))
    environment = jinja2.Environment(
        loader=loader, autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["whole"] = lambda value: "–" if value is None else f"{value:.0f}"
    environment.filters["one"] = lambda value: "–" if value is None or math.isnan(value) else f"{value:.1f}"
    return environment


@cache
def _typeface() -> dict[str, str]:
    folder = files("fontpkg_atkinson_hyperlegible") / "files"
    return {
        weight: base64.b64encode((folder / f"AtkinsonHyperlegible-{weight}.ttf").read_bytes()).decode()
        for weight in ("Regular", "Bold")
    }


def _left_out(day: DayDone, left_out: Sequence[Missed]) -> bool:
    return not day.rest_day and any(one.first <= day.day <= one.last for one in left_out)


def _calendar(done: Adherence) -> list[str]:
    """Bars a day for a few weeks; bars a week and a calendar of days for more."""
    if not done.days:
        return []
    if len(done.days) <= DAYS_AS_BARS:
        return [report_figures.by_day(done.days)]
    return [report_figures.by_week(weeks(done.days, (), None)), report_figures.calendar_of(done.days)]


def _fatigue_figure(prescription: Prescription, courses: Sequence[Course]) -> str:
    if not courses:
        return ""
    limit = (prescription.stop.fatigue_decline_pct, "set cut short")
    return report_figures.by_session(courses, "median frequency, % lower", "Fatigue within a set", limit)


def _adherence(
    orders: Sequence[Prescription], sessions: Sequence[LedgerSession], today: date, zone: tzinfo | None
) -> Adherence:
    """From the first order, or an earlier session, to today, or the end of the last order."""
    first = min([order.issued for order in orders] + [session.day(zone) for session in sessions])
    last = max([today] + [session.day(zone) for session in sessions])
    return adherence(orders, sessions, max(first, date.fromordinal(last.toordinal() - 365)), last, zone)


def _exercise(exercise: AnyExercise, sessions: Sequence[LedgerSession]) -> ExerciseReport:
    reps = [rep for session in sessions for rep in session.reps if rep.exercise_id == exercise.id]
    made, shown = counted(reps), reps[-REPS_SHOWN:]
    steadiness = [rep.steadiness for rep in made if not math.isnan(rep.steadiness)]
    figure = ""
    if shown:
        ceiling, relax = exercise.effort.ceiling_pct_mvc, exercise.traits.still
        figure = report_figures.effort_by_rep(shown, ceiling, exercise.title, relax)
    verdicts = [(word, sum(rep.verdict == word for rep in reps)) for word in report_figures.MARKS]
    return ExerciseReport(
        exercise,
        figure,
        len(made),
        len(reps),
        len(shown),
        sum(rep.in_band_s for rep in made),
        100 * sum(steadiness) / len(steadiness) if steadiness else None,
        tuple((word, number) for word, number in verdicts if number),
    )


def _ratings(prescription: Prescription, sessions: Sequence[LedgerSession], zone: tzinfo | None) -> str:
    points: list[tuple[date, dict[str, int]]] = []
    for session in sessions:
        highest: dict[str, int] = {}
        for rating in session.ratings:
            highest[rating.what] = max(rating.value, highest.get(rating.what, 0))
        if highest:
            points.append((session.day(zone), highest))
    if not points:
        return ""
    if len(points) > POINTS_APART:
        points = _highest_by_week(points)
    return report_figures.ratings(points, prescription.stop.pain_stop, prescription.stop.pain_lighten)


def _highest_by_week(points: Sequence[tuple[date, dict[str, int]]]) -> list[tuple[date, dict[str, int]]]:
    weekly: dict[date, dict[str, int]] = {}
    for day, values in points:
        week = weekly.setdefault(day - timedelta(days=day.weekday()), {})
        for what, value in values.items():
            week[what] = max(value, week.get(what, 0))
    return list(weekly.items())


def _scaling(
    prescription: Prescription, sessions: Sequence[LedgerSession], zone: tzinfo | None
) -> list[dict[str, Any]]:
    titles = {exercise.id: exercise.title for exercise in prescription.exercises}
    moves = [
        {"day": session.day(zone), "title": titles.get(record.exercise_id, record.exercise_id), "record": record}
        for session in sessions
        for record in session.scaling
    ]
    return moves


def _interruptions(sessions: Sequence[LedgerSession], zone: tzinfo | None) -> list[dict[str, Any]]:
    rows = [
        {"day": session.day(zone), "minute": record.at_s / 60, "record": record}
        for session in sessions
        for record in session.interruptions
    ]
    return rows


def _quality(sessions: Sequence[LedgerSession]) -> list[tuple[str, int]]:
    words = [one.quality for session in sessions for one in session.sets if one.quality]
    return [(word, words.count(word)) for word in ("good", "fair", "poor") if word in words]


def _notes(ledger: Ledger, done: Adherence) -> list[str]:
    return [*ledger.problems, *ledger.notices, *done.clock_doubts]
