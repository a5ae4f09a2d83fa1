"""How strong each muscle is lately, and whether it changed: the facts behind sentence and figure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, tzinfo

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.recent_mvc import Change, Measured, RecentMvc, change, follow
from musclewood.profiles.report import figures as report_figures


@dataclass(frozen=True)
class MuscleReport:
    name: str
    role: str
    figure: str
    latest: RecentMvc
    change: Change | None
    number: int
    real_since: date | None


def muscle_reports(
    prescription: Prescription, sessions: Sequence[LedgerSession], zone: tzinfo | None
) -> list[MuscleReport]:
    reports = []
    for muscle in prescription.muscles:
        measured = [
            Measured(session.started, record.mvc_uv, record.cv)
            for session in sessions
            for record in session.calibrations
            if record.muscle == muscle.id and math.isfinite(record.mvc_uv) and record.mvc_uv > 0
        ]
        if track := follow(measured):
            name = f"{muscle.name}, {muscle.side} ({muscle.role})"
            real = [_real(measured[: number + 1]) for number in range(len(measured))]
            figure = report_figures.recent_mvc(track, name, real)
            since = _real_since(track, real, zone)
            reports.append(MuscleReport(name, muscle.role, figure, track[-1], change(measured), len(track), since))
    return reports


def _real(measured: Sequence[Measured]) -> bool:
    seen = change(measured)
    return seen is not None and seen.real


def _real_since(track: Sequence[RecentMvc], real: Sequence[bool], zone: tzinfo | None) -> date | None:
    """The day from which on the change has stayed real; None while it is not."""
    if not real or not real[-1]:
        return None
    first = max((number for number, mark in enumerate(real) if not mark), default=-1) + 1
    return track[first].at.astimezone(zone).date()
