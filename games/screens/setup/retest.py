"""A test that the order repeats, at home: pads, pain, rest and trials, the pads moved, the same again."""

from collections.abc import Hashable

from musclewood.games.engine.session_events import CalibrationView
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.deliberate import MuscleChooser
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, button, in_rows, sentence, stacked
from musclewood.games.running.retesting import Retesting
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.bodies import Site, lay_place, site_of
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.notice import NoticePage
from musclewood.games.screens.base.pace import Pace
from musclewood.games.screens.base.page import WREN_ROOM, Home, Page, Replace, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH
from musclewood.games.screens.session.calibration import TrialsPage
from musclewood.games.screens.session.questions import PainPage
from musclewood.games.screens.setup.place import draw_place
from musclewood.games.workshops import SoundCue
from musclewood.profiles.errors import JournalError
from musclewood.signal.errors import SensorError

HEARD = {
    "ready": SoundCue("bell", 4),
    "let go": SoundCue("bell", 0),
    "rest": SoundCue("bell", 0),
    "done": SoundCue("phrase"),
}
PHASES = {"quiet": "rest", "ready": "trial", "squeeze": "trial", "let go": "pause", "rest": "pause"}


class PlacePage(Page):
    """Where the pads go now. Hands are there anyway, so no contraction says that they lie."""

    scene = BENCH
    careful = True
    closed_to_muscle = frozenset({"go on"})

    def __init__(self, around: Surroundings, day: Day, retest: Retesting) -> None:
        super().__init__(around)
        self.day, self.retest = day, retest

    def state(self) -> Hashable:
        return self.retest.shown.subjects

    def turned(self) -> Hashable:
        return self.retest.shown.subjects

    @property
    def site(self) -> Site | None:
        subjects = self.retest.shown.subjects
        return site_of(subjects[0].name, subjects[0].side) if subjects else None

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        subjects = self.retest.shown.subjects
        moved = bool(self.retest.exam.measured)
        head = sentence(
            canvas, theme, words("retest.move" if moved else "pads.title"), (40, 34), 590, Look(size=LARGE, bold=True)
        )
        told = [words("calibration.muscle", muscle=one.name, side=words(f"pads.side-{one.side}")) for one in subjects]
        ordered = next((one for one in self.day.muscles if subjects and one.name == subjects[0].name), None)
        hints = [words("pads.clean")]
        if ordered is not None:
            hints.insert(0, lay_place(ordered.placement, words.language) or ordered.placement)
        if len(subjects) > 1:
            hints.insert(0, words("retest.both"))
        slips = [sentence(canvas, theme, text, (0, 0), 570, Look(size=BODY, bold=True)) for text in told]
        slips += [sentence(canvas, theme, text, (0, 0), 570, Look(size=SMALL)) for text in hints]
        tags = [
            button(canvas, theme, "go on", words("pads.done"), first=True, icon=icons.arrow),
            button(canvas, theme, "stop", words("common.stop"), icon=icons.stop_sign),
        ]
        rows = in_rows(tags, 56, 0, 590, 22)
        lift = 700 - max(tag.box.bottom for tag in rows)
        rows = [tag.moved(tag.box.left, tag.box.top + lift) for tag in rows]
        placed = stacked(slips, 56, head.box.bottom + 18, 14)
        # Where letters are large, the last of it gives way: what is read out at the clinic and stands on the leaflet.
        room = min(tag.box.top for tag in rows) - WREN_ROOM
        return [*rows, head, *(one for one in placed if one.box.bottom <= room)]

    def paint(self, canvas: Canvas) -> None:
        draw_place(canvas, self.site)

    def chosen(self, key: str) -> Transition | None:
        self.retest.answer("go on")
        return None


class MeasuringPage(TrialsPage):
    """Rest and trials, as in every calibration."""

    def __init__(self, around: Surroundings, retest: Retesting) -> None:
        super().__init__(around)
        self.retest = retest

    @property
    def seen(self) -> CalibrationView | None:
        shown = self.retest.shown
        if shown.doing not in PHASES:
            return None
        subject = shown.subjects[0] if shown.subjects else None
        return CalibrationView(
            muscle=subject.muscle if subject else "",
            muscle_name=subject.name if subject else "",
            channel=subject.channel if subject else 0,
            side=subject.side if subject else "left",
            number=1,
            total=1,
            phase=PHASES[shown.doing],
            left_s=shown.left_s,
            trial_number=shown.number,
            trials=shown.of,
            best_uv=shown.best_uv,
            amplitude_uv=shown.amplitude_uv,
            contracting=shown.doing == "squeeze",
            note=shown.note,
        )


class HaltPage(Page):
    """It stands still: go on, say that it hurts, or end. Only a hand goes on."""

    scene = BENCH
    eager = False
    careful = True
    closed_to_muscle = frozenset({"go-on"})

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words("pause.title"), (260, 130), 760, Look(size=LARGE, bold=True))
        tags = [
            button(canvas, theme, "go-on", words("common.go-on"), first=True, icon=icons.arrow, width=700),
            button(canvas, theme, "hurts", words("common.hurts"), icon=icons.plaster, width=700),
            button(canvas, theme, "end", words("retest.end"), icon=icons.door, width=700),
        ]
        return [*stacked(tags, 260, head.box.bottom + WREN_ROOM, 26, alike=True), head]

    def chosen(self, key: str) -> Transition | None:
        return None


class RetestPage(Page):
    """One entry on the stack for the whole test, so that nothing can be left half open."""

    under_way = True

    def __init__(self, around: Surroundings, day: Day, retest: Retesting) -> None:
        super().__init__(around)
        self.day, self.retest = day, retest
        self._chooser = MuscleChooser()
        self._doing = ""
        self.halted: HaltPage | None = None
        retest.begin()
        self.inner = self._page_of_now()

    @property
    def top(self) -> Page:
        """The page that is answered now."""
        return self.halted or self.inner

    @property
    def pace(self) -> Pace:
        return self.top.pace

    def build(self, canvas: Canvas) -> list[Widget]:
        return self.top.lay_out(canvas)

    def choices(self) -> list[Widget]:
        return self.top.choices()

    # -- intents

    def handle(self, intent: Intent) -> Transition | None:
        """Stop and 'it hurts' work at any time; everything else belongs to the page on top."""
        if intent.act in (Act.STOP, Act.PAUSE) or (intent.act is Act.BACK and self.halted is None):
            self._halt()
        elif intent.act is Act.HURTS:
            self.chosen("hurts")
        else:
            before, key = self.top, self._chosen_by(intent)
            if key in ("stop", "hurts", "go-on", "end") and self.top.weighed(intent, key):
                self.chosen(key)
            elif self.top is before:
                self.top.handle(intent)
        return self._follow()

    def _chosen_by(self, intent: Intent) -> str:
        if intent.act is Act.PRESS and intent.at:
            at = intent.at
            return next((one.key for one in reversed(self.choices()) if one.box.holds(at)), "")
        if intent.act is Act.BACK:
            return "go-on"
        return self.top.focus if intent.act is Act.CHOOSE else ""

    def chosen(self, key: str) -> Transition | None:
        """The controls that are always there, and those of the halt."""
        if key == "stop":
            self._halt()
        elif key == "hurts":
            self.halted = None
            self.retest.hurts()
        elif key == "end":
            self.halted = None
            self.retest.stop()
        elif key == "go-on":
            self.halted = None
        return None

    def _halt(self) -> None:
        self.around.speaker.hush()
        if self.halted is None:
            self.halted = HaltPage(self.around)

    # -- time

    def update(self, dt_s: float) -> Transition | None:
        try:
            self.retest.advance(dt_s, halted=self.halted is not None)
        except (SensorError, JournalError) as error:
            self.close()
            self.day.refresh()
            return Replace(NoticePage(self.around, error))
        self._hear()
        self._listen(dt_s)
        self.top.update(dt_s)
        super().update(dt_s)
        return self._follow()

    def _hear(self) -> None:
        doing = self.retest.shown.doing
        if doing != self._doing:
            self._doing = doing
            if doing in HEARD:
                self.around.speaker.play(HEARD[doing])

    def _listen(self, dt_s: float) -> None:
        """Let a contraction answer about pain, for those who asked for it; nothing else here is asked of it."""
        asks = self.retest.shown.doing == "pain" or self.halted is not None
        steers = self.theme.settings.muscle_leads and asks and not self.retest.practice
        self.around.muscle_steers = steers
        last = self.retest.last
        if not steers:
            self._chooser.forget()
        else:
            for intent in self._chooser.step(self.top.question(), bool(last and any(last.contracting)), dt_s):
                self.handle(intent)
        self.around.held_share, self.around.muscle_ready = self._chooser.held_share, self._chooser.read

    def _follow(self) -> Transition | None:
        if self.retest.ending is not None:
            self.close()
            self.day.refresh()
            self.around.muscle_steers, self.around.muscle_ready, self.around.held_share = False, False, 0.0
            return Replace(RetestOverPage(self.around, self.retest))
        wanted = self._page_of_now()
        if type(wanted) is not type(self.inner):
            self.inner = wanted
        return None

    def _page_of_now(self) -> Page:
        doing = self.retest.shown.doing
        if doing == "place":
            return PlacePage(self.around, self.day, self.retest)
        if doing == "pain":
            return PainPage(self.around, self.retest.answer)
        return MeasuringPage(self.around, self.retest)

    def close(self) -> None:
        """End whatever is open."""
        self.retest.close()

    def draw(self, canvas: Canvas) -> None:
        self.top.draw(canvas)


class RetestOverPage(Page):
    """How it ended, and home, where the exercises wait."""

    scene = BENCH

    def __init__(self, around: Surroundings, retest: Retesting) -> None:
        super().__init__(around)
        self.ending = retest.ending or "stopped"
        self.failed = retest.exam.ended == "failed"

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        key = "failed" if self.failed else self.ending if self.ending in ("complete", "pain", "sensor") else "stopped"
        head = sentence(canvas, theme, words(f"retest.{key}"), (40, 34), 860, Look(size=LARGE, bold=True))
        hint = sentence(canvas, theme, words(f"retest.{key}-hint"), (56, head.box.bottom + 14), 820, Look(size=BODY))
        home = button(canvas, theme, "home", words("wrap.home"), first=True, icon=icons.arrow)
        return [home.moved(56, bottom_of([hint]) + WREN_ROOM), head, hint]

    def chosen(self, key: str) -> Transition | None:
        return Home()

    def back(self) -> Transition | None:
        return Home()
