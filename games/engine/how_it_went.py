"""How an evening went: each attempt against what was asked, the day's figure, and how it compares with the days before.

It says something about that day alone, so it is no claim that the muscle has changed. Pure but for the journal, of
which only the evening asked for and those it is compared with are read.
"""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Literal, overload

from musclewood.games.engine.kinds import OF_KIND, Progress, progress_of
from musclewood.games.engine.results import Result, result_of
from musclewood.games.engine.shelf import product_of
from musclewood.games.engine.wishes import EARLIER, MEASURES, MOST
from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.journal.journal import Journal, SessionSummary
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.dose import PlannedExercise, planned

LOOKED_BACK = 10  # evenings that one is compared with at the most; our choice, about three weeks
Compared = Literal["nothing", "first", "more", "alike", "less"]


@dataclass(frozen=True)
class Work:
    """One exercise of an evening. `figures` are the medians of what counted on the evenings before, `figure` this
    one's."""

    kind: str
    workshop: str
    title: str
    results: tuple[Result, ...]
    figure: float | None = None
    figures: tuple[float, ...] = ()

    @property
    def made(self) -> int:
        return sum(result.made for result in self.results)

    @property
    def unseen(self) -> tuple[int, int]:
        """Made and tried with the door closed."""
        closed = [result for result in self.results if result.unseen]
        return sum(result.made for result in closed), len(closed)

    @property
    def progress(self) -> Progress:
        """In what this kind gets better."""
        return progress_of(self.kind)

    @property
    def compared(self) -> Compared:
        """Beside the days before: more or less than most of them, as a maker would notice."""
        if self.figure is None:
            return "nothing"
        if len(self.figures) < EARLIER:
            return "first"
        if sum(self.figure > before for before in self.figures) >= MOST * len(self.figures):
            return "more"
        return "less" if sum(self.figure < before for before in self.figures) >= MOST * len(self.figures) else "alike"


@dataclass(frozen=True)
class Evening:
    """One session with something tried in it."""

    day: date
    works: tuple[Work, ...]


class Evenings(Sequence[Evening]):
    """The evenings of a journal, the latest first; each is read when it is asked for."""

    def __init__(self, journal: Journal, prescription: Prescription, *, practice: bool = False) -> None:
        self._journal, self._order = journal, prescription
        tried = [one for one in journal.sessions() if one.practice == practice and any(one.attempts.values())]
        self._sessions = tried[::-1]
        self._figures: dict[int, Mapping[str, float]] = {}
        self._planned = {exercise.id: planned(prescription, exercise) for exercise in prescription.exercises}

    def __len__(self) -> int:
        return len(self._sessions)

    @overload
    def __getitem__(self, number: int) -> Evening: ...
    @overload
    def __getitem__(self, number: slice) -> Sequence[Evening]: ...
    def __getitem__(self, number: int | slice) -> Evening | Sequence[Evening]:
        if isinstance(number, slice):
            return [self[one] for one in range(*number.indices(len(self)))]
        session = self._sessions[number]
        reps = self._journal.records(session.session_id, RepRecord)
        before = [self._figures_of(one) for one in self._sessions[number + 1 : number + 1 + LOOKED_BACK]]
        works = []
        for name in dict.fromkeys(rep.exercise_id for rep in reps):
            figures = tuple(one[name] for one in before if name in one)
            done = [rep for rep in reps if rep.exercise_id == name]
            works.append(self._work(session, done, self._figures_of(session).get(name), figures))
        started = datetime.fromisoformat(session.start.started_at)
        return Evening(started.astimezone(zone_of(self._order.timezone)).date(), tuple(works))

    def _work(
        self, session: SessionSummary, reps: Sequence[RepRecord], figure: float | None, figures: tuple[float, ...]
    ) -> Work:
        first, ordered = reps[0], self._planned.get(reps[0].exercise_id)
        known = ordered is not None and session.start.revision == self._order.revision and ordered.kind == first.kind
        results = []
        for number, rep in enumerate(reps):
            asked = ordered if known and ordered is not None else as_recorded(rep)
            result = result_of(rep, asked, cued=_cued(reps, number, asked.rest_s))
            results.append(result if known else replace(result, figure="", values={}))
        title = ordered.title if ordered is not None else ""
        return Work(first.kind, first.workshop, title, tuple(results), figure, figures)

    def _figures_of(self, session: SessionSummary) -> Mapping[str, float]:
        """By exercise the median of what counted, in what its kind gets better."""
        if session.session_id not in self._figures:
            found: dict[str, list[float]] = {}
            for rep in self._journal.records(session.session_id, RepRecord):
                if rep.verdict == "counted":
                    measure = MEASURES[progress_of(rep.kind)]
                    found.setdefault(rep.exercise_id, []).append(measure(product_of(rep, rep.workshop, date.min)))
            self._figures[session.session_id] = {name: statistics.median(values) for name, values in found.items()}
        return self._figures[session.session_id]


def as_recorded(rep: RepRecord) -> PlannedExercise:
    """What an attempt alone tells of its exercise, where the order in force is another one: the band, but not for how
    long."""
    at_least = rep.tolerance_pct_mvc == 0.0
    return PlannedExercise(
        rep.exercise_id, rep.kind, "", (rep.workshop,), (0,), 1, 1, 0.0, 0.0, 0.0, rep.target_pct_mvc,
        rep.tolerance_pct_mvc, 100.0, rep.target_pct_mvc, asks="at least" if at_least else "within",
    )  # fmt: skip


def _cued(reps: Sequence[RepRecord], number: int, rest_s: float) -> bool:
    """Whether an attempt answered a cue: those come only after a whole rest."""
    rep = reps[number]
    if rep.verdict != "not relaxed":
        return True
    if not {"late", "stirred"} & set(OF_KIND[rep.kind].told):
        return False
    return number == 0 or rep.onset_s >= reps[number - 1].offset_s + rest_s
