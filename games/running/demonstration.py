"""The whole job with an invented patient: an order, weeks of sessions, one session now, a hand-over and a report.

Nothing here is played differently from a real session: the earlier weeks go through session, rep engine, chain and
journal too. Only their samples are made cheaper, as a sensor that sends an envelope makes them; the session of now
is made of raw samples.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime, time, timedelta
from pathlib import Path

from musclewood.games.engine.players import Player
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.session import Session
from musclewood.games.running.offscreen import Unattended, play_offscreen
from musclewood.games.running.setting_up import PreparedSession, channels_needed, set_up
from musclewood.games.running.sources_by_name import Supply
from musclewood.profiles.disk.files import write_whole
from musclewood.profiles.handover.package import write_handover
from musclewood.profiles.journal.history import History, read_history, zone_of
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.exercises import AnyExercise
from musclewood.profiles.orders.prescription import Prescription, write
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan.dose import plan_today
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource

TEMPLATE = "weak-thigh-after-knee-operation"
NOTE = "Demonstration with an invented patient and a simulated muscle. Nobody was treated."
EXERCISES_USUALLY = 2  # enough to see the way; all of a template that was asked for
WEEKS = 3
SESSION_DAYS = (0, 2, 4)  # Monday, Wednesday, Friday; and the weekday of today
MISSED = 0.15  # share of earlier sessions that the invented patient left out
AT = time(17, 30)
EARLIER_FRAME_S = 0.1  # how often the player of earlier weeks looks; half of a reaction time is enough


class InventedPatient(Unattended):
    """Answers the questions as somebody on the mend might."""

    def __init__(self, seed: int, weeks_gone: float) -> None:
        super().__init__()
        self._random = random.Random(seed)
        self._weeks_gone = weeks_gone

    def rating(self, session: Session) -> int:
        if session.stage == "rating" and session.asked == "effort":
            return self._random.choice((4, 5, 5, 6))
        return 1 if self._random.random() < 0.5 / (1.0 + self._weeks_gone) else 0


class InventedPlayer(Player):
    """Mostly steady, but sometimes too weak, and sometimes out of breath before the time is full."""

    def __init__(self, channels: int, seed: int) -> None:
        super().__init__(channels, seed)
        self._rep = (0, 0, "")
        self._share, self._patience = 1.0, 1.0

    def working(self, rep: RepView) -> bool:
        if (now := (rep.set_number, rep.made, str(rep.last_verdict))) != self._rep and rep.phase == "ready":
            self._rep = now
            self._share = 0.6 if self.random.random() < 0.06 else 1.0
            self._patience = self.random.uniform(0.4, 0.8) if self.random.random() < 0.12 else 9.0
        tired = rep.effort_s > self._patience * rep.hold_s or (self._share < 1.0 and rep.effort_s > 1.2 * rep.hold_s)
        return super().working(rep) and not tired

    def level(self, rep: RepView, time_s: float) -> float:
        return self._share * super().level(rep, time_s)


class Demonstration:
    """Leaves its files in `folder`. `now` is aware; `tell` gets a line for whatever a reader should know.

    `name` is the template to play, all of it; without one it is the usual, and only its first exercises.
    """

    def __init__(
        self, folder: Path, now: datetime, seed: int, tell: Callable[[str], None], name: str | None = None
    ) -> None:
        self.folder, self._now, self._seed, self._tell = folder, now, seed, tell
        self.prescription = short_order(now.date(), name)
        self._channels = channels_needed(self.prescription)
        self._done = 0

    def order(self) -> None:
        """Write the prescription."""
        path = self.folder / "prescription.toml"
        write(self.prescription, path)
        self._tell(NOTE)
        self._tell(f"prescription: {path}")

    def play_earlier_weeks(self) -> None:
        """Play what the invented patient did in the weeks before."""
        first = self.prescription.issued
        chance = random.Random(self._seed)
        days = [first + timedelta(days=number) for number in range((self._now.date() - first).days)]
        ordered = [
            day for day in days if DAYS[day.weekday()] in self.prescription.days and day.weekday() in SESSION_DAYS
        ]
        played = [day for day in ordered if chance.random() >= MISSED]
        for day in played:
            self._play_on(day)
        self._tell(
            f"earlier sessions: {len(played)} of {len(ordered)}, simulated through chain, rep engine and journal"
        )

    def play_now(self) -> None:
        """Today's session, without a window, faster than time."""
        with self.open_journal() as journal:
            sitting, player = self.sitting(journal, by_ticks=True)
            play_offscreen(sitting.conductor, self._tell, player=player, unattended=self.answers(), fast=True)

    def hand_over(self) -> None:
        """Write the report, and the hand-over that carries it."""
        from musclewood.profiles.report.page import render_report  # matplotlib takes its time

        with self.open_journal() as journal:
            page = render_report(journal, self.prescription, demonstration=True, now=self._now)
            report = self.folder / "report.html"
            write_whole(report, page.encode("utf-8"))
            handover = write_handover(journal, self.prescription, self.folder, page)
            problems = journal.verify()
        self._tell(f"journal: {self.folder / 'journal.sqlite'} ({'sound' if not problems else '; '.join(problems)})")
        self._tell(f"hand-over: {handover}")
        self._tell(f"report: {report}")

    def sitting(self, journal: Journal, *, by_ticks: bool = False) -> tuple[PreparedSession, Player]:
        """Today's session on raw samples, and who plays it."""
        source = SimulatedSource(self._person(), channels=self._channels, seed=self._seed + self._done)
        player = InventedPlayer(self._channels, self._seed)
        now = self._now
        sitting = set_up(
            self.prescription,
            journal,
            Supply(source, player),
            clock=(lambda: now) if by_ticks else (lambda: datetime.now().astimezone()),
            plan=plan_today(self.prescription, self._history(journal), now.date()),
            by_ticks=by_ticks,
            note=NOTE,
        )
        return sitting, player

    def answers(self) -> Unattended:
        return InventedPatient(self._seed, WEEKS)

    @contextmanager
    def open_journal(self, clock: Callable[[], datetime] | None = None) -> Iterator[Journal]:
        path = self.folder / "journal.sqlite"
        with Journal.open(path, clock=clock) if clock else Journal.open(path) as journal:
            yield journal

    def _play_on(self, day: date) -> None:
        start = datetime.combine(day, AT, zone_of(self.prescription.timezone))
        seed = self._seed + self._done
        source = SimulatedSource(self._person(), channels=self._channels, seed=seed, envelope=True)
        player = InventedPlayer(self._channels, seed)
        with self.open_journal(lambda: start) as journal:
            sitting = set_up(
                self.prescription,
                journal,
                Supply(source, player),
                clock=lambda: start,
                plan=plan_today(self.prescription, self._history(journal), day),
                by_ticks=True,
                note=NOTE,
            )
            weeks_gone = (day - self.prescription.issued).days / 7
            answers = InventedPatient(seed, weeks_gone)
            play_offscreen(
                sitting.conductor, _silently, player=player, unattended=answers, fast=True, frame_s=EARLIER_FRAME_S
            )
        self._done += 1

    def _person(self) -> ModelPatient:
        return ModelPatient().after(self._done)

    def _history(self, journal: Journal) -> History:
        """What scaling looks at. Practice is no history anywhere else; here it stands for the real thing."""
        return read_history(journal, practice_too=True)


def short_order(today: date, name: str | None = None) -> Prescription:
    """The template, shortened to a few minutes, issued some weeks ago."""
    order = template(name or TEMPLATE)
    exercises = [_shortened(exercise) for exercise in order.exercises]
    exercises = exercises if name else exercises[:EXERCISES_USUALLY]
    issued = today - timedelta(days=7 * WEEKS + today.weekday())
    return order.model_copy(
        update={
            "note": NOTE,
            "issued": issued,
            "review": today + timedelta(days=14),
            "days": tuple(DAYS[number] for number in sorted({*SESSION_DAYS, today.weekday()})),
            "calibration": order.calibration.model_copy(update={"rest_s": 3.0, "trial_s": 3.0, "rest_between_s": 3.0}),
            "ceilings": order.ceilings.model_copy(update={"sessions_per_week": 5}),
            "exercises": tuple(exercises),
        }
    )


def _shortened(exercise: AnyExercise) -> AnyExercise:
    return exercise.model_copy(
        update={"sets": 1, "reps": 6, "hold_s": min(exercise.hold_s, 3.0), "rest_s": 3.0, "set_rest_s": 5.0}
    )


def _silently(line: str) -> None:
    """Nobody reads along."""
