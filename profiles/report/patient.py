"""The patient's own page: what was done, what it means, what comes next; short sentences in the patient's language."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from musclewood.profiles.report.past import Past
from musclewood.profiles.report.words import Words

MINUTES_FROM_S = 120.0  # less is told in seconds: "0 minutes" would be no thanks for a first day (our choice)


@dataclass(frozen=True)
class PatientSection:
    """Texts of the page, ready to be shown. `figures` are big numbers with a word below."""

    language: str
    figures: tuple[tuple[str, str], ...]
    sentences: tuple[str, ...]
    next_steps: tuple[str, ...]


def patient_page(past: Past, words: Words) -> PatientSection:
    """Nothing here praises for nothing, and nothing blames: a day left out is a fact, not a fault."""
    days = sum(1 for day in past.done.days if day.reps_attempted)
    made = sum(day.reps_counted for day in past.done.days)
    aimed_s = sum(day.in_band_s for day in past.done.days)
    aimed = (words.number(aimed_s), "seconds") if aimed_s < MINUTES_FROM_S else (words.number(aimed_s / 60), "minutes")
    figures = ((f"{made}", "made"), (f"{days}", "day" if days == 1 else "days"), aimed)
    return PatientSection(
        language=words.language,
        figures=tuple((number, words(f"patient.{key}")) for number, key in figures),
        sentences=tuple(_sentences(past, words, made)),
        next_steps=tuple(_next(past, words)),
    )


def _sentences(past: Past, words: Words, made: int) -> Iterator[str]:
    if not made:
        yield words("patient.nothing")
        return
    main = next((one.change for one in past.muscles if one.muscle.role == "involved"), None)
    if main is None or main.low_percent is None:
        yield words("patient.too_early")
    elif main.real:
        yield words("patient.stronger" if main.risen else "patient.weaker")
    else:
        yield words("patient.same")
    pains = [one.value for session in past.sessions for one in session.ratings if one.what == "pain"]
    if pains:
        ended = any(session.cut_short_by_pain or session.pain_came_after for session in past.sessions)
        key = "pain" if ended or max(pains) >= past.order.stop.pain_lighten else "no_pain"
        yield words(f"patient.{key}", value=max(pains))
    if past.missed_days:
        yield words.count("patient.left_out", past.missed_days)
    elif any(not day.rest_day for day in past.done.days):
        yield words("patient.all_done")


def _next(past: Past, words: Words) -> Iterator[str]:
    order = past.order
    if order.expires is not None and order.expires < past.today:
        yield words("patient.ended")
    else:
        yield words("patient.go_on")
        if order.review < past.today:
            yield words("patient.review_passed")
        else:
            yield words("patient.review", review=words.day(order.review))
    yield words("patient.pads")
    yield words("patient.bring")
