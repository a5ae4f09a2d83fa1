"""`musclewood` alone: the launcher, in a window."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import datetime

from musclewood.games.display import has_display
from musclewood.games.errors import CommandError
from musclewood.games.handing_over import handing_over
from musclewood.games.players import Player
from musclewood.games.prescribed import prescription_in_force
from musclewood.games.setting_up import channels_needed
from musclewood.games.sources_by_name import Supply
from musclewood.profiles.homes import Home
from musclewood.profiles.journal import Journal
from musclewood.profiles.prescription import Prescription
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sources.ble import BleSource
from musclewood.signal.sources.keyboard import KeyboardSource
from musclewood.signal.sources.simulated import SimulatedSource


def run(options: argparse.Namespace) -> int:
    """Open the launcher on the patient's home.  Raises what `__main__` turns into lines."""
    if not has_display():
        raise CommandError("there is no display to open a window on; see 'musclewood --help' for commands without one")
    from musclewood.games.window import open_launcher  # pygame takes its time; only a window needs it

    home = Home.find()
    home.create()
    if not home.prescription_path.exists():
        open_launcher(None, None, {}, home)
        return 0
    prescription = prescription_in_force(home.prescription_path, home, datetime.now().astimezone().date())
    with Journal.open(home.journal_path(prescription.patient)) as journal, handing_over(journal, prescription, home):
        open_launcher(prescription, journal, supplies(prescription, home), home)
    return 0


def supplies(prescription: Prescription, home: Home) -> dict[str, Callable[[], Supply]]:
    """The sources that a patient may choose at home: the sensor first, then what is only practice.

    The sensor is the first one described in the folder `sensors` of the home with enough channels.
    """
    channels = channels_needed(prescription)
    offered: dict[str, Callable[[], Supply]] = {}
    own = [
        one
        for one in known_sensors(home.root / "sensors").sensors
        if (home.root / "sensors" / f"{one.id}.toml").exists()
    ]
    sensor = next((one for one in own if len(one.labels) >= channels), None)
    if sensor is not None:
        offered["ble"] = lambda: Supply(BleSource(sensor))
    offered["keyboard"] = lambda: Supply(KeyboardSource(channels))
    offered["simulated"] = lambda: Supply(SimulatedSource(channels=channels), Player(channels))
    return offered
