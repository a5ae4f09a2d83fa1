"""What the program changed by itself: the way of each exercise, week by week, and every single move."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from musclewood.profiles.journal.records import ScalingRecord
from musclewood.profiles.plan.reasons import Change, change_kept
from musclewood.profiles.report.past import Past
from musclewood.profiles.report.words import Words


@dataclass(frozen=True)
class Move:
    day: date
    title: str
    record: ScalingRecord

    def reason(self, words: Words) -> str:
        """Why, in the report's language, as far as the record says it in figures."""
        record = self.record
        if record.predicted_success is not None:
            return words("scaling.predicted", share=words.number(100 * record.predicted_success))
        change = change_kept(record.reason_patient)
        return words(f"scaling.{_REASONS[change]}") if change else record.reason_therapist


_REASONS = {
    Change.PAIN: "pain",
    Change.HARDER_NOW: "within",
    Change.EASIER_NOW: "within",
    Change.HARDER: "back",
    Change.EASIER: "back",
}


@dataclass(frozen=True)
class WeekOfMoves:
    """One exercise in one week: how often it was moved, and from where to where."""

    monday: date
    title: str
    moves: int
    first: ScalingRecord
    last: ScalingRecord


def moves(past: Past) -> list[Move]:
    titles = {exercise.id: exercise.title for order in past.orders for exercise in order.exercises}
    return [
        Move(session.day(past.zone), titles.get(record.exercise_id, record.exercise_id), record)
        for session in past.sessions
        for record in session.scaling
    ]


def by_week(found: Sequence[Move]) -> list[WeekOfMoves]:
    grouped: dict[tuple[date, str], list[ScalingRecord]] = {}
    for move in found:
        grouped.setdefault((move.day - timedelta(days=move.day.weekday()), move.title), []).append(move.record)
    return [WeekOfMoves(week, title, len(all_), all_[0], all_[-1]) for (week, title), all_ in grouped.items()]


def sentences(found: Sequence[Move], words: Words) -> list[str]:
    """Where each exercise began and where it is now."""
    told = []
    for title in dict.fromkeys(move.title for move in found):
        own = [move.record for move in found if move.title == title]
        ends = {"first": own[0].target_from_pct_mvc, "last": own[-1].target_to_pct_mvc}
        told.append(
            words.count("scaling.first", len(own), exercise=title, **{k: words.short(v) for k, v in ends.items()})
        )
    return told
