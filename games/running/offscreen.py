"""Plays a session without a window: nobody watches, so the questions are answered by rule and every rep is one line."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from datetime import date
from functools import partial

from musclewood.games.engine.players import Player
from musclewood.games.engine.rep_events import RepEvent, RepMade, RepMissed
from musclewood.games.engine.session import Session
from musclewood.games.engine.session_events import ExerciseBegan, Happening, Paused, SessionOver
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.words import Words
from musclewood.games.running.acquisition import Acquisition
from musclewood.games.running.bench import Answers
from musclewood.games.running.conductor import Conductor
from musclewood.games.running.retesting import Retesting
from musclewood.games.workshops import Rules, workshops
from musclewood.profiles.journal.records import CalibrationRecord, RatingRecord, RepRecord
from musclewood.signal.sources.simulated import SimulatedSource

FRAME_S = 1.0 / 60.0
FAST_FRAME_S = 0.04  # our choice: fewer, larger blocks; a player still sees the session 25 times a second
UNATTENDED = "unattended: ratings were answered by rule, not by a person"

Tell = Callable[[str], None]


class Unattended:
    """Answers for somebody who is not there: no pain, no effort, the preferred workshop or the first."""

    def __init__(self, workshop: str | None = None) -> None:
        self._workshop = workshop

    def answer(self, session: Session) -> int | str | None:
        """What to answer now, if anything is asked."""
        match session.stage:
            case "comfort" | "rating":
                return self.rating(session)
            case "choose":
                exercise = session.view.exercise
                ordered = exercise.workshops if exercise else ()
                return self._workshop if self._workshop in ordered else ordered[0]
            case "signal":
                view = session.view.signal
                return "go on" if view and view.may_go_on else None
            case _:
                return None

    def rating(self, session: Session) -> int:
        """From 0 to 10, before and after."""
        return 0


class Workbench:
    """Steps the rules of the workshop at hand, as a window would, and keeps what is made."""

    def __init__(self, seed: int, today: date, shelf: Sequence[Product] = ()) -> None:
        self._seed, self._today, self._shelf = seed, today, list(shelf)
        self._rules: Rules | None = None

    @property
    def made(self) -> list[Product]:
        return [*self._shelf, *(self._rules.made if self._rules else ())]

    def take(self, step_s: float, session: Session, happened: Sequence[Happening]) -> None:
        for happening in happened:
            if isinstance(happening.what, ExerciseBegan):
                self._shelf = self.made
                workshop = workshops().get(happening.what.workshop)
                rules = workshop.rules if workshop else None
                self._rules = rules(happening.what.exercise, self._seed, self._shelf, self._today) if rules else None
        rep = session.view.rep
        if self._rules is not None and rep is not None:
            events = [happening.what for happening in happened if isinstance(happening.what, RepEvent)]
            self._rules.step(step_s, rep, events)


def play_offscreen(
    conductor: Conductor,
    tell: Tell,
    *,
    player: Player | None = None,
    unattended: Unattended | None = None,
    workbench: Workbench | None = None,
    fast: bool = False,
    frame_s: float | None = None,
) -> None:
    """Lead the conductor's session to its end.  `tell` gets one line for each thing worth saying, after it is durable.

    With `fast` time is not waited for.  `frame_s` is how much of it passes between two looks.  Raises JournalError and
    SensorError.
    """
    session, source = conductor.session, conductor.acquisition.source
    answers = unattended or Unattended()
    frame_s = frame_s or (FAST_FRAME_S if fast else FRAME_S)
    report(conductor.begin(), tell)
    began, frames = time.monotonic(), 0
    try:
        while not session.finished:
            if (answer := answers.answer(session)) is not None:
                report(conductor.do(partial(session.answer, answer)), tell)
            if player is not None and isinstance(source, SimulatedSource):
                source.aim(player.aim(session.view))
            happened = conductor.advance(frame_s)
            report(happened, tell)
            if workbench is not None:
                workbench.take(frame_s, session, happened)
            frames += 1
            if not fast:
                time.sleep(max(0.0, began + frames * frame_s - time.monotonic()))
    finally:
        conductor.close()


def retest_offscreen(
    retest: Retesting, tell: Tell, *, moved: Callable[[], Acquisition] | None = None, pain: int = 0, fast: bool = False
) -> None:
    """Lead a test that the order repeats to its end, pads laid at once and pain answered by rule, a line a step.

    `moved` gives what is listened to from when the pads were moved, such as the recording of the other side. Raises
    JournalError and SensorError.
    """
    frame_s, answers, told, places = FAST_FRAME_S if fast else FRAME_S, Answers(pain), "", 0
    retest.begin()
    began, frames = time.monotonic(), 0
    try:
        while retest.ending is None:
            shown = retest.shown
            line = f"{shown.doing}: {', '.join(f'{one.name}, {one.side}' for one in shown.subjects)}".rstrip(": ")
            if line != told and shown.doing in ("place", "pain", "ready"):
                tell(line)
            told = line
            if shown.doing == "place":
                places += 1
                if places > 1 and moved is not None:
                    retest.listen_to(moved())
            if (answer := answers.to(shown)) is not None:
                retest.answer(answer)
            retest.advance(frame_s)
            frames += 1
            if not fast:
                time.sleep(max(0.0, began + frames * frame_s - time.monotonic()))
    finally:
        retest.close()
    tell(f"test over: {retest.ending}")


def report(happened: Sequence[Happening], tell: Tell) -> None:
    """One line for each happening worth one."""
    for happening in happened:
        if line := line_of(happening):
            tell(line)


def line_of(happening: Happening) -> str | None:
    """What a reader of the terminal is told."""
    what, record = happening.what, happening.record
    if isinstance(what, RepMade | RepMissed) and isinstance(record, RepRecord):
        return (
            f"{record.exercise_id}, set {record.set_number}, attempt {record.rep_number}: {record.verdict} "
            f"({record.in_band_s:.1f} s in the band, mean {record.mean_pct_mvc:.0f} % of the reference)"
        )
    if isinstance(record, CalibrationRecord):
        return (
            f"calibration of {record.muscle}: rest {record.rest_uv:.1f} µV, {record.reference} "
            f"{record.reference_uv:.0f} µV"
        )
    if isinstance(record, RatingRecord):
        return f"{record.what} {record.moment} the session: {record.value}"
    if isinstance(what, Paused):
        return f"paused ({what.reason}){': ' + Words('en')(f'advice.{what.advice}') if what.advice else ''}"
    if isinstance(what, SessionOver):
        return f"session over: {what.ending}{' (' + what.note + ')' if what.note else ''}"
    return None
