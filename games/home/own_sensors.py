"""The patient's own sensors: which are described at home, which are near, and which was worn last."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import tomli_w
from musclewood.assets.saying import say
from musclewood.games.running.errors import CommandError
from musclewood.profiles.disk.files import write_whole
from musclewood.profiles.errors import StorageError
from musclewood.profiles.home.homes import Home
from musclewood.profiles.orders.tables import EnclosedSensor
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sensors.description import (
    SensorDescription,
    SensorDescriptionError,
    parse_description,
    read_description,
)
from pydantic import ValidationError

if TYPE_CHECKING:  # Bluetooth takes its time to load, and Today does not wait for it
    from concurrent.futures import Future

    from musclewood.signal.sensors.scanning import FoundSensor, Radio, ScanResult
    from musclewood.signal.sources.ble import BleSource

LOOK_S = 2.0  # our choice: sensors advertise several times a second, so each is heard well within this


@dataclass(frozen=True, slots=True)
class Worn:
    """A sensor that was chosen: the name of its description, and its address on this computer."""

    sensor: str
    address: str
    name: str


class OwnSensors:
    """Sensors whose descriptions came with the order, or lie in the folder `sensors` of a home, and that have enough
    channels.

    Of two with the same id the order's counts: the clinic signed it.
    """

    def __init__(
        self, home: Home, channels: int, radio: Radio | None = None, ordered: Sequence[EnclosedSensor] = ()
    ) -> None:
        self.folder = home.root / "sensors"
        self._memory = home.root / "sensor.toml"
        self._channels, self._radio = channels, radio
        self._ordered = ordered
        self.usable: tuple[SensorDescription, ...] = ()
        self.refused: tuple[str, ...] = ()
        self.too_few = False
        self.worn = _read(self._memory)
        self.refresh()

    def refresh(self) -> None:
        """Look into order and folder anew.  refused: names of files with mistakes; too_few: all
        have too few channels."""
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)  # so that there is a place to put a description
        files = {path.stem for path in self.folder.glob("*.toml")}
        catalogue = known_sensors(self.folder)
        own = [sensor for sensor in catalogue.sensors if sensor.id in files]
        self.refused = tuple(Path(error.place).name for error in catalogue.refused)
        own = [sensor for sensor in own if f"{sensor.id}.toml" not in self.refused]
        sent, faulty = opened(self._ordered)
        self.refused += faulty
        own = [*sent, *(sensor for sensor in own if sensor.id not in [one.id for one in sent])]
        self.usable = tuple(sensor for sensor in own if len(sensor.labels) >= self._channels)
        self.too_few = bool(own) and not self.usable

    def look_around(self) -> Future[ScanResult]:
        """Scan for two seconds in a thread of its own."""
        from musclewood.signal.sensors.scanning import Radio, scan_aside

        return scan_aside(self.usable, LOOK_S, self._radio or Radio())

    def in_order(self, found: tuple[FoundSensor, ...]) -> list[FoundSensor]:
        """The one worn last before the others, which stay nearest first."""
        return sorted(found, key=lambda sensor: not self.is_worn(sensor))

    def is_worn(self, sensor: FoundSensor) -> bool:
        return self.worn is not None and self.worn.address == sensor.address

    def choose(self, sensor: FoundSensor) -> None:
        """Wear this one now, and remember it; a disk that refuses costs only that it is forgotten."""
        self.worn = Worn(sensor.description.id, sensor.address, sensor.name)
        with suppress(StorageError):
            write_whole(self._memory, tomli_w.dumps(asdict(self.worn)).encode())

    def source_of(self, sensor: FoundSensor) -> BleSource:
        """To listen to one that was found, before it is chosen."""
        return self._listening(sensor.description, sensor.address)

    def source(self) -> BleSource:
        """The sensor worn; before any was chosen, the first of the first kind that shows itself."""
        worn = next((sensor for sensor in self.usable if self.worn and sensor.id == self.worn.sensor), None)
        if worn is not None and self.worn is not None:
            return self._listening(worn, self.worn.address)
        return self._listening(self.usable[0])

    def _listening(self, sensor: SensorDescription, address: str | None = None) -> BleSource:
        from musclewood.signal.sources.ble import BleSource

        return BleSource(sensor, address=address, radio=self._radio)


def opened(ordered: Sequence[EnclosedSensor]) -> tuple[tuple[SensorDescription, ...], tuple[str, ...]]:
    """What an order encloses, checked like any description, and the files' names of those with mistakes."""
    good, faulty = [], []
    for one in ordered:
        try:
            good.append(parse_description(one.text, one.id))
        except SensorDescriptionError:
            faulty.append(f"{one.id}.toml")
    return tuple(good), tuple(faulty)


def enclosed(paths: Sequence[Path]) -> tuple[EnclosedSensor, ...]:
    """Descriptions to send along with an order. Raises CommandError with a line for every fault of theirs."""
    found = []
    for path in paths:
        try:
            sensor = read_description(path)
            found.append(EnclosedSensor(id=sensor.id, name=sensor.name, text=path.read_text("utf-8")))
        except SensorDescriptionError as error:
            raise CommandError(*error.args) from None
        except ValidationError:
            raise CommandError(say("command.sensor-name", path=path)) from None
    return tuple(found)


def described_in(folder: Path) -> tuple[EnclosedSensor, ...]:
    """The descriptions in a folder that are fine; one with mistakes hides no good one."""
    found: list[EnclosedSensor] = []
    for path in sorted(folder.glob("*.toml")):
        with suppress(CommandError):
            found += enclosed([path])
    return tuple(found)


def _read(path: Path) -> Worn | None:
    """What was remembered; a missing or broken file is nothing."""
    try:
        table = tomllib.loads(path.read_text("utf-8"))
        return Worn(str(table["sensor"]), str(table["address"]), str(table["name"]))
    except (OSError, ValueError, KeyError):
        return None
