"""A session on screen: shows the page of its stage, and lays a page over it when it stands still."""

import math

from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.deliberate import MuscleChooser, counts
from musclewood.games.kit.kept import sweep
from musclewood.games.kit.widgets import Widget
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.notice import NoticePage
from musclewood.games.screens.base.pace import LIVELY, Pace
from musclewood.games.screens.base.page import Page, Replace, Surroundings, Transition
from musclewood.games.screens.base.play import ANSWERING, Play
from musclewood.games.screens.session.ahead import Pictures
from musclewood.games.screens.session.between import BreakPage
from musclewood.games.screens.session.calibration import CalibrationPage
from musclewood.games.screens.session.overlays import OverPage, after_pain, sensor_lost, stopped
from musclewood.games.screens.session.questions import ChoosePage, HurtsPage, ScalePage
from musclewood.games.screens.session.signal_check import SignalPage
from musclewood.games.screens.session.workshop import WorkPage
from musclewood.games.screens.session.wrap_up import WrapUpPage
from musclewood.games.workshops import SILENT, SoundCue, workshops
from musclewood.profiles.errors import JournalError
from musclewood.signal.errors import SensorError

BEFORE_WORK = ("comfort", "signal", "calibration", "choose", "break")  # an exercise comes next


class SessionPage(Page):
    """One entry on the stack for the whole session, so that nothing can be left half open."""

    under_way = True

    def __init__(self, around: Surroundings, day: Day, play: Play) -> None:
        super().__init__(around)
        self.day, self.play = day, play
        self._chooser = MuscleChooser()
        self._voiced = ""
        self._pictures = Pictures(around)
        self._trial = False
        self._wrap_up: WrapUpPage | None = None
        self._stage = (play.view.stage, play.asked)
        self.inner = self._page_of_stage()
        self.over: OverPage | HurtsPage | None = None

    @property
    def top(self) -> Page:
        """The page that is answered now."""
        return self.over or self.inner

    @property
    def spoken_page(self) -> Page:
        return self.top

    def close(self) -> None:
        self.play.close()

    @property
    def pace(self) -> Pace:
        return self.top.pace

    @property
    def wants_effort(self) -> bool:
        """Whether keys stand in for the muscle: then they never choose, as a muscle at work does not."""
        asked = self.over is not None or self.play.view.stage in ANSWERING
        return self.play.by_hand and not (asked and self.theme.settings.one_switch)

    def build(self, canvas: Canvas) -> list[Widget]:
        return self.top.lay_out(canvas)

    def choices(self) -> list[Widget]:
        return self.top.choices()

    def chosen(self, key: str) -> Transition | None:
        """'stop' and 'hurts' are answered here, whatever the page; all else by the page itself."""
        return self.handle(Intent(Act.STOP if key == "stop" else Act.HURTS))

    # -- intents
    def handle(self, intent: Intent) -> Transition | None:
        """Stop and 'it hurts' work at any time; everything else belongs to the page on top."""
        if intent.act is Act.EFFORT:
            self.play.effort(intent.channel, intent.level)
        elif intent.act in (Act.STOP, Act.PAUSE, Act.HURTS):
            self._stand_still(intent.act)
        elif intent.act is Act.BACK and self.over is None:
            self._stand_still(Act.STOP)
        elif (key := self._control_of(intent)) in ("stop", "hurts") and counts(
            intent, self.top.question(), math.inf, key
        ):
            return self.chosen(key)
        else:
            self.top.handle(intent)
        return self._follow()

    def _control_of(self, intent: Intent) -> str:
        """The session control that this intent chooses, '' if none."""
        if intent.act is Act.PRESS and intent.at:
            return next((w.key for w in reversed(self.choices()) if w.box.holds(intent.at)), "")
        return self.top.focus if intent.act is Act.CHOOSE else ""

    def _stand_still(self, act: Act) -> None:
        if isinstance(self.over, HurtsPage) or self.play.view.stage == "finished":
            return
        self.play.pause()
        self.around.speaker.hush()
        if act is Act.HURTS:
            self.over = HurtsPage(self.around, self.play)
        else:
            self.over = stopped(self.around, self.play, self.inner)

    # -- time
    def update(self, dt_s: float) -> Transition | None:
        try:
            self.play.advance(dt_s)
        except SensorError:
            self.play.look_again()  # the session has closed itself and says so at the end
        except JournalError as error:
            return Replace(NoticePage(self.around, error))
        self.around.muscle_steers = (
            self.theme.settings.muscle_leads and self.play.muscle_chooses and not self.play.ending
        )
        self._go_where_wanted()
        self._sound()
        self._listen(dt_s)
        self.top.update(dt_s)
        super().update(dt_s)
        return self._follow()

    def _go_where_wanted(self) -> None:
        """Nobody is asked again which workshop it shall be after saying so in the village."""
        exercise = self.play.view.exercise
        if self.day.wanted and self.play.view.stage == "choose" and exercise and not self.play.view.paused:
            wanted, self.day.wanted = self.day.wanted, ""
            if wanted in exercise.workshops:
                self.play.answer(wanted)

    def _sound(self) -> None:
        """The workshop's voices, and the tone of effort."""
        speaker, name = self.around.speaker, self.play.view.workshop
        if name and name != self._voiced and name in workshops():
            speaker.learn(workshops()[name].voices())
            self._voiced = name
        for cue in self.play.take_cues():
            speaker.play(cue)
        speaker.drone(self.play.drone)
        calibration = self.play.view.calibration
        trial = calibration is not None and calibration.phase == "trial" and not self.play.view.paused
        if trial != self._trial:
            self._trial = trial
            speaker.play(SoundCue("begin" if trial else "let_go"))

    def _listen(self, dt_s: float) -> None:
        """Let a contraction move on or choose, if the reader wants that and nothing else is asked of the muscle."""
        if not self.around.muscle_steers:
            self._chooser.forget()
        else:
            for intent in self._chooser.step(self.top.question(), self.play.contracting, dt_s):
                self.handle(intent)
        self.around.held_share, self.around.muscle_ready = self._chooser.held_share, self._chooser.read

    def _follow(self) -> Transition | None:
        """Show what the session is at now."""
        view = self.play.view
        if self.play.ending:
            self._stand_over()
            return None
        if view.stage == "finished":
            self.around.muscle_steers, self.around.muscle_ready, self.around.held_share = False, False, 0.0
            self.play.close()
            self.around.speaker.drone(SILENT)
            # Once: it puts what was made on the shelf, and a muscle's answer comes here twice in one frame.
            self._wrap_up = self._wrap_up or WrapUpPage(self.around, self.day, self.play)
            return Replace(self._wrap_up)
        if (view.stage, self.play.asked) != self._stage:
            self._stage = (view.stage, self.play.asked)
            worked = isinstance(self.inner, WorkPage)
            self.inner = self._page_of_stage()
            now = self.play.view.workshop
            self._pictures.keep((now,) if now and isinstance(self.inner, WorkPage) else self._next_places())
            if worked:  # a workshop's pictures name one another; nothing moves now that could stumble over the sweeping
                sweep()
        self._stand_over()
        return None

    def _stand_over(self) -> None:
        """Lay a page over this one while the session stands still, and take it away when that is past."""
        paused = self.play.view.paused
        if self.over and (self.over.closed or self._over_is_past()):
            self.over = self._still_to_be_undone(self.over)
        if self.over is None and paused:
            make = {"patient": stopped, "pain": after_pain, "sensor": sensor_lost}[paused]
            self.over = make(self.around, self.play, self.inner)

    def _still_to_be_undone(self, over: OverPage | HurtsPage) -> OverPage | None:
        """What stays over a question after 'it hurts': a session that waits is not paused, and
        yet only a hand goes on."""
        if not isinstance(over, HurtsPage) or self.play.view.paused or self.play.ending:
            return None
        return (after_pain if over.told_pain else stopped)(self.around, self.play, self.inner)

    def _over_is_past(self) -> bool:
        """Whether the sensor speaks again although a page still says that it is silent."""
        return isinstance(self.over, OverPage) and self.over.title == "lost.title" and self.play.view.paused is None

    def _page_of_stage(self) -> Page:
        around, play = self.around, self.play
        match play.view.stage:
            case "comfort":
                return ScalePage(around, play, "comfort.ask", "pain")
            case "signal":
                return SignalPage(around, play, self.day.muscles)
            case "calibration":
                return CalibrationPage(around, play)
            case "choose":
                return ChoosePage(around, play, self.day.season)
            case "rating":
                return ScalePage(around, play, f"rating.{play.asked}", play.asked)
            case "break":
                return BreakPage(around, play, self.day)
            case _:
                return WorkPage(around, play, self._pictures)

    # -- drawing
    def draw(self, canvas: Canvas) -> None:
        if self.play.view.stage in BEFORE_WORK and not self.play.ending:
            self._pictures.ahead(self._next_places(), canvas, free=self.top.pace is not LIVELY)
        self.top.draw(canvas)

    def _next_places(self) -> tuple[str, ...]:
        """The workshops of which the next exercise is done in one."""
        exercise = self.play.view.exercise
        return exercise.workshops if exercise else ()
