"""The report: what was done beside what was ordered. The first page answers alone; the rest is folded behind it.

One HTML page that holds everything it needs, so it opens anywhere, prints on A4 and Letter, and can be kept.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from importlib.resources import files
from typing import Any

import jinja2
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import Ledger, read_ledger
from musclewood.profiles.journal.records import PASSED_OVER, InterruptionRecord
from musclewood.profiles.journal.remarks import kept
from musclewood.profiles.orders.exercises import AnyExercise
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import MAXIMUM, published, unit_of
from musclewood.profiles.orders.usual_practice import acknowledged
from musclewood.profiles.report import changes, repeated
from musclewood.profiles.report import figures as report_figures
from musclewood.profiles.report.courses import (
    POINTS_APART,
    Course,
    cocontraction,
    cocontraction_sentence,
    fatigue,
    fatigue_sentence,
)
from musclewood.profiles.report.days import weeks
from musclewood.profiles.report.opening import answers, considerations, effort_ordered, level_sentence
from musclewood.profiles.report.past import Past, past_of
from musclewood.profiles.report.patient import patient_page
from musclewood.profiles.report.repeated import Row
from musclewood.profiles.report.unseen import seeing, seeing_sentence
from musclewood.profiles.report.words import Words
from musclewood.profiles.visits.entries import Entry

# Reps shown in one figure; older ones are in the hand-over's tables. Our choice: more would not be told apart on paper.
REPS_SHOWN = 150
# Up to so many days are drawn one beside the other; more are drawn as weeks. Our choice: bars stay told apart.
DAYS_AS_BARS = 45
# Rows of each table that are printed, the latest; all of them are on the screen.
WEEKS_PRINTED, MISSED_PRINTED, MOVES_PRINTED = 6, 5, 3


@dataclass(frozen=True)
class ExerciseReport:
    exercise: AnyExercise
    asked: str
    figure: str
    made: int
    attempted: int
    shown: int
    in_band_s: float
    steadiness: float | None
    verdicts: tuple[tuple[str, int], ...]
    seeing: str = ""


def render_report(
    source: Journal | Ledger,
    prescription: Prescription,
    *,
    demonstration: bool = False,
    now: datetime | None = None,
    revisions: Sequence[Prescription] = (),
    until: datetime | None = None,
    language: str | None = None,
    visits: Sequence[Entry] = (),
) -> str:
    """The report as HTML. `demonstration` says so in a banner and shows practice as if it were dose.

    `revisions` are earlier orders, so that the past is compared with what was ordered then. `until` is when a hand-over
    was made: days after it are not known. `language` is 'en' or 'de', of the order if not given. `visits` is what the
    clinic wrote down, its own tests among it. Raises JournalError.
    """
    ledger = read_ledger(source) if isinstance(source, Journal) else source
    moment = now or datetime.now().astimezone()
    past = past_of(ledger, prescription, revisions, moment, until, demonstration, visits)
    return (
        _environment()
        .get_template("report.html")
        .render(_values(past, Words(language or prescription.language, unit_of(prescription.calibration))))
    )


def first_page(
    ledger: Ledger, prescription: Prescription, revisions: Sequence[Prescription], now: datetime
) -> list[str]:
    """What a demonstration's first page answers, a sentence a line."""
    past, words = past_of(ledger, prescription, revisions, now, None, True), Words(prescription.language)
    return [sentence for answer in answers(past, words) for sentence in answer.sentences]


def _values(past: Past, words: Words) -> dict[str, Any]:
    rows, moved = weeks(past.done.days, past.sessions, past.zone), changes.moves(past)
    return {
        "t": words,
        "past": past,
        "order": past.order,
        "typeface": _typeface(),
        "answers": answers(past, words),
        "considerations": [*_reference_sentences(past, words), *considerations(past, words)],
        "calendar": _calendar(past, words),
        "weeks": rows,
        "printed": {"weeks": WEEKS_PRINTED, "missed": MISSED_PRINTED, "moves": MOVES_PRINTED},
        "exercises": [_exercise(exercise, past, words) for exercise in past.order.exercises],
        "muscles": _muscles(past, words),
        "tests": [_test_row(row, past, words) for row in repeated.rows(past.tests)],
        **_courses(past, words),
        "ratings_words": _ratings_sentences(past, words),
        "ratings": _ratings(past, words),
        "moves": moved,
        "weeks_of_moves": changes.by_week(moved),
        "scaling_words": changes.sentences(moved, words),
        "notes": _notes(past, words),
        "interruptions": _interruptions(past, words),
        "quality": _quality(past),
        "quality_words": _quality_sentence(past, words),
        "patient": patient_page(past, words),
        "practice": sum(1 for session in past.ledger.sessions if session.practice),
    }


def _reference_sentences(past: Past, words: Words) -> list[str]:
    """What 100 % is where it is no maximum, and how well such a reference repeats beside one, from published data."""
    order = past.order.calibration
    if order.reference == MAXIMUM:
        return []
    table, which = ("tasks", order.task) if order.reference == "task" else ("shares", order.share)
    lines = [words("submaximal.meaning", reference=words.known(f"submaximal.{table}", which or ""))]
    return lines + [
        words("submaximal.repeats", own=one.submaximal, other=one.maximal, source=one.source)
        for one in published(order)
    ]


@cache
def _environment() -> jinja2.Environment:
    folder = files("musclewood.assets") / "report"
    loader = jinja2.FunctionLoader(lambda name: (folder / name).read_text(encoding="utf-8"))
    return jinja2.Environment(
        loader=loader, autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )


@cache
def _typeface() -> dict[str, str]:
    folder = files("fontpkg_atkinson_hyperlegible") / "files"
    return {
        weight: base64.b64encode((folder / f"AtkinsonHyperlegible-{weight}.ttf").read_bytes()).decode()
        for weight in ("Regular", "Bold")
    }


def _calendar(past: Past, words: Words) -> list[str]:
    """Bars a day for a few weeks; bars a week and a calendar of days for more."""
    days = past.done.days
    if not days:
        return []
    if len(days) <= DAYS_AS_BARS:
        return [report_figures.by_day(days, words)]
    return [report_figures.by_week(weeks(days, (), None), words), report_figures.calendar_of(days, words)]


def _muscles(past: Past, words: Words) -> list[dict[str, str]]:
    shown = []
    for one in sorted(past.muscles, key=lambda one: one.muscle.role != "involved"):
        name = words.muscle(one.muscle)
        figure = report_figures.recent_mvc(one.track, name, words, one.real_since)
        shown.append({"name": name, "level": level_sentence(one, words), "figure": figure})
    return shown


def _test_row(row: Row, past: Past, words: Words) -> dict[str, str]:
    """One test as the cells of its row."""
    test, sides, change = row.test, row.test.sides, row.change
    kind = "before" if test.before_operation else test.where
    return {
        "day": words.day(test.at.astimezone(past.zone).date()),
        "where": words(f"tests.{kind}"),
        "muscle": f"{test.name}, {words(f'word.{test.side}')}",
        "mean": f"{words.number(test.mean_uv)} µV",
        "deficit": _span(sides.deficit, 100 - sides.high, 100 - sides.low, words) if sides else words("word.none"),
        "change": _span(change.lsi - 100, change.low - 100, change.high - 100, words) if change else words("word.none"),
    }


def _span(value: float, low: float, high: float, words: Words) -> str:
    """A percentage with its interval."""
    return words("tests.span", value=words.signed(value), low=words.signed(low), high=words.signed(high))


def _courses(past: Past, words: Words) -> dict[str, Any]:
    overlap = cocontraction(past.order, past.sessions, past.zone)
    tiring = fatigue(past.order, past.sessions, past.zone)
    limit = (past.order.stop.fatigue_decline_pct, words("figure.cut_short"))
    return {
        "cocontraction_words": [cocontraction_sentence(course, words) for course in overlap],
        "cocontraction_figure": _course_figure(overlap, "overlap", "cocontraction", words),
        "fatigue_words": [fatigue_sentence(course, past.sessions, words) for course in tiring],
        "fatigue_figure": _course_figure(tiring, "slower", "fatigue", words, limit),
    }


def _course_figure(
    courses: Sequence[Course], unit: str, label: str, words: Words, limit: tuple[float, str] | None = None
) -> str:
    if not courses:
        return ""
    return report_figures.by_session(courses, words(f"figure.{unit}"), words(f"figure.{label}"), words, limit)


def _exercise(exercise: AnyExercise, past: Past, words: Words) -> ExerciseReport:
    reps = past.reps(exercise)
    made, shown = [rep for rep in reps if rep.verdict == "counted"], reps[-REPS_SHOWN:]
    steadiness = [rep.steadiness for rep in made if not math.isnan(rep.steadiness)]
    figure = ""
    if shown:
        ceiling, relax = exercise.effort.ceiling_pct_mvc, exercise.traits.still
        figure = report_figures.effort_by_rep(shown, ceiling, exercise.title, words, relax)
    verdicts = [(word, sum(rep.verdict == word for rep in reps)) for word in report_figures.MARKS]
    return ExerciseReport(
        exercise,
        effort_ordered(exercise, words),
        figure,
        len(made),
        len(reps),
        len(shown),
        sum(rep.in_band_s for rep in made),
        100 * sum(steadiness) / len(steadiness) if steadiness else None,
        tuple((words(f"verdict.{word}"), number) for word, number in verdicts if number and word != "counted"),
        seeing_sentence(seeing(reps), words),
    )


def _ratings_sentences(past: Past, words: Words) -> list[str]:
    told = []
    for what in ("pain", "effort", "tiredness", "ease"):
        values = [one.value for session in past.sessions for one in session.ratings if one.what == what]
        if values:
            mean = words.number(sum(values) / len(values), 1)
            figures = {"n": len(values), "low": min(values), "high": max(values), "mean": mean}
            told.append(words("answers.line", what=words(f"answers.{what}"), **figures))
    return told


def _ratings(past: Past, words: Words) -> str:
    points: list[tuple[date, dict[str, int]]] = []
    for session in past.sessions:
        highest: dict[str, int] = {}
        for rating in session.ratings:
            highest[rating.what] = max(rating.value, highest.get(rating.what, 0))
        if highest:
            points.append((session.day(past.zone), highest))
    if not points:
        return ""
    if len(points) > POINTS_APART:
        points = _highest_by_week(points)
    return report_figures.ratings(points, past.order.stop.pain_stop, past.order.stop.pain_lighten, words)


def _highest_by_week(points: Sequence[tuple[date, dict[str, int]]]) -> list[tuple[date, dict[str, int]]]:
    weekly: dict[date, dict[str, int]] = {}
    for day, values in points:
        week = weekly.setdefault(day - timedelta(days=day.weekday()), {})
        for what, value in values.items():
            week[what] = max(value, week.get(what, 0))
    return list(weekly.items())


def _interruptions(past: Past, words: Words) -> list[dict[str, Any]]:
    titles = {exercise.id: exercise.title for exercise in past.order.exercises}

    def detail(record: InterruptionRecord) -> str:
        told = record.detail or ""
        return titles.get(told, told) if record.reason == PASSED_OVER else words.known("fault", told)

    return [
        {"day": session.day(past.zone), "minute": record.at_s / 60, "record": record, "detail": detail(record)}
        for session in past.sessions
        for record in session.interruptions
    ]


def _quality(past: Past) -> list[tuple[str, int]]:
    words = [one.quality for session in past.sessions for one in session.sets if one.quality]
    return [(word, words.count(word)) for word in ("good", "fair", "poor") if word in words]


def _quality_sentence(past: Past, words: Words) -> str:
    """How much of what was recorded can be relied on."""
    numbers = dict(_quality(past))
    if not numbers:
        return words("signal.unjudged")
    key = "poor" if "poor" in numbers else "good"
    return words(f"signal.{key}", n=sum(numbers.values()), poor=numbers.get("poor", 0))


def _remark(note: str, words: Words) -> str:
    """What the journal says about itself, in the report's language as far as it is known."""
    found = kept(note)
    if found is None:
        return words("notes.journal", note=note)
    code, values = found
    if at := values.pop("at", ""):
        values["day"] = words.day(datetime.fromisoformat(at).date())
    return words(f"remark.{code}", **({"day": words("word.none")} | values))


def _notes(past: Past, words: Words) -> list[str]:
    doubts = [
        words(f"notes.{one.kind}", session=one.session_id, day=words.day(one.day)) for one in past.done.clock_doubts
    ]
    meant = [words(f"unusual.{one.key}", **one.values) for one in acknowledged(past.order)]
    return [
        *(_remark(note, words) for note in (*past.ledger.problems, *past.ledger.notices)),
        *doubts,
        *(words("notes.meant", what=what) for what in meant),
    ]
