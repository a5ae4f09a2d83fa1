"""What is known is not asked, and a page that waits goes on by itself, unless somebody wants to stay."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, cast

import pytest
from bleak.backends.device import BLEDevice
from musclewood.games.gallery.gallery import a_day
from musclewood.games.home.own_sensors import OwnSensors
from musclewood.games.home.post import Post
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.running.listener import Heard
from musclewood.games.screens.base.page import Page, Push, Surroundings
from musclewood.games.screens.base.play import Attentive
from musclewood.games.screens.session.questions import PainPage
from musclewood.games.screens.session.session import SessionPage
from musclewood.games.screens.setup.pads import PadsPage
from musclewood.games.screens.setup.sensors import SensorsPage
from musclewood.games.screens.setup.source import SourcePage
from musclewood.games.screens.village.cautions import CautionsPage
from musclewood.games.screens.village.letters import LettersPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.signal.errors import SensorError
from musclewood.signal.quality.quality import Quality, Verdict
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sensors.scanning import FoundSensor

Place = Callable[..., Surroundings]
Sheet = Callable[..., Canvas]


class Sensors:
    """A home with a description and without a memory; nothing is scanned."""

    usable = known_sensors().sensors
    worn = None

    def is_worn(self, sensor: FoundSensor) -> bool:
        return False

    def in_order(self, found: tuple[FoundSensor, ...]) -> list[FoundSensor]:
        return list(found)

    def choose(self, sensor: FoundSensor) -> None: ...
    def refresh(self) -> None: ...


class Ear:
    """Stands for a sensor that is listened to: one verdict a second for both channels."""

    def __init__(self, verdict: Verdict = "good") -> None:
        self.verdict, self.opened, self.closed, self._left_s = verdict, False, False, 0.0
        self.source = self

    def start(self) -> None:
        self.opened = True

    def poll(self, elapsed_s: float) -> Heard:
        self._left_s += elapsed_s
        if self._left_s < 1.0:
            return Heard((), ())
        self._left_s -= 1.0
        return Heard((), (Quality(0.0, (self.verdict,) * 2, ((), ()), ()),))

    def close(self) -> None:
        self.closed = True


def near(address: str, strength_dbm: int = -55) -> FoundSensor:
    return FoundSensor(known_sensors().sensors[0], address, f"MW {address}", strength_dbm, cast(BLEDevice, None))


def choosing(around: Surroundings, *found: FoundSensor, other: Callable[[], Page] | None = None) -> SensorsPage:
    day = a_day()
    day.sensors = cast(OwnSensors, Sensors())
    page = SensorsPage(around, day, other)
    page.found, page._idle_s = found, -1e9
    return page


def after(page: Page, sheet: Canvas, seconds: float) -> object:
    """The first page that comes by itself, if any."""
    for _ in range(round(10 * seconds)):
        page.lay_out(sheet)
        if (done := page.update(0.1)) is not None:
            return done
    return None


def test_the_only_sensor_near_is_taken_and_no_other(around: Place, canvas: Sheet) -> None:
    sheet, place = canvas(1280, 720), around()
    done = after(choosing(place, near("A")), sheet, 20.0)
    assert isinstance(done, Push) and isinstance(done.page, PadsPage)
    assert after(choosing(place, near("A", -90)), sheet, 20.0) is None, "one far away may be a neighbour's"
    assert after(choosing(place, near("A"), near("B")), sheet, 20.0) is None
    assert after(choosing(place), sheet, 20.0) is None


def test_whoever_stays_chooses_and_a_pointer_that_is_on_something_else_is_waited_for(
    around: Place, canvas: Sheet
) -> None:
    sheet = canvas(1280, 720)
    page = choosing(around(), near("A"))
    page.lay_out(sheet)
    page.goes_on.step(1.0, ready=True)
    spots = {widget.key: widget.box.centre for widget in page.choices()}
    page.handle(Intent(Act.POINT, "pointer", spots["back"]))
    assert after(page, sheet, 20.0) is None
    page.handle(Intent(Act.POINT, "pointer", (1200.0, 300.0)))
    assert after(page, sheet, 20.0) is not None
    stays = choosing(around(), near("A"))
    stays.lay_out(sheet)
    stays.handle(Intent(Act.PRESS, "pointer", spots["stay"]))
    assert after(stays, sheet, 20.0) is None and "stay" not in {widget.key for widget in stays.choices()}


def test_practice_without_a_sensor_is_one_choice_away(around: Place, canvas: Sheet) -> None:
    place, day = around(), a_day()
    day.sensors = cast(OwnSensors, Sensors())
    today = TodayPage(place, day)
    cautions = today._way_in()
    assert isinstance(cautions, CautionsPage), "they come first where they were not confirmed"
    onward = cautions.onward
    assert isinstance(onward, SensorsPage)
    onward._idle_s = -1e9
    onward.lay_out(canvas(1280, 720))
    pushed = onward.chosen("other")
    assert isinstance(pushed, Push) and isinstance(pushed.page, SourcePage)


def pads(around: Surroundings, ear: Ear) -> PadsPage:
    day = a_day()
    day.sensors = cast(OwnSensors, Sensors())
    page = PadsPage(around, day)
    page.heard._hear = lambda: cast(Attentive, ear)
    return page


def test_the_pads_page_goes_on_once_it_was_read_and_the_signal_is_clear(
    around: Place, canvas: Sheet, monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet, ear = canvas(1280, 720), Ear()
    page, begun = pads(around(), ear), []
    monkeypatch.setattr("musclewood.games.screens.setup.pads.begin", lambda *_: begun.append(ear.closed))
    words = sum(len(line.split()) for widget in page.lay_out(sheet) for line in widget.lines)
    after(page, sheet, 60 * words / 175)
    assert page.number == 0, "a slow reader is given time, 175 words a minute (Brysbaert 2019)"
    after(page, sheet, 60.0)
    assert page.number == len(page.day.muscles) - 1 and begun[0], "and the sensor is free for the session"


@pytest.mark.parametrize("why", ["poor", "stays", "moves", "turns back", "fails"])
def test_the_pads_page_stays(around: Place, canvas: Sheet, why: str) -> None:
    sheet, ear = canvas(1280, 720), Ear("poor" if why == "poor" else "good")
    page = pads(around(), ear)
    if why == "fails":
        ear.poll = lambda elapsed_s: (_ for _ in ()).throw(SensorError("gone"))  # type: ignore[method-assign, assignment]
    if why in ("stays", "moves"):
        while not page.goes_on.begun:
            page.lay_out(sheet)
            page.update(0.1)
        page.lay_out(sheet)
        spot = next(widget.box.centre for widget in page.choices() if widget.key == "stay")
        page.handle(Intent(Act.PRESS, "pointer", spot) if why == "stays" else Intent(Act.NEXT))
    if why == "turns back":
        page.number = 1
        page.handle(Intent(Act.BACK))
    assert after(page, sheet, 60.0) is None and page.number == 0 and not page.goes_on.begun
    assert ear.opened and (why != "fails" or ear.closed)
    page.close()
    assert ear.closed


def test_begin_leads_where_the_village_asks_and_a_lit_house_to_itself(launcher: Callable[..., Any]) -> None:
    village = launcher()
    day, today = village.day, village.app.top
    places = ("kiln", "ropewalk")
    day.plan = replace(day.plan, exercises=(replace(day.plan.exercises[0], workshops=places),))
    assert day.first_place == "kiln"
    today.chosen("begin")
    assert day.wanted == "kiln"
    today.chosen("place:ropewalk")
    assert day.wanted == "ropewalk"
    day.shelf.append(a_day().shelf[0])
    made = day.shelf[0].workshop
    assert day.first_place == next(place for place in places if place != made)
    village.source = None
    page = SessionPage(village.app.around, day, day.begin("ble"))
    answered: list[object] = []
    page.play.answer = answered.append  # type: ignore[method-assign]
    page.play.view = replace(page.play.view, stage="choose", exercise=day.plan.exercises[0])
    page._go_where_wanted()
    page._go_where_wanted()
    assert answered == ["ropewalk"] and day.wanted == "", "once; what comes later is asked"
    page.play.close()


def test_what_came_with_the_letter_begins_at_once(launcher: Callable[..., Any]) -> None:
    village = launcher()
    letters = LettersPage(village.app.around, cast(Post, _Waiting()))
    letters.chosen("begin")
    assert letters.post.begins
    village.app.go_in()
    assert isinstance(village.app.top, CautionsPage)
    village.day.plan = replace(village.day.plan, exercises=())
    village.app.stack[1:] = []
    village.app.go_in()
    assert isinstance(village.app.top, TodayPage), "a day that asks for nothing begins on Today"


class _Waiting:
    changed, begins, waiting, stick = True, False, 0, None

    def look(self) -> None: ...


def test_a_number_that_is_typed_is_only_looked_at(around: Place, canvas: Sheet) -> None:
    answers: list[int] = []
    page = PainPage(around(), answers.append)
    page.lay_out(canvas(1280, 720))
    page.update(1.0)
    for typed, focus in ((7, "7"), (1, "1"), (0, "10"), (0, "0"), (3, "3")):
        page.handle(Intent(Act.DIGIT, channel=typed))
        assert page.focus == focus and not answers
    page.handle(Intent(Act.CHOOSE))
    assert answers == [3]
