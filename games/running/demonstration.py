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
from musclewood.games.running.setting_up import PreparedSession, set_up
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.running.todays_plan import channels_needed
from musclewood.profiles.disk.files import write_whole
from musclewood.profiles.handover.package import write_handover
from musclewood.profiles.journal.history import History, read_history, zone_of
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import read_ledger
from musclewood.profiles.orders.exercises import AnyExercise, Paired
from musclewood.profiles.orders.prescription import Prescription, write
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan.dose import plan_today
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource

TEMPLATE = "weak-thigh-after-knee-operation"
NOTE = "Demonstration with an invented patient and a simulated muscle. Nobody was treated."
EXERCISES_USUALLY = 2  # enough to see the way; all of a template that was asked for
WEEKS = 5
SESSION_DAYS = (0, 2, 4)  # Monday, Wednesday, Friday
WEEK_AWAY = 2  # the third week: nothing was done
SORE_SESSION = 7  # an earlier session after which it hurt a little
# The invented muscle: half of the other side at first, nearly as much in the end. Its pads lie where they were marked,
# so days scatter little. A report may say that it grew, because it did.
FIRST_UV, GAIN, OTHER_UV = 230.0, 0.85, 460.0
MARKED_CV = 0.10
WEAK, EARLY = 0.08, 0.12  # how often an attempt is too weak, or let go too early
FIRST_SUCCEED = 3  # attempts that somebody who looks for the first time is to see succeed
AT = time(17, 30)
EARLIER_FRAME_S = 0.1  # how often the player of earlier weeks looks; half of a reaction time is enough


class InventedPatient(Unattended):
    """Answers the questions as somebody on the mend might; `sore` on the day after too much gardening."""

    def __init__(self, seed: int, weeks_gone: float, sore: bool = False) -> None:
        super().__init__()
        self._random = random.Random(seed)
        self._weeks_gone, self._sore = weeks_gone, sore

    def rating(self, session: Session) -> int:
        if session.stage == "rating" and session.asked == "effort":
            return self._random.choice((4, 5, 5, 6))
        if self._sore:
            return 2 if session.stage == "comfort" else 3
        return 1 if self._random.random() < 0.5 / (1.0 + self._weeks_gone) else 0


class InventedPlayer(Player):
    """Mostly steady, but sometimes too weak, and sometimes letting go before the time is full."""

    def __init__(self, channels: int, seed: int, first_succeed: int = 0) -> None:
        super().__init__(channels, seed)
        self._ready, self._attempts, self._first = False, 0, first_succeed
        self._share, self._patience = 1.0, 9.0

    def working(self, rep: RepView) -> bool:
        ready = rep.phase == "ready"
        if ready and not self._ready:  # every attempt is another one, whatever became of the one before
            self._attempts += 1
            chance = self.random.random() if self._attempts > self._first else 1.0
            self._share = 0.6 if chance < WEAK else 1.0
            self._patience = self.random.uniform(0.4, 0.8) if WEAK <= chance < WEAK + EARLY else 9.0
        self._ready = ready
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
        self.orders = short_orders(now.date(), name)
        self._channels = max(channels_needed(order) for order in self.orders)
        self._done = 0

    @property
    def prescription(self) -> Prescription:
        """The order that is in force now."""
        return self.orders[-1]

    def order(self) -> None:
        """Write the prescription."""
        path = self.folder / "prescription.toml"
        write(self.prescription, path)
        self._tell(NOTE)
        self._tell(f"prescription: {path}")

    def play_earlier_weeks(self) -> None:
        """Play what the invented patient did in the weeks before."""
        first = self.orders[0].issued
        days = [first + timedelta(days=number) for number in range((self._now.date() - first).days)]
        ordered = [day for day in days if day.weekday() in SESSION_DAYS]
        played = [day for day in ordered if (day - first).days // 7 != WEEK_AWAY]
        self._tell("The weeks before are played ahead; that takes half a minute.")
        for day in played:
            self._play_on(day)
        self._tell(
            f"{WEEKS} weeks at home: {len(played)} of {len(ordered)} sessions, one week away, one sore day; "
            "simulated through chain, rep engine and journal"
        )

    def play_now(self) -> None:
        """Today's session, without a window, faster than time."""
        with self.open_journal() as journal:
            sitting, player = self.sitting(journal, by_ticks=True)
            play_offscreen(sitting.conductor, self._tell, player=player, unattended=self.answers(), fast=True)

    def hand_over(self) -> None:
        """Write the report, and the hand-over that carries it."""
        from musclewood.profiles.report.page import first_page, render_report  # matplotlib takes its time

        with self.open_journal() as journal:
            earlier = self.orders[:-1]
            page = render_report(journal, self.prescription, demonstration=True, now=self._now, revisions=earlier)
            report = self.folder / "report.html"
            write_whole(report, page.encode("utf-8"))
            handover = write_handover(journal, self.prescription, self.folder, page, revisions=earlier)
            self._tell("What the therapist reads first:")
            for answer in first_page(read_ledger(journal), self.prescription, earlier, self._now):
                self._tell(f"  {answer}")
            problems = journal.verify()
        self._tell(f"journal: {self.folder / 'journal.sqlite'} ({'sound' if not problems else '; '.join(problems)})")
        self._tell(f"hand-over: {handover}")
        self._tell(f"report: {report}")

    def sitting(self, journal: Journal, *, by_ticks: bool = False) -> tuple[PreparedSession, Player]:
        """Today's session on raw samples, and who plays it."""
        source = SimulatedSource(self._person(), channels=self._channels, seed=self._seed + self._done)
        player = InventedPlayer(self._channels, self._seed, FIRST_SUCCEED)
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
        order = next(order for order in reversed(self.orders) if order.issued <= day)
        start = datetime.combine(day, AT, zone_of(order.timezone))
        seed = self._seed + self._done
        source = SimulatedSource(self._person(), channels=self._channels, seed=seed, envelope=True)
        player = InventedPlayer(self._channels, seed)
        with self.open_journal(lambda: start) as journal:
            sitting = set_up(
                order,
                journal,
                Supply(source, player),
                clock=lambda: start,
                plan=plan_today(order, self._history(journal), day),
                by_ticks=True,
                note=NOTE,
            )
            weeks_gone = (day - self.orders[0].issued).days / 7
            answers = InventedPatient(seed, weeks_gone, sore=self._done == SORE_SESSION)
            play_offscreen(
                sitting.conductor, _silently, player=player, unattended=answers, fast=True, frame_s=EARLIER_FRAME_S
            )
        self._done += 1

    def _person(self) -> ModelPatient:
        """On the mend: the involved muscle grows with every session, the other one stays."""
        share = self._done / ((WEEKS - 1) * len(SESSION_DAYS))
        involved = FIRST_UV * (1.0 + GAIN * min(1.0, share))
        return ModelPatient(mvc_uv=(involved, OTHER_UV), placement_cv=MARKED_CV, strength_gain=0.0, sessions=self._done)

    def _history(self, journal: Journal) -> History:
        """What scaling looks at. Practice is no history anywhere else; here it stands for the real thing."""
        return read_history(journal, practice_too=True)


def short_orders(today: date, name: str | None = None) -> tuple[Prescription, ...]:
    """The template, shortened to a few minutes and issued some weeks ago; with `name`, nothing but that template.

    Without it there are three: on the first day and today both sides are tested, in between one is trained.
    """
    issued = today - timedelta(days=7 * WEEKS + today.weekday())
    course = short_order(today, name)
    if name:
        return (course,)
    first = {"revision": 1, "issued": issued}
    second = {"revision": 2, "issued": issued + timedelta(days=1)}
    third = {"revision": 3, "issued": today, "days": tuple(DAYS[n] for n in sorted({*SESSION_DAYS, today.weekday()}))}
    both = _with_both_sides(course)
    return both.model_copy(update=first), course.model_copy(update=second), both.model_copy(update=third)


def short_order(today: date, name: str | None = None) -> Prescription:
    order = template(name or TEMPLATE)
    exercises = [_shortened(exercise) for exercise in order.exercises]
    exercises = exercises if name else exercises[:EXERCISES_USUALLY]
    issued = today - timedelta(days=7 * WEEKS + today.weekday())
    days = {*SESSION_DAYS, today.weekday()} if name else SESSION_DAYS
    return order.model_copy(
        update={
            "note": NOTE,
            "issued": issued,
            "review": today + timedelta(days=14),
            "days": tuple(DAYS[number] for number in sorted(days)),
            "calibration": order.calibration.model_copy(update={"rest_s": 3.0, "trial_s": 3.0, "rest_between_s": 3.0}),
            "ceilings": order.ceilings.model_copy(update={"sessions_per_week": 5}),
            "exercises": tuple(exercises),
        }
    )


def _with_both_sides(order: Prescription) -> Prescription:
    """The same with one exercise of both sides, before which both are measured."""
    involved = order.muscles[0]
    side = "right" if involved.side == "left" else "left"
    other = involved.model_copy(update={"id": f"{involved.id}-other", "side": side, "role": "uninvolved", "channel": 1})
    hold = order.exercises[0]
    together = Paired(
        id="thighs-together", title="Tighten both thighs alike", kind="paired", workshops=("yoke",),
        muscles=(involved.id, other.id), sets=1, reps=3, hold_s=hold.hold_s, rest_s=hold.rest_s,
        set_rest_s=hold.set_rest_s, quiet_pct_mvc=hold.quiet_pct_mvc, difference_pct_mvc=20.0,
        effort=hold.effort, scaling=hold.scaling.model_copy(update={"on": False}),
    )  # fmt: skip
    return order.model_copy(update={"muscles": (involved, other), "exercises": (*order.exercises, together)})


def _shortened(exercise: AnyExercise) -> AnyExercise:
    return exercise.model_copy(
        update={"sets": 1, "reps": 6, "hold_s": min(exercise.hold_s, 3.0), "rest_s": 3.0, "set_rest_s": 5.0}
    )


def _silently(line: str) -> None:
    """Nobody reads along."""
