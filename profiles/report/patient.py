"""The patient's own page: what was done, what it means, what comes next; short sentences in the patient's language."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.adherence import Adherence
from musclewood.profiles.report.muscles import MuscleReport

DEFAULT = "en"


@dataclass(frozen=True)
class PatientSection:
    """Texts of the page, ready to be shown. `figures` are big numbers with a word below."""

    language: str
    title: str
    figures: tuple[tuple[str, str], ...]
    sentences: tuple[str, ...]
    next_title: str
    next_steps: tuple[str, ...]
    caution_title: str
    cautions: tuple[str, ...]


@cache
def texts() -> dict[str, dict[str, Any]]:
    """All sentences by language."""
    path = files("musclewood.assets") / "report" / "patient.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def patient_page(
    prescription: Prescription,
    done: Adherence,
    sessions: Sequence[LedgerSession],
    muscles: Sequence[MuscleReport],
    missed_days: int,
) -> PatientSection:
    """Nothing here praises for nothing, and nothing blames: a day left out is a fact, not a fault."""
    language = prescription.language[:2] if prescription.language[:2] in texts() else DEFAULT
    words = texts()[language]
    days = sum(1 for day in done.days if day.reps_attempted)
    made = sum(day.reps_counted for day in done.days)
    minutes = sum(day.in_band_s for day in done.days) / 60
    return PatientSection(
        language=language,
        title=words["title"],
        figures=(
            (f"{made}", words["made"]), (f"{days}", words["days"]), (f"{minutes:.0f}", words["minutes"]),
        ),
        sentences=tuple(_sentences(words, prescription, sessions, muscles, made, missed_days)),
        next_title=words["next_title"],
        next_steps=tuple(one.format(review=_day(words, prescription.review)) for one in words["next_steps"]),
        caution_title=words["caution_title"],
        cautions=tuple(words["cautions"]),
    )  # fmt: skip


def _sentences(
    words: dict[str, Any],
    prescription: Prescription,
    sessions: Sequence[LedgerSession],
    muscles: Sequence[MuscleReport],
    made: int,
    missed_days: int,
) -> list[str]:
    if not made:
        return [words["nothing"]]
    told = []
    main = next((one for one in muscles if one.muscle.role == "involved"), None)
    if main is None or main.change is None:
        told.append(words["too_early"])
    elif main.change.real:
        told.append(words["stronger" if main.change.risen else "weaker"])
    else:
        told.append(words["same"])
    pains = [one.value for session in sessions for one in session.ratings if one.what == "pain"]
    if pains and max(pains) >= prescription.stop.pain_lighten:
        told.append(words["pain"].format(value=max(pains)))
    elif pains:
        told.append(words["no_pain"].format(value=max(pains)))
    told.append(words["left_out"].format(days=missed_days) if missed_days else words["all_done"])
    return told


def _day(words: dict[str, Any], day: date) -> str:
    return str(words["day"].format(day=day.day, month=words["months"][day.month - 1], year=day.year))
