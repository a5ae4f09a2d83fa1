"""`musclewood` alone: the launcher, in a window."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from musclewood.assets.saying import say
from musclewood.games.home.handing_over import handing_over
from musclewood.games.home.own_sensors import OwnSensors
from musclewood.games.home.post import Post
from musclewood.games.home.prescribed import agreed, prescription_in_force
from musclewood.games.kit.display import has_display
from musclewood.games.running.errors import CommandError
from musclewood.games.running.todays_plan import channels_needed, channels_used
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.prescription import Prescription

if TYPE_CHECKING:  # sources take their time to load, and Today does not wait for them
    from musclewood.games.running.sources_by_name import Supply


def run(options: argparse.Namespace) -> int:
    """Open the launcher on the patient's home.  Raises what `__main__` turns into lines."""
    if not has_display():
        raise CommandError(say("command.no-display"))
    from musclewood.games.screens.window import ask_who, open_launcher  # pygame takes its time; only a window needs it

    home = Home.find()
    home.create()
    patient, letter, begin = options.patient, options.letter, False
    while True:
        codes = [path.stem for path in home.prescription_paths()]
        if letter is None and patient is None and len(codes) > 1 and not (patient := ask_who(codes, home)):
            return 0
        # A letter may be for anybody who plays here: it says itself for whom.
        path = next(iter(home.prescription_paths()), None) if letter else whose_prescription(home, patient)
        if path is not None and not agreed(path, home):  # put there by hand: it is a letter until somebody says yes
            letter, path = letter or str(path), None
        opened = partial(open_launcher, letter=letter, door=getattr(options, "door", None), begin=begin)
        letter, post = None, _open(opened, home, path)
        if not post.changed:
            return 0  # else a prescription was let in: open anew, on that
        begin = post.begins


def _open(launcher: Callable[..., Post], home: Home, path: Path | None) -> Post:
    if path is None:
        return launcher(None, None, {}, home)
    prescription = prescription_in_force(path, home, datetime.now().astimezone().date())
    path = home.journal_path(prescription.patient)
    with (
        Journal.open(path, revision=prescription.revision) as journal,
        handing_over(journal, prescription, home) as pack,
    ):
        sensors = OwnSensors(home, channels_used(prescription), ordered=prescription.sensors or ())
        return launcher(prescription, journal, supplies(prescription, sensors), home, sensors, pack=pack)


def whose_prescription(home: Home, patient: str | None) -> Path | None:
    """The prescription of the patient who plays, or of the only one; None where there is none yet.  Raises
    CommandError."""
    paths = home.prescription_paths()
    if patient is None:
        return paths[0] if paths else None
    for path in paths:
        if path.stem == patient:
            return path
    raise CommandError(say("command.no-order-here", patient=patient))


def supplies(prescription: Prescription, sensors: OwnSensors) -> dict[str, Callable[[], Supply]]:
    """The sources that a patient may choose at home: the sensor first, then what is only practice.

    The sensor is one described in the folder `sensors` of the home; as long as none is, its card says how to add one.
    """

    def worn() -> Supply:
        from musclewood.games.running.sources_by_name import Supply

        return Supply(sensors.source())

    def named(name: str) -> Callable[[], Supply]:
        def supply() -> Supply:
            from musclewood.games.running.sources_by_name import source_by_name

            return source_by_name(name, channels=channels_needed(prescription))

        return supply

    return {"ble": worn, "keyboard": named("keyboard"), "simulated": named("simulated")}
