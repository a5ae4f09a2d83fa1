"""A try-out: the patient's own screen at the ordered effort, in the desk's window.

It is a real session of the one exercise; its journal lies in a folder that is gone afterwards. Where a sensor was on a
patient at the bench, that muscle plays it: pain is asked, stop works, and what the bench measured today is not measured
again. Else a simulated patient does, with a short calibration that has passed before the curtain rises.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from musclewood.games.desk.base.notes import NotePage
from musclewood.games.desk.base.office import Clock
from musclewood.games.desk.base.pieces import desk_ring, tag
from musclewood.games.desk.form.model import FormModel
from musclewood.games.engine.players import Player
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.words import told
from musclewood.games.running.errors import CommandError
from musclewood.games.running.offscreen import Unattended
from musclewood.games.running.setting_up import set_up
from musclewood.games.running.sources_by_name import Supply, source_by_name
from musclewood.games.running.todays_plan import channels_needed
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.day import nothing_ordered
from musclewood.games.screens.base.page import Back, Page, Surroundings, Transition
from musclewood.games.screens.base.play import Attentive, Play
from musclewood.games.screens.session.session import SessionPage
from musclewood.games.screens.session.workshop import WorkPage
from musclewood.games.workshops import workshops
from musclewood.profiles.errors import JournalError
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import CalibrationRecord, SessionEnd, SessionStart
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import name_of
from musclewood.profiles.orders.tables import DAYS, CalibrationOrder, Practice
from musclewood.profiles.visits.entries import Entry
from musclewood.profiles.visits.standing import references_of
from musclewood.signal.errors import RecordingError, SensorError
from musclewood.signal.sources.simulated import SimulatedSource

SEED = 7
STEP_S = 0.1  # of the calibration that nobody sees
LONGEST_S = 60.0
CURTAIN_S = 20.0  # a picture that is not painted by then is not waited for
CORNER = (24.0, 702.0)  # lower left, where no workshop writes


def try_out(
    around: Surroundings,
    model: FormModel,
    number: int,
    clock: Clock,
    source: str = "",
    entries: Sequence[Entry] = (),
) -> Page:
    """The page of the try-out of one exercise, or one that says why there is none.

    `source` is by name what is on the patient now, '' for nobody; `entries` is what the clinic wrote down about the
    patient.
    """
    words, order = around.theme.words, model.prescription
    kind = str(model.exercises[number]["kind"])
    if order is None:
        return NotePage(around, words("desk.try.faults"))
    exercise = order.exercises[number]
    if not any(name in workshops() for name in exercise.workshops):
        return NotePage(around, words("desk.try.missing", workshop=words(f"desk.workshop.{exercise.workshops[0]}")))
    folder = TemporaryDirectory(prefix="musclewood-", ignore_cleanup_errors=True)
    try:
        journal = Journal.open(Path(folder.name) / "try-out.sqlite")
        if source:
            supply = source_by_name(source, channels=channels_needed(order))
            play = begun_on(worn(order, number, clock()), journal, clock, supply, entries)
            return TryOut(around, play, journal, folder, by_itself=False)
        return TryOut(around, begun(alone(order, number), journal, clock), journal, folder)
    except (CommandError, JournalError, RecordingError, SensorError) as error:
        folder.cleanup()
        return NotePage(around, f"{words(f'desk.kind.{kind}')}: {told(words, error)}")


def alone(order: Prescription, number: int) -> Prescription:
    """The order with this one exercise, open for practice, calibrated in a few seconds."""
    quick = CalibrationOrder(rest_s=1.0, trials=1, trial_s=1.0, rest_between_s=1.0)
    return order.model_copy(
        update={
            "exercises": (order.exercises[number],),
            "practice": Practice(allowed=True),
            "calibration": quick,
            "record_samples": False,
        }
    )


def begun(order: Prescription, journal: Journal, clock: Clock) -> Play:
    """A session that has come to its exercise. Raises CommandError, JournalError."""
    channels = channels_needed(order)
    supply = Supply(SimulatedSource(channels=channels, seed=SEED, envelope=True), Player(channels, SEED))
    sitting = set_up(order, journal, supply, clock=clock, listen=Attentive)
    play = Play(sitting.conductor, today=sitting.plan.day, seed=SEED, player=supply.player)
    answers, passed_s = Unattended(), 0.0
    while play.view.stage not in ("exercise", "finished") and passed_s < LONGEST_S:
        _answer(play, answers)
        play.advance(STEP_S)
        passed_s += STEP_S
    return play


def worn(order: Prescription, number: int, now: datetime) -> Prescription:
    """The order with this one exercise, on any day, measured against what the day already knows."""
    return order.model_copy(
        update={
            "exercises": (order.exercises[number],),
            "days": DAYS,
            "issued": min(order.issued, now.date()),
            "expires": None,
            "retest": None,
            "record_samples": False,
            "calibration": order.calibration.model_copy(update={"every": "day"}),
        }
    )


def begun_on(order: Prescription, journal: Journal, clock: Clock, supply: Supply, entries: Sequence[Entry]) -> Play:
    """A session on what is on the patient, from its first question on. Raises CommandError,
    JournalError, SensorError."""
    now = clock()
    today = [entry for entry in entries if entry.at.astimezone(now.tzinfo).date() == now.date()]
    known = references_of(today)
    kind = supply.source.kind
    at = (now - timedelta(minutes=1)).isoformat()
    session = journal.begin_session(SessionStart(order.patient, order.revision, kind, at, order.timezone or ""))
    for muscle in order.muscles:
        if muscle.id in known:
            rest_uv, full_uv = known[muscle.id]
            name = name_of(order.calibration)
            record = CalibrationRecord(
                muscle.id, muscle.channel, 0.0, rest_uv, full_uv, None, (full_uv,), full_uv, reference=name
            )
            journal.add(session, record)
    journal.end_session(session, SessionEnd(at, "complete"))
    sitting = set_up(order, journal, supply, clock=clock, listen=Attentive)
    return Play(sitting.conductor, today=sitting.plan.day, seed=SEED)


def _answer(play: Play, answers: Unattended) -> None:
    if (answer := answers.answer(play.session)) is not None:
        play.answer(answer)


class TryOut(SessionPage):
    """The session's pages with one more control: back to the desk. Enter and Escape choose it."""

    def __init__(
        self,
        around: Surroundings,
        play: Play,
        journal: Journal,
        folder: TemporaryDirectory[str],
        *,
        by_itself: bool = True,
    ) -> None:
        super().__init__(around, nothing_ordered(lambda settings: None), play)
        self._by_itself = by_itself  # nobody is there who could answer
        self._journal, self._folder = journal, folder
        self._answers = Unattended()
        self._way_back = Box(0, 0, 0, 0)
        self._pointed = False

    def handle(self, intent: Intent) -> Transition | None:
        on_it = intent.at is not None and self._way_back.holds(intent.at)
        if intent.act is Act.POINT:
            self._pointed = on_it
        chooses = intent.act is Act.CHOOSE and self.over is None and not self.top.focus
        away = intent.act is Act.BACK or chooses
        if (intent.act is Act.PRESS and on_it) or (away and self._way_back_shown):
            return self._leave()
        return super().handle(intent)

    @property
    def _way_back_shown(self) -> bool:
        """Where the patient answers, the session's own pages have no room for it: there stop and 'end' lead back."""
        return self._by_itself or isinstance(self.inner, WorkPage)

    def update(self, dt_s: float) -> Transition | None:
        waits = self._by_itself and isinstance(self.inner, WorkPage) and not self.inner.picture_ready
        if waits and self.time_s < CURTAIN_S:
            self.time_s += dt_s  # the simulated patient waits until there is something to see
            return None
        if self.over is None and self._by_itself:
            _answer(self.play, self._answers)
        return super().update(dt_s)

    def _follow(self) -> Transition | None:
        return self._leave() if self.play.view.stage == "finished" else super()._follow()

    def _leave(self) -> Transition:
        self.close()
        return Back()

    def close(self) -> None:
        """End the session and leave nothing behind."""
        self.around.speaker.hush()
        self.play.close()
        self._journal.close()
        self._folder.cleanup()

    def draw(self, canvas: Canvas) -> None:
        super().draw(canvas)
        if not self._way_back_shown:
            self._way_back = Box(0, 0, 0, 0)
            return
        words = self.theme.words
        back = tag(canvas, self.theme, "desk", words("desk.try.back"), icons.leaf_turn, first=True, width=460)
        back = back.moved(CORNER[0], CORNER[1] - back.box.height)
        self._way_back = back.box
        back.draw(canvas, self.theme)
        if self._pointed:
            desk_ring(canvas, self.theme, back.box)
