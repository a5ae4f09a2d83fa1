"""How co-contraction and fatigue went from session to session, in words and as points for a figure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.journal.records import CUT_SHORT_TIRED, SetRecord
from musclewood.profiles.orders.exercises import AnyExercise
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.report.words import Words

Points = list[tuple[date, float]]

# Sessions that an average of the first or the latest ones takes. Our choice.
SESSIONS_COMPARED = 3


@dataclass(frozen=True)
class Course:
    """One exercise: the mean of each session's sets, in %."""

    exercise_id: str
    title: str
    points: Points

    @property
    def first(self) -> float:
        """Mean of the first sessions, up to three."""
        return _mean([value for _, value in self.points[:SESSIONS_COMPARED]])

    @property
    def latest(self) -> float:
        return _mean([value for _, value in self.points[-SESSIONS_COMPARED:]])

    @property
    def highest(self) -> float:
        return max(value for _, value in self.points)


# More sessions than this are drawn as weekly means: single days would be a thicket.
POINTS_APART = 60


def by_week(points: Points) -> Points:
    """The mean of each week at its Monday, when there are too many points to tell apart."""
    if len(points) <= POINTS_APART:
        return points
    weeks: dict[date, list[float]] = {}
    for day, value in points:
        weeks.setdefault(day - timedelta(days=day.weekday()), []).append(value)
    return [(monday, _mean(values)) for monday, values in weeks.items()]


def cocontraction(prescription: Prescription, sessions: Sequence[LedgerSession], zone: tzinfo | None) -> list[Course]:
    return _courses(prescription, sessions, zone, lambda one: one.cocontraction_pct)


def fatigue(prescription: Prescription, sessions: Sequence[LedgerSession], zone: tzinfo | None) -> list[Course]:
    return _courses(prescription, sessions, zone, lambda one: one.median_frequency_decline_pct)


def cocontraction_sentence(course: Course, words: Words) -> str:
    """Without a verdict: how much is usual differs by task, and no limit is agreed."""
    key = "now"
    if len(course.points) >= 2 * SESSIONS_COMPARED:
        latest, first = round(course.latest), round(course.first)
        key = "less" if latest < first else "more" if latest > first else "same"
    figures = {"latest": words.number(course.latest), "first": words.number(course.first)}
    return words(f"overlap.{key}", exercise=course.title, **figures)


def fatigue_sentence(course: Course, sessions: Sequence[LedgerSession], words: Words) -> str:
    tired = sum(
        one.cut_short == CUT_SHORT_TIRED and one.exercise_id == course.exercise_id
        for session in sessions
        for one in session.sets
    )
    cut = words("fatigue.cut.none") if not tired else words.count("fatigue.cut", tired)
    figures = {"latest": words.number(course.latest), "highest": words.number(course.highest)}
    return words("fatigue.course", exercise=course.title, cut=cut, **figures)


def _courses(
    prescription: Prescription,
    sessions: Sequence[LedgerSession],
    zone: tzinfo | None,
    figure: Callable[[SetRecord], float | None],
) -> list[Course]:
    courses = (Course(one.id, one.title, _points(one, sessions, zone, figure)) for one in prescription.exercises)
    return [course for course in courses if course.points]


def _points(
    exercise: AnyExercise,
    sessions: Sequence[LedgerSession],
    zone: tzinfo | None,
    figure: Callable[[SetRecord], float | None],
) -> Points:
    points: Points = []
    for session in sessions:
        values = [
            value for one in session.sets if one.exercise_id == exercise.id and (value := figure(one)) is not None
        ]
        if values:
            points.append((session.day(zone), _mean(values)))
    return points


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
