"""The sensors that the program knows: those it comes with, and the user's own folder of descriptions."""

from __future__ import annotations

import importlib.resources
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from musclewood.signal.sensors.description import (
    SensorDescription,
    SensorDescriptionError,
    parse_description,
    read_description,
)


@dataclass(frozen=True, slots=True)
class Catalogue:
    """sensors: in the order of their ids. refused: files of the user that hold faults; they hide no good one."""

    sensors: tuple[SensorDescription, ...]
    refused: tuple[SensorDescriptionError, ...]

    def sensor(self, sensor_id: str) -> SensorDescription | None:
        """The sensor with this id, or None."""
        return next((sensor for sensor in self.sensors if sensor.id == sensor_id), None)


def known_sensors(own_folder: Path | None = None) -> Catalogue:
    """All sensors; a file in `own_folder` replaces a shipped one of the same name. A missing folder is empty."""
    sensors, refused = dict(_shipped()), []
    for path in sorted(own_folder.glob("*.toml")) if own_folder is not None else ():
        try:
            sensors[path.stem] = read_description(path)
        except SensorDescriptionError as error:
            refused.append(error)
    return Catalogue(tuple(sensors[sensor_id] for sensor_id in sorted(sensors)), tuple(refused))


@cache
def _shipped() -> dict[str, SensorDescription]:
    """Those of the program itself, which do not change while it runs."""
    found = {}
    for entry in importlib.resources.files("musclewood.assets").joinpath("sensors").iterdir():
        if entry.name.endswith(".toml"):
            sensor_id = entry.name.removesuffix(".toml")
            found[sensor_id] = parse_description(entry.read_text(encoding="utf-8"), sensor_id, place=entry.name)
    return found
