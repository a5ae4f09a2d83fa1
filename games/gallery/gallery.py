"""Every screen in its states, as pictures: for eyes, for tests, for the `gallery` command.

Nothing here is real: the patient, the plan and everything on the shelf are invented.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from copy import copy
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import cast

from musclewood.games.engine.endings import Outcome
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.rep_events import RepView, veiled
from musclewood.games.engine.session_events import CalibrationView, SessionStage, SessionView, SignalView
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.engine.teacher import ALIKE, CALL_AFTER, Teacher
from musclewood.games.gallery.attempts import an_evening, codes_of, told_of
from musclewood.games.gallery.evenings import EXERCISES, evening, moments_of
from musclewood.games.gallery.letters import KnownPost, letter_states
from musclewood.games.gallery.made_up import DAY, EVERYWHERE, HARDER, MUSCLES, PLAN, shelf, weeks_of_work
from musclewood.games.gallery.retest import retest_states
from musclewood.games.gallery.sensors import sensor_states
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.screens.aloud import Aloud
from musclewood.games.screens.base.day import Day, nothing_ordered
from musclewood.games.screens.base.how_it_went import HowItWentPage
from musclewood.games.screens.base.notice import NoticePage
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.base.shelf import ProductPage, ShelfPage
from musclewood.games.screens.session.between import BreakPage
from musclewood.games.screens.session.calibration import CalibrationPage
from musclewood.games.screens.session.overlays import after_pain, sensor_lost, stopped
from musclewood.games.screens.session.questions import ChoosePage, HurtsPage, ScalePage
from musclewood.games.screens.session.signal_check import SignalPage
from musclewood.games.screens.session.workshop import WorkPage
from musclewood.games.screens.session.wrap_up import WrapUpPage
from musclewood.games.screens.setup.pads import PadsPage
from musclewood.games.screens.setup.source import SourcePage
from musclewood.games.screens.village.cautions import PAGES as CAUTIONS
from musclewood.games.screens.village.cautions import CautionsPage
from musclewood.games.screens.village.hearing import HearingPage
from musclewood.games.screens.village.keys import KeysPage
from musclewood.games.screens.village.letters import LettersPage
from musclewood.games.screens.village.settings import SettingsPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.games.screens.village.who import WhoPage
from musclewood.games.workshops import Rules, fitting, workshops
from musclewood.profiles.home.pads import PadPlace, PadPlaces
from musclewood.profiles.plan.dose import DayPlan
from musclewood.profiles.plan.reasons import Reason
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.sensors.troubles import Trouble

Render = Callable[[Canvas], str]
Make = Callable[[Surroundings], Page]


@dataclass
class StillPlay:
    """Stands in for a session that has been stopped in time."""

    view: SessionView
    asked: str = "pain"
    made: list[Product] = field(default_factory=list)
    rules: Rules | None = None
    teacher: Teacher | None = None
    practice: bool = False
    tried: bool = True
    amplitude_uv: float = 20.0
    trouble: Trouble | None = None
    battery_low: bool = False

    @property
    def rep(self) -> RepView | None:
        return self.view.rep


# What is told of a calibration in which nothing was found, or nothing could be read.
IN_THE_WAY = (Remark.NO_SIGNAL, Remark.NOISY, Remark.UNQUIET, Remark.COARSE, Remark.MISPLACED, Remark.NOT_READABLE)


def gallery(settings: Settings | None = None) -> Iterator[tuple[str, Render]]:
    """(name, render) for each state of each screen.

    render draws onto a canvas of any size, waiting for every bake, and returns what is read aloud of it.
    """
    from musclewood.games.gallery.desk import desk_states  # the desk stands on these screens

    baked: dict[tuple[int, int], Backdrops] = {}
    for name, make in {**states(), **desk_states()}.items():
        yield name, renderer(make, settings or Settings(), baked)


def renderer(make: Make, settings: Settings, baked: dict[tuple[int, int], Backdrops]) -> Render:
    """Draws one page as it looks after three seconds, and gives its words; `baked` keeps scenery for the next."""

    def render(canvas: Canvas) -> str:
        backdrops = baked.setdefault(canvas.size, Backdrops(canvas.size, at_once=True))
        page = make(Surroundings(Theme(settings), backdrops))
        page.time_s = 3.0
        page.draw(canvas)
        if isinstance(page, WorkPage):
            page.settle()
            page.draw(canvas)
        said = Aloud().step(page.question().what, page.shown(), page.focus)
        return " ".join(one.text for one in said)

    return render


def states() -> dict[str, Make]:
    """How to make each page in each state that is worth seeing."""
    return {
        **_launcher(),
        **letter_states(),
        **_session(),
        **_workshop_phases(),
        **_told(),
        **_afterwards(),
        **retest_states(a_day),
        **sensor_states(a_day, _without_signal),
    }


def a_day(plan: DayPlan | None = PLAN, weeks: int = 0) -> Day:
    """Today of an invented patient; nothing can really begin."""

    def begin(kind: str) -> Play:
        raise ValueError(f"a picture cannot begin a session on {kind}")

    kinds = ("ble", "replay", "simulated", "keyboard")
    made = weeks_of_work(weeks) if weeks else shelf(30)
    return Day(plan, MUSCLES, kinds, begin, lambda settings: None, lambda: plan, made, True, weeks)


def _launcher() -> dict[str, Make]:
    rest, pain = (DayPlan(PLAN.day, (), (why,)) for why in (Reason.REST_DAY, Reason.PAIN))

    def read(number: int) -> Make:
        return lambda around: _with(CautionsPage(around, a_day()), number=number - 1, _read={number - 1})

    return {
        "hearing": lambda around: _with(HearingPage(around, True, lambda settings: None), focus="yes"),
        "hearing-no-voice": lambda around: HearingPage(around, False, lambda settings: None),
        "today": lambda around: TodayPage(around, a_day()),
        "today-summer": lambda around: TodayPage(around, a_day(EVERYWHERE, weeks=2)),
        "today-autumn": lambda around: TodayPage(around, a_day(EVERYWHERE, weeks=4)),
        "today-winter": lambda around: TodayPage(around, a_day(EVERYWHERE, weeks=6)),
        "today-week-12": lambda around: TodayPage(around, a_day(EVERYWHERE, weeks=12)),
        "today-closed-place": lambda around: _with(TodayPage(around, a_day()), focus="place:loom"),
        "today-shorter": lambda around: TodayPage(
            around,
            a_day(replace(PLAN, reasons=(Reason.SHORTER,))),
        ),
        "today-scaled": lambda around: TodayPage(around, a_day(replace(PLAN, scaling=(HARDER,)))),
        "today-rest": lambda around: TodayPage(around, a_day(rest)),
        "today-after-pain": lambda around: TodayPage(around, a_day(pain)),
        "today-nothing-ordered": lambda around: TodayPage(around, nothing_ordered(lambda settings: None)),
        "today-post": lambda around: TodayPage(around, _posted()),
        "today-post-stick": lambda around: TodayPage(around, _posted(stick=True)),
        "cautions": lambda around: CautionsPage(around, a_day()),
        **{f"cautions-{number}": read(number) for number in range(1, 1 + len(CAUTIONS))},
        "source": lambda around: SourcePage(around, a_day()),
        "pads": lambda around: PadsPage(around, a_day()),
        "pads-again": lambda around: PadsPage(around, replace(a_day(), pads=_lain())),
        "pads-second": lambda around: _with(PadsPage(around, a_day()), number=1),
        "settings": lambda around: SettingsPage(around, a_day()),
        "keys": KeysPage,
        "who": lambda around: WhoPage(around, ("HB-0104", "HB-0141")),
        "notice": lambda around: NoticePage(around, Trouble.NOT_FOUND.error),
    }


def _session() -> dict[str, Make]:
    choice = replace(PLAN.exercises[0], workshops=fitting("hold"))

    def signal(*verdicts: str, advice: tuple[str, ...] = (), may: bool = False) -> Play:
        return _still("signal", signal=SignalView((0, 1), verdicts, advice, may))

    loose = "contact"
    return {
        "comfort-by-muscle": lambda around: _with(
            ScalePage(_steered(around), _still("comfort"), "comfort.ask", "pain"), focus="3"
        ),
        "comfort-read-back": lambda around: _with(
            ScalePage(_steered(around), _still("comfort"), "comfort.ask", "pain"), pending=3, focus="again"
        ),
        "hurts-read-back": lambda around: _with(
            HurtsPage(_steered(around), _still("exercise")), pending=4, focus="yes"
        ),
        "hurts-by-muscle": lambda around: HurtsPage(_steered(around), _still("exercise")),
        "comfort": lambda around: ScalePage(around, _still("comfort"), "comfort.ask", "pain"),
        "signal-no-sensor": lambda around: SignalPage(around, _troubled(signal("", ""), Trouble.NOT_FOUND), MUSCLES),
        "signal-battery": lambda around: SignalPage(around, _low(signal("good", "good")), MUSCLES),
        "signal-good": lambda around: SignalPage(around, signal("good", "good"), MUSCLES),
        "signal-poor": lambda around: SignalPage(around, signal("fair", "poor", advice=(loose,), may=True), MUSCLES),
        "signal-by-muscle": lambda around: SignalPage(
            _steered(around), signal("fair", "poor", advice=(loose,), may=True), MUSCLES
        ),
        "calibration-rest": lambda around: _with(CalibrationPage(around, _calibrating("rest", 3.4)), _longest_s=6.0),
        "calibration-trial": lambda around: _aged(CalibrationPage(around, _calibrating("trial", 2.2))),
        "calibration-task": lambda around: _aged(
            CalibrationPage(around, _calibrating("trial", 6.0, "task leg-raised"))
        ),
        "calibration-comfortable": lambda around: _aged(
            CalibrationPage(around, _calibrating("trial", 6.0, "comfortable half"))
        ),
        "calibration-measured": lambda around: _aged(
            CalibrationPage(around, _calibrating("done", 0.0, "task leg-raised"))
        ),
        **{f"calibration-{note}": partial(_noted, note) for note in (Remark.FAINT, *IN_THE_WAY)},
        "calibration-pause": lambda around: _with(CalibrationPage(around, _calibrating("pause", 18)), _longest_s=30.0),
        "choose": lambda around: ChoosePage(around, _still("choose", exercise=choice)),
        "break": lambda around: _resting(around, left_s=46.0),
        "break-village": lambda around: _resting(around, left_s=24.0),
        "rating-effort": lambda around: ScalePage(around, _still("rating"), "rating.effort", "effort"),
        "hurts": lambda around: HurtsPage(around, _still("exercise")),
    }


def _workshop_phases() -> dict[str, Make]:
    def work(workshop: str, moment: str) -> Make:
        return lambda around: _with(WorkPage(around, _working(workshop, moment)), _rest_s=EXERCISES[workshop].rest_s)

    def closed(workshop: str) -> Make:
        """In the midst of an effort that is not seen."""

        def make(around: Surroundings) -> Page:
            play = cast(StillPlay, _working(workshop, "good"))
            assert play.view.rep is not None and play.rules is not None
            play.rules = copy(play.rules)
            play.rules.door = 1.0
            play.view = replace(play.view, rep=veiled(replace(play.view.rep, unseen=True)))
            return WorkPage(around, cast(Play, play))

        return make

    def over(lay: Callable[[Surroundings, Play, Page], Page]) -> Make:
        def make(around: Surroundings) -> Page:
            play = _working("kiln", "start")
            return lay(around, play, WorkPage(around, play))

        return make

    return {
        **{
            f"work-{workshop}-{moment.replace(' ', '-')}": work(workshop, moment)
            for workshop in workshops()
            for moment in moments_of(workshop)
        },
        **{f"door-{workshop}": closed(workshop) for workshop in workshops()},
        "stopped": over(stopped),
        "after-pain": over(after_pain),
        "stopped-by-muscle": over(lambda around, play, page: stopped(_steered(around), play, page)),
        "sensor-lost": _without_signal(None),
    }


def _told() -> dict[str, Make]:
    """What is told of an attempt: of every kind each verdict, its workshops in turn; and the
    help after several alike."""

    def told(workshop: str, code: str, alike: int = 1, *, unseen: bool = False) -> Make:
        def make(around: Surroundings) -> Page:
            play = cast(StillPlay, _working(workshop, "rest"))
            play.teacher, rep = told_of(EXERCISES[workshop].kind, code, alike=alike, unseen=unseen)
            play.view = replace(play.view, rep=rep)
            return WorkPage(around, cast(Play, play))

        return make

    each = [(kind, number, code) for kind in OF_KIND for number, code in enumerate(codes_of(kind))]
    in_turn = [(places[number % len(places)], code) for kind, number, code in each if (places := fitting(kind))]
    return {
        **{f"told-{workshop}-{code}": told(workshop, code) for workshop, code in in_turn},
        **{f"told-unseen-{code}": told("ropewalk", code, unseen=True) for code in ("good", "short")},
        **{
            f"help-{code}-{alike}": told("kiln", code, alike)
            for code in ("over", "rest")
            for alike in (ALIKE, CALL_AFTER)
        },
    }


def _without_signal(trouble: Trouble | None) -> Make:
    """A session that stands still because nothing comes from the sensor."""

    def make(around: Surroundings) -> Page:
        play = cast(StillPlay, _working("kiln", "start"))
        play.view, play.trouble = replace(play.view, paused="sensor"), trouble
        still = cast(Play, play)
        return sensor_lost(around, still, WorkPage(around, still))

    return make


def _afterwards() -> dict[str, Make]:
    def end(outcome: Outcome, count: int, *, low: bool = False) -> Make:
        def make(around: Surroundings) -> Page:
            play = cast(StillPlay, _still("finished", ending=outcome.ending, outcome=outcome, made=shelf(count)))
            play.view = replace(play.view, made=count, ordered=44)
            still = cast(Play, play)
            return WrapUpPage(around, a_day(), _low(still) if low else still)

        return make

    return {
        "wrap-up": end(Outcome("done"), 44),
        "wrap-up-post": lambda around: WrapUpPage(around, _posted(), cast(Play, _ended(shelf(9)))),
        "wrap-up-stopped": end(Outcome("patient"), 0),
        "wrap-up-nobody": end(Outcome("nobody"), 3),
        "wrap-up-no-maximum": end(Outcome("no-maximum", told=Remark.MISPLACED), 0),
        "wrap-up-hidden": end(Outcome("hidden", told=Remark.HIDDEN), 8),
        "wrap-up-pain": end(Outcome("pain-level", 6, 1, 5), 0),
        "wrap-up-pain-before": end(Outcome("pain-level", 6, 0, 5, "before"), 0),
        "wrap-up-pain-rise": end(Outcome("pain-rise", 4, 1, 3, "during"), 8),
        "wrap-up-pain-after": end(Outcome("pain-rise", 4, 1, 3, "after"), 44),
        "wrap-up-battery": end(Outcome("done"), 44, low=True),
        "shelf": lambda around: ShelfPage(around, shelf(30)),
        "shelf-empty": lambda around: ShelfPage(around, []),
        **_looked_back(),
        "product": lambda around: ProductPage(around, shelf(5), 0),
    }


def _looked_back() -> dict[str, Make]:
    """How it went: an exercise that went better than usual, one attempt of it, one that went worse, and nothing yet."""

    def page(**changes: object) -> Make:
        def make(around: Surroundings) -> Page:
            works = an_evening().works
            made = [(one.rep, work.workshop) for work in works for one in work.results if one.made]
            products = [product_of(rep, place, DAY, number) for number, (rep, place) in enumerate(made)]
            return _with(HowItWentPage(around, [an_evening()] * 3, products, number=1), **changes)

        return make

    return {
        "how-it-went": page(),
        "how-it-went-attempt": page(focus="rep:2"),
        "how-it-went-less": page(leaf=1),
        "how-it-went-first": page(leaf=2),
        "how-it-went-empty": lambda around: HowItWentPage(around, ()),
    }


def _posted(*, stick: bool = False) -> Day:
    """A day on a computer that knows where letters lie, and on which something waits."""
    day = a_day()
    post = day.post = KnownPost(stick)
    day.letters = lambda: LettersPage(Surroundings(Theme(Settings()), Backdrops((320, 180), at_once=True)), post)
    return day


def _ended(made: list[Product]) -> StillPlay:
    play = cast(StillPlay, _still("finished", ending="complete", outcome=Outcome("done"), made=made))
    play.view = replace(play.view, made=len(made), ordered=len(made))
    return play


def _steered(around: Surroundings) -> Surroundings:
    """With a sensor on, and a long contraction more than half done."""
    return replace(around, muscle_steers=True, muscle_ready=True, held_share=0.6)


def _resting(around: Surroundings, left_s: float) -> Page:
    """A break of a minute between two workshops."""
    page = _with(BreakPage(around, _still("break", left_s=left_s), a_day()), _longest_s=60.0)
    page.update(0.0)
    return page


def _with(page: Page, **changes: object) -> Page:
    for name, value in changes.items():
        setattr(page, name, value)
    return page


def _troubled(play: Play, trouble: Trouble) -> Play:
    return cast(Play, replace(cast(StillPlay, play), trouble=trouble))


def _low(play: Play) -> Play:
    """With a sensor that must soon be charged."""
    return cast(Play, replace(cast(StillPlay, play), battery_low=True))


def _aged(page: Page) -> Page:
    page.update(0.1)
    return page


def _still(stage: str, *, made: list[Product] | None = None, **changes: object) -> Play:
    view = SessionView(
        stage=cast(SessionStage, stage), time_s=60.0, paused=None, advice=None, exercise=PLAN.exercises[0],
        exercises=1, workshop="kiln", left_s=0.0,
    )  # fmt: skip
    return cast(Play, StillPlay(replace(view, **changes), made=made or []))  # type: ignore[arg-type]


class _Lain(PadPlaces):
    """Places that are only shown."""

    def keep(self, muscle: str, place: PadPlace) -> None:
        """A picture keeps nothing."""

    def of(self, muscle: str) -> PadPlace | None:
        return PadPlace(5, -10)


def _lain() -> PadPlaces:
    return _Lain(Path("nowhere.json"))


def _calibrating(phase: str, left_s: float, reference: str = "maximum", note: str | None = None) -> Play:
    trial = phase == "trial"
    view = CalibrationView(
        muscle="vastus-medialis-left", muscle_name="Vastus medialis", side="left", channel=0, number=1, total=2,
        phase=phase,
        left_s=left_s, trial_number=2, trials=3, best_uv=210.0 if phase != "rest" else 0.0,
        amplitude_uv=180.0 if trial else 4.0, contracting=trial and reference == "maximum", note=note,
        reference=reference,
    )  # fmt: skip
    return _still("calibration", calibration=view)


def _noted(note: Remark, around: Surroundings) -> Page:
    phase, left_s = ("rest", 6.0) if note == Remark.NOT_READABLE else ("pause", 18.0)
    return _with(CalibrationPage(around, _calibrating(phase, left_s, note=note)), _longest_s=30.0)


def _working(workshop: str, moment: str) -> Play:
    """A session in a workshop, stopped at a moment of `evenings.MOMENTS`."""
    seen = evening(workshop, moment)
    play = cast(StillPlay, _still("exercise", rep=seen.view, workshop=workshop, exercise=seen.exercise))
    play.rules = seen.rules
    return cast(Play, play)
