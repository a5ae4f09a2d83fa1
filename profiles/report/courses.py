"""How co-contraction and fatigue went from session to session, in words and as points for a figure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.journal.records import CUT_SHORT_TIRED, SetRecord
from musclewood.profiles.orders.exercises import AnyExercise
from musclewood.profiles.orders.prescription import Prescription

Points = list[tuple[date, float]]

# Sessions that an average of the first or the latest ones takes. Our choice.
SESSIONS_COMPARED = 3


@dataclass(frozen=True)
class Course:
    """One exercise: the mean of each session's sets, in %."""

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


def cocontraction_sentence(course: Course) -> str:
    """Without a verdict: how much is usual differs by task, and no limit is agreed."""
    if len(course.points) < 2 * SESSIONS_COMPARED:
        return f"{course.title}: the muscles overlapped by {course.latest:.0f} % of their activity lately."
    way = "less than" if course.latest < course.first else "more than" if course.latest > course.first else "as much as"
    return (
        f"{course.title}: the muscles overlapped by {course.latest:.0f} % of their activity lately, {way} at first "
        f"({course.first:.0f} %)."
    )


def fatigue_sentence(prescription: Prescription, course: Course, sessions: Sequence[LedgerSession]) -> str:
    titles = {exercise.id: exercise.title for exercise in prescription.exercises}
    tired = sum(
        one.cut_short == CUT_SHORT_TIRED and titles.get(one.exercise_id) == course.title
        for session in sessions
        for one in session.sets
    )
    cut = "no set was" if not tired else "1 set was" if tired == 1 else f"{tired} sets were"
    return (
        f"{course.title}: the signal slowed by {course.latest:.0f} % within a set lately, at most {course.highest:.0f} % in "
        f"a session; {cut} cut short for it."
    )


def _courses(
    prescription: Prescription,
    sessions: Sequence[LedgerSession],
    zone: tzinfo | None,
    figure: Callable[[SetRecord], float | None],
) -> list[Course]:
    courses = (Course(one.title, _points(one, sessions, zone, figure)) for one in prescription.exercises)
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
