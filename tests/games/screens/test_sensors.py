"""Choosing a sensor: what is near, what is in the way, which was worn last, and what to do without a description."""

from __future__ import annotations

import shutil
import sys
import time
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from bleak.backends.device import BLEDevice
from musclewood.games.commands.launcher import supplies
from musclewood.games.gallery.gallery import a_day, states
from musclewood.games.home.own_sensors import OwnSensors
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.page import Page, Push, Replace, Surroundings
from musclewood.games.screens.setup.alike import AlikePage
from musclewood.games.screens.setup.pads import PadsPage
from musclewood.games.screens.setup.sensors import SensorFilePage, SensorsPage, strength_of
from musclewood.games.screens.setup.source import SourcePage
from musclewood.profiles.home.homes import Home
from musclewood.signal.sensors.scanning import FoundSensor, ScanResult
from musclewood.signal.sensors.troubles import Trouble
from musclewood.signal.sources.ble import BleSource
from musclewood.signal.stream.blocks import Block

SHIPPED = Path(__file__).parents[3] / "assets" / "sensors"


@pytest.fixture
def home(own_home: Path) -> Home:
    home = Home(own_home)
    home.create()
    return home


@pytest.fixture
def sensors(home: Home) -> OwnSensors:
    """With one description in the folder, and a scan that a test answers."""
    folder = home.root / "sensors"
    folder.mkdir(exist_ok=True)
    shutil.copy(SHIPPED / "two-channel-raw.toml", folder / "mine.toml")
    return OwnSensors(home, channels=2)


def day_with(sensors: OwnSensors) -> Day:
    day = a_day()
    day.sensors = sensors
    return day


def found(sensors: OwnSensors, address: str, name: str, strength_dbm: int) -> FoundSensor:
    return FoundSensor(sensors.usable[0], address, name, strength_dbm, cast(BLEDevice, None))


def hearing(sensors: OwnSensors, monkeypatch: pytest.MonkeyPatch, *results: ScanResult) -> None:
    """The next scans end at once, with these results; those after them never do."""
    left = list(results)

    def look_around() -> Future[ScanResult]:
        future: Future[ScanResult] = Future()
        if left:
            future.set_result(left.pop(0))
        return future

    monkeypatch.setattr(sensors, "look_around", look_around)


def words_on(page: Any, canvas: Callable[[int, int], Canvas]) -> list[str]:
    return [" ".join(widget.lines) for widget in page.lay_out(canvas(1280, 720)) if widget.lines]


def test_the_nearest_first_and_how_near(
    sensors: OwnSensors, around: Callable[..., Surroundings], canvas: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    strong, weak = found(sensors, "A", "MW-Duo 0001", -50), found(sensors, "B", "MW-Duo 0002", -85)
    hearing(sensors, monkeypatch, ScanResult((strong, weak), None))
    page = SensorsPage(around(), day_with(sensors))
    assert words_on(page, canvas)[-2:] == ["Looking for your sensor.", "Is it on, charged and near?"]
    page.update(0.02)
    page.update(0.02)
    assert [text for text in words_on(page, canvas) if "MW" in text] == ["MW-Duo 0001 close by", "MW-Duo 0002 far away"]
    assert page.focus == "A"


@pytest.mark.parametrize("by", ["keyboard", "pointer"])
def test_choosing_leads_to_the_pads_and_is_remembered(
    sensors: OwnSensors, home: Home, around: Callable[..., Surroundings], canvas: Any, by: str
) -> None:
    page = SensorsPage(around(), day_with(sensors))
    page.found = (found(sensors, "A", "MW-Duo 0001", -50), found(sensors, "B", "MW-Duo 0002", -85))
    words_on(page, canvas)
    if by == "keyboard":
        page.handle(Intent(Act.NEXT))
        answer = page.handle(Intent(Act.CHOOSE))
    else:
        second = next(widget for widget in page.choices() if widget.key == "B")
        answer = page.handle(Intent(Act.PRESS, at=second.box.centre))
    assert isinstance(answer, Push) and isinstance(answer.page, PadsPage)
    again = OwnSensors(home, channels=2)
    assert again.worn is not None and (again.worn.sensor, again.worn.address) == ("mine", "B")
    assert [sensor.address for sensor in again.in_order(page.found)] == ["B", "A"]
    source = again.source()
    assert isinstance(source, BleSource) and source.description.id == "mine" and source._link._address == "B"
    (home.root / "sensor.toml").write_text("broken [")
    assert OwnSensors(home, channels=2).worn is None


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_thing_in_the_way_has_its_own_words(
    sensors: OwnSensors, around: Callable[..., Surroundings], canvas: Any, monkeypatch: Any, language: str
) -> None:
    from musclewood.games.kit.settings import Settings

    said = set()
    for trouble in Trouble:
        hearing(sensors, monkeypatch, ScanResult((), trouble))
        page = SensorsPage(around(Settings(language=language)), day_with(sensors))
        page.update(0.02)
        page.update(0.02)
        words = words_on(page, canvas)
        assert Words(language)(f"trouble.{trouble.value}") in words
        by_system = trouble is Trouble.NO_PERMISSION and sys.platform == "linux"
        assert Words(language)(f"trouble-advice.{trouble.value}" + ("-linux" if by_system else "")) in words
        said.add(tuple(words))
    assert len(said) == len(Trouble)


def test_the_sentences_of_troubles_differ_and_can_be_read_aloud() -> None:
    for language in LANGUAGES:
        words = Words(language)
        assert len({words(f"trouble.{trouble.value}") for trouble in Trouble}) == len(Trouble)
        for key in (f"{table}.{trouble.value}" for table in ("trouble", "trouble-advice") for trouble in Trouble):
            assert words(key)[-1] in ".?" and len(words(key).split()) <= 8, key


def test_it_looks_again_by_itself(
    sensors: OwnSensors, around: Callable[..., Surroundings], canvas: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bluetooth is switched on, the sensor too: nobody has to press anything."""
    one = ScanResult((found(sensors, "A", "MW-Duo 0001", -70),), None)
    hearing(sensors, monkeypatch, ScanResult((), Trouble.SWITCHED_OFF), ScanResult((), Trouble.NOT_FOUND), one)
    page = SensorsPage(around(), day_with(sensors))
    told = []
    for _ in range(200):
        page.update(0.02)
        told.append(page.trouble)
    assert list(dict.fromkeys(told)) == [None, Trouble.SWITCHED_OFF, Trouble.NOT_FOUND]
    assert page.trouble is None and [sensor.address for sensor in page.found] == ["A"]


def test_without_a_description_it_says_where_to_put_one(
    home: Home, around: Callable[..., Surroundings], canvas: Any, order: Callable[..., Any]
) -> None:
    sensors = OwnSensors(home, channels=1)
    assert "ble" in supplies(order(), sensors) and sensors.usable == ()
    day = day_with(sensors)
    cards = SourcePage(around(), day)
    assert "Your sensor needs its file." in words_on(cards, canvas)
    pushed = cards.chosen("ble")
    assert isinstance(pushed, Push) and isinstance(pushed.page, SensorFilePage)
    page = pushed.page
    assert str(sensors.folder).split("/")[-1] in " ".join(words_on(page, canvas)) and sensors.folder.is_dir()
    assert page.chosen("look") is None
    assert "There is no file in the folder yet." in words_on(page, canvas)
    (sensors.folder / "mine.toml").write_text("name = 1")
    assert page.chosen("look") is None
    assert any(text.startswith("mine.toml has mistakes.") for text in words_on(page, canvas))
    shutil.copy(SHIPPED / "one-channel-envelope.toml", sensors.folder / "mine.toml")
    answer = page.chosen("look")
    assert isinstance(answer, Replace) and isinstance(answer.page, SensorsPage)
    few = OwnSensors(home, channels=2)
    assert few.usable == () and few.too_few
    assert "This sensor has too few channels for your plan." in words_on(
        SensorFilePage(around(), day_with(few)), canvas
    )


def test_strength_is_told_in_three_steps(sensors: OwnSensors) -> None:
    steps = [strength_of(found(sensors, "A", "MW", dbm)) for dbm in (-30, -60, -61, -78, -79, -100)]
    assert steps == [3, 3, 2, 2, 1, 1]


def test_a_real_scan_runs_beside_the_screen(
    sensors: OwnSensors, around: Callable[..., Surroundings], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Without any Bluetooth service: the page never waits, and then says so."""
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/nothing")
    page = SensorsPage(around(), day_with(sensors))
    limit_s = time.monotonic() + 20.0
    while page.trouble is None and time.monotonic() < limit_s:
        page.update(0.02)
        time.sleep(0.01)
    assert page.trouble is not None


def test_while_it_looks_no_key_leads_back(around: Callable[..., Surroundings], canvas: Callable[..., Canvas]) -> None:
    page = states()["sensors-looking"](around())
    page.lay_out(canvas(1280, 720))
    assert page.focus == ""
    assert page.handle(Intent(Act.CHOOSE)) is None


def test_the_sensor_of_last_time_is_chosen_by_itself_unless_somebody_does_anything(
    around: Callable[..., Surroundings], canvas: Callable[..., Canvas], monkeypatch: pytest.MonkeyPatch
) -> None:
    def going(page: Page) -> bool:
        chosen: list[str] = []
        monkeypatch.setattr(page, "chosen", chosen.append)
        monkeypatch.setattr(page, "_idle_s", -1e9)  # no scan of its own
        for _ in range(50):
            page.lay_out(canvas(1280, 720))
            page.update(0.1)
        return chosen[:1] == ["1"]  # of three, the one that was worn

    assert going(states()["sensors-found"](around()))
    touched = states()["sensors-found"](around())
    touched.handle(Intent(Act.NEXT))
    assert not going(touched)


def test_sensors_of_one_name_are_told_apart_by_a_squeeze(
    sensors: OwnSensors, around: Callable[..., Surroundings], canvas: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is proposed before one has moved, a press decides, and both are let go before the session begins."""
    swinging = np.where(np.arange(250)[:, None] % 2, 1.0, -1.0) * np.ones((1, 2))
    let_go: list[str] = []

    class Lying:
        def __init__(self, sensor: FoundSensor) -> None:
            self.address, self.polls = sensor.address, 0

        def start(self) -> None: ...

        def stop(self) -> None:
            let_go.append(self.address)

        def poll(self, elapsed_s: float) -> list[Block]:
            self.polls += 1
            squeezed = self.address == "B" and self.polls > 8
            return [Block(swinging * (90.0 if squeezed else 3.0), 0.0, 0)]

    monkeypatch.setattr(sensors, "source_of", Lying)
    page = SensorsPage(around(), day_with(sensors))
    page.found = (
        found(sensors, "A", "MW-Duo", -50),
        found(sensors, "B", "MW-Duo", -60),
        found(sensors, "C", "Solo", -60),
    )
    words_on(page, canvas)
    plain = page.chosen("C")
    assert isinstance(plain, Push) and isinstance(plain.page, PadsPage)
    pushed = page.chosen("A")
    assert isinstance(pushed, Push) and isinstance(pushed.page, AlikePage)
    alike = pushed.page
    for _ in range(8):
        alike.update(0.25)
        assert "Squeeze your muscle, then let go." in words_on(alike, canvas) and alike.focus == ""
    for _ in range(4):
        alike.update(0.25)
    assert alike.focus == "B" and "This one moved with you. Take it?" in words_on(alike, canvas)
    answer = alike.chosen("B")
    assert isinstance(answer, Push) and isinstance(answer.page, PadsPage)
    assert sensors.worn is not None and sensors.worn.address == "B" and sorted(let_go) == ["A", "B"]
    again = page.chosen("B")  # the one of last time is not asked about again
    assert isinstance(again, Push) and isinstance(again.page, PadsPage)
