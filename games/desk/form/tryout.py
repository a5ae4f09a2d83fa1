"""A try-out: the patient's own screen at the ordered effort, played by a simulated patient, in the desk's window.

It is a real session of the one exercise, with a short calibration that has passed before the curtain rises. Its journal
lies in a folder that is gone afterwards.
"""

from __future__ import annotations

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
from musclewood.games.running.setting_up import channels_needed, set_up
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.day import nothing_ordered
from musclewood.games.screens.base.page import Back, Page, Surroundings, Transition
from musclewood.games.screens.base.play import Attentive, Play
from musclewood.games.screens.session.session import SessionPage
from musclewood.games.screens.session.workshop import WorkPage
from musclewood.games.workshops import workshops
from musclewood.profiles.errors import JournalError
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import CalibrationOrder, Practice
from musclewood.signal.sources.simulated import SimulatedSource

SEED = 7
STEP_S = 0.1  # of the calibration that nobody sees
LONGEST_S = 60.0
CURTAIN_S = 20.0  # a picture that is not painted by then is not waited for
CORNER = (24.0, 702.0)  # lower left, where no workshop writes


def try_out(around: Surroundings, model: FormModel, number: int, clock: Clock) -> Page:
    """The page of the try-out of one exercise, or one that says why there is none."""
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
        return TryOut(around, begun(alone(order, number), journal, clock), journal, folder)
    except (CommandError, JournalError) as error:
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


def _answer(play: Play, answers: Unattended) -> None:
    if (answer := answers.answer(play.session)) is not None:
        play.answer(answer)


class TryOut(SessionPage):
    """The session's pages with one more control: back to the desk. Enter and Escape choose it."""

    def __init__(self, around: Surroundings, play: Play, journal: Journal, folder: TemporaryDirectory[str]) -> None:
        super().__init__(around, nothing_ordered(lambda settings: None), play)
        self._journal, self._folder = journal, folder
        self._answers = Unattended()
        self._way_back = Box(0, 0, 0, 0)
        self._pointed = False

    def handle(self, intent: Intent) -> Transition | None:
        on_it = intent.at is not None and self._way_back.holds(intent.at)
        if intent.act is Act.POINT:
            self._pointed = on_it
        chooses = intent.act is Act.CHOOSE and self.over is None and not self.top.focus
        if (intent.act is Act.PRESS and on_it) or intent.act is Act.BACK or chooses:
            return self._leave()
        return super().handle(intent)

    def update(self, dt_s: float) -> Transition | None:
        if isinstance(self.inner, WorkPage) and not self.inner.picture_ready and self.time_s < CURTAIN_S:
            self.time_s += dt_s  # the simulated patient waits until there is something to see
            return None
        if self.over is None:
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
        words = self.theme.words
        back = tag(canvas, self.theme, "desk", words("desk.try.back"), icons.leaf_turn, first=True, width=460)
        back = back.moved(CORNER[0], CORNER[1] - back.box.height)
        self._way_back = back.box
        back.draw(canvas, self.theme)
        if self._pointed:
            desk_ring(canvas, self.theme, back.box)
