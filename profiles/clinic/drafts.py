"""How a draft begins, and what happens to its text when it is issued. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.orders.daily_dose import dose_in_words
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.exercises import asked_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import unit_of
from musclewood.profiles.orders.templates import template

# From issue to review, unless the therapist says otherwise. Our choice, as in the templates.
REVIEW_DAYS = 21
LONGEST_SENTENCE = 400


def from_template(
    name: str, patient: str, orders: Sequence[Prescription], settings: DeskSettings, today: date
) -> Draft:
    """A template for a patient, under this clinic's name. Raises KeyError."""
    document = _without_sides(template(name).model_dump())
    document |= {
        "patient": patient,
        "clinic": settings.clinic,
        "note": None,  # it says that this is a template
        "language": settings.language,
        "timezone": settings.timezone or document["timezone"],
        "revision": 1 + max((order.revision for order in orders), default=0),
        "issued": today,
        "review": today + timedelta(days=REVIEW_DAYS),
    }
    return Draft(document, orders[-1] if orders else None)


def _without_sides(document: dict[str, Any]) -> dict[str, Any]:
    """A template has no side: it is chosen for every patient. Names that held one say the role instead."""
    names = {}
    for muscle in document["muscles"]:
        plain = muscle["id"].removesuffix("-left").removesuffix("-right")
        names[muscle["id"]] = muscle["id"] if plain == muscle["id"] else f"{plain[:20]}-{muscle['role']}"
    muscles = tuple({**muscle, "id": names[muscle["id"]], "side": None} for muscle in document["muscles"])
    exercises = tuple(
        {**exercise, "muscles": tuple(names[one] for one in exercise["muscles"])} for exercise in document["exercises"]
    )
    return {**document, "muscles": muscles, "exercises": exercises}


def from_last(orders: Sequence[Prescription], settings: DeskSettings, today: date) -> Draft:
    """The last revision once more, from today on; a last day that would have passed is left out."""
    last = orders[-1]
    document = last.model_dump()
    document |= {
        "clinic": settings.clinic if settings.clinic != DeskSettings().clinic else last.clinic,
        "revision": last.revision + 1,
        "issued": today,
        "review": last.review if last.review > today else today + timedelta(days=REVIEW_DAYS),
        "expires": last.expires if last.expires and last.expires > today else None,
        "acknowledged": None,
    }
    return Draft(document, last)


def described(prescription: Prescription) -> Prescription:
    """With the sentences that repeat figures of the order said again, so that they cannot contradict it."""
    stop, exercises, unit = prescription.stop, prescription.exercises, unit_of(prescription.calibration)
    moving = [one for one in exercises if one.scaling.on]
    start = "; ".join(f"{one.title}: {asked_of(one).partition(' ±')[0]} {unit}" for one in exercises)
    bounds = "; ".join(
        f"{one.title}: {one.effort.min_pct_mvc:g} to {one.effort.max_pct_mvc:g} {unit}" for one in moving
    )
    description = prescription.description.model_copy(
        update={
            "dose_in_words": dose_in_words(prescription),
            "starting_level": _fitting(f"{start}."),
            "progression": _fitting(
                f"Moves by itself within bounds. {bounds}." if moving else "As ordered, no scaling."
            ),
            "adverse_events": f"Pain is asked for before, during and after; {stop.pain_stop} of 10 or more ends the "
            "session and is reported.",
        }
    )
    return prescription.model_copy(update={"description": description})


def _fitting(sentence: str) -> str:
    return sentence if len(sentence) <= LONGEST_SENTENCE else f"{sentence[: LONGEST_SENTENCE - 4].rstrip()} ..."
