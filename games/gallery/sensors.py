"""Everything that a sensor can bring onto a screen, for the gallery: invented sensors, and
every way to hear of none."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import cast

from bleak.backends.device import BLEDevice
from musclewood.games.home.own_sensors import OwnSensors, Worn
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.games.screens.setup.alike import AlikePage
from musclewood.games.screens.setup.pads import PadsPage
from musclewood.games.screens.setup.sensors import SensorFilePage, SensorsPage
from musclewood.games.screens.setup.source import SourcePage
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sensors.scanning import FoundSensor
from musclewood.signal.sensors.troubles import Trouble
from musclewood.signal.sources.ble import BleSource
from musclewood.signal.stream.blocks import Block

Make = Callable[[Surroundings], Page]
NOTHING_FOUND = (
    Trouble.NO_ADAPTER, Trouble.SWITCHED_OFF, Trouble.NO_PERMISSION, Trouble.NO_SERVICE, Trouble.NOT_FOUND,
)  # fmt: skip
AFTER_ALL_WAS_WELL = (Trouble.LOST, Trouble.NO_DATA, Trouble.SWITCHED_OFF)


class _Invented(OwnSensors):
    """As if two descriptions lay in a folder; nothing is read, and nothing is scanned."""

    def __init__(self, *, described: bool = True, refused: tuple[str, ...] = ()) -> None:
        self.folder = Path("/home/hornbeam/.local/share/musclewood/sensors")
        self.usable = known_sensors().sensors if described else ()
        self.refused, self.too_few = refused, False
        self.worn = Worn("two-channel-raw", "1", "MW-Duo 0042")

    def refresh(self) -> None:
        """Nothing to look into."""

    def source_of(self, sensor: FoundSensor) -> BleSource:
        return cast(BleSource, _Silent())


class _Silent:
    """A sensor that says nothing."""

    def start(self) -> None: ...
    def stop(self) -> None: ...
    def poll(self, elapsed_s: float) -> list[Block]:
        return []


def sensor_states(a_day: Callable[[], Day], lost: Callable[[Trouble], Make]) -> dict[str, Make]:
    """Pages by name. `lost` makes the page of a session that stands still for want of a signal."""

    def day(**changes: object) -> Day:
        today = a_day()
        today.sensors = _Invented(**changes)  # type: ignore[arg-type]
        return today

    def scan(found: tuple[FoundSensor, ...] = (), trouble: Trouble | None = None) -> Make:
        def make(around: Surroundings) -> Page:
            page = SensorsPage(around, day(), lambda: SourcePage(around, day()))
            page.found, page.trouble = found, trouble
            return page

        return make

    def alike(moved: bool) -> Make:
        def make(around: Surroundings) -> Page:
            ends = ("C0:FF:EE:00:04:1D", "C0:FF:EE:00:7A:02")
            page = AlikePage(around, day(), [_found(end, "MW-Solo", -55) for end in ends])
            if moved:
                page.telling.sensors[ends[1]].times_rest = 4.0
                page.telling.moved = page.focus = ends[1]
            return page

        return make

    def on_its_way(around: Surroundings) -> Page:
        page = PadsPage(around, a_day())
        page.goes_on.step(3.0, ready=True)
        return page

    return {
        "sensors-alike": alike(moved=False),
        "sensors-alike-moved": alike(moved=True),
        "source-without-file": lambda around: SourcePage(around, day(described=False)),
        "sensor-file": lambda around: SensorFilePage(around, day(described=False)),
        "sensor-file-wrong": lambda around: SensorFilePage(around, day(described=False, refused=("my-sensor.toml",))),
        "sensors-looking": scan(),
        "pads-heard": on_its_way,
        "sensors-only-one": scan((_found("1", "MW-Duo 0042", -58),)),
        "sensors-found": scan(
            (_found("2", "MW-Solo 0007", -55), _found("1", "MW-Duo 0042", -66), _found("3", "MW-Duo", -88))
        ),
        **{f"sensors-{trouble.value}": scan(trouble=trouble) for trouble in NOTHING_FOUND},
        **{f"sensor-lost-{trouble.value}": lost(trouble) for trouble in AFTER_ALL_WAS_WELL},
    }


def _found(address: str, name: str, strength_dbm: int) -> FoundSensor:
    sensor = known_sensors().sensors[0]
    return FoundSensor(sensor, address, name, strength_dbm, cast(BLEDevice, None))
