"""`musclewood sensors`: which of the sensors that have a description are within reach."""

from __future__ import annotations

import argparse
from typing import Any

from musclewood.games.commands.printing import show
from musclewood.profiles.home.homes import Home
from musclewood.signal.sensors.catalogue import known_sensors


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "sensors",
        help="look for Bluetooth sensors",
        description="Look for Bluetooth sensors that have a description, here or in the folder 'sensors' of the home.",
    )
    parser.add_argument("--seconds", type=float, default=5.0, metavar="S", help="how long to look (5)")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Scan and print, nearest first.  Raises SensorError where Bluetooth or the sensor is the trouble."""
    from musclewood.signal.sensors.scanning import scan  # the Bluetooth library takes its time

    known = known_sensors(Home.find().root / "sensors")
    for fault in known.refused:
        show(f"left out: {fault}")
    result = scan(known.sensors, max(0.5, min(60.0, options.seconds)))
    if result.trouble is not None:
        raise result.trouble.error
    for sensor in result.found:
        source = f"ble:{sensor.description.id}@{sensor.address}"
        show(f"{sensor.name or sensor.description.name}  {sensor.strength_dbm} dBm  --source {source}")
    return 0
