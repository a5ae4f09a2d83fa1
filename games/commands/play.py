"""`musclewood play`: one session of a prescription on any source, in a window or without one."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands.asking import unsigned_confirmed
from musclewood.games.commands.options import add_recording_options
from musclewood.games.commands.printing import show
from musclewood.games.engine.shelf import shelf_of
from musclewood.games.home.handing_over import handing_over
from musclewood.games.home.own_sensors import opened
from musclewood.games.home.prescribed import agreed, prescription_in_force
from musclewood.games.kit.words import Words
from musclewood.games.running.acquisition import Acquisition
from musclewood.games.running.errors import USAGE_WRONG, CommandError
from musclewood.games.running.offscreen import UNATTENDED, Unattended, Workbench, play_offscreen, retest_offscreen
from musclewood.games.running.retesting import retesting
from musclewood.games.running.setting_up import set_up
from musclewood.games.running.sources_by_name import Supply, source_by_name
from musclewood.games.running.todays_plan import channels_needed
from musclewood.profiles.exchange.admission import Unsigned
from musclewood.profiles.home.homes import VARIABLE, Home
from musclewood.profiles.journal.history import read_history
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import PRACTICE_SOURCES
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.retest import retest_due
from musclewood.signal.recordings.recording_file import mend_all


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "play",
        help="play one session of a prescription",
        description="Play one session of a prescription. Every attempt is in the journal before it is reported.",
    )
    parser.add_argument("prescription", type=Path, metavar="PRESCRIPTION", help="the therapist's TOML file")
    parser.add_argument(
        "--source",
        required=True,
        metavar="SOURCE",
        help="replay:FILE (.csv or .edf), simulated[:PLAYER], keyboard, ble:SENSOR[@ADDRESS] or lsl[:NAME]",
    )
    add_recording_options(parser)
    parser.add_argument("--offscreen", action="store_true", help="without a window; prints one line an attempt")
    parser.add_argument("--fast", action="store_true", help="with --offscreen: do not wait for time to pass")
    parser.add_argument("--seed", type=int, default=0, metavar="N", help="for the simulated source (0)")
    parser.add_argument("--unsigned", action="store_true", help="play it on a sensor although nobody signed it")
    parser.add_argument(
        "--retest", action="store_true", help="with --offscreen: the test that the order repeats, if it is due"
    )
    parser.add_argument(
        "--then", metavar="SOURCE", help="with --retest: the source from when the pads were moved to the other side"
    )
    parser.add_argument("--workshop", metavar="NAME", help="play in this workshop wherever it is ordered")
    place = parser.add_mutually_exclusive_group()
    place.add_argument("--journal", type=Path, metavar="FILE", help="the journal to write")
    place.add_argument("--home", type=Path, metavar="DIR", help=f"folder with the journals (or set {VARIABLE})")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Play.  Raises what `__main__` turns into lines."""
    home = Home(options.home) if options.home is not None else Home.find()
    prescription = prescription_in_force(options.prescription, home, datetime.now().astimezone().date())
    _check_workshop(prescription, options.workshop)
    if options.fast and not options.offscreen:
        raise CommandError(say("command.fast-offscreen"), code=USAGE_WRONG)
    if (options.retest and not options.offscreen) or (options.then and not options.retest):
        raise CommandError(say("command.retest-offscreen"), code=USAGE_WRONG)
    supply = _supply(options.source, prescription, home, options)
    on_a_sensor = supply.source.kind in ("ble", "lsl")
    if on_a_sensor and not agreed(options.prescription, home):
        _ask_whether_meant(prescription, options.unsigned)
    if options.fast and on_a_sensor:
        raise CommandError(say("command.fast-own-time"), code=USAGE_WRONG)
    mend_all(home.recordings)
    if options.offscreen and supply.source.kind == "keyboard":
        raise CommandError(say("command.keyboard-window"), code=USAGE_WRONG)
    path = options.journal or home.journal_path(prescription.patient)
    with Journal.open(path, revision=prescription.revision) as journal:
        if journal.set_aside is not None:
            show(f"the journal was damaged; it was set aside as {journal.set_aside.name} and a new one begun")
        with handing_over(journal, prescription, None if options.journal else home) as handed:
            if options.retest:
                retest_unattended(journal, prescription, supply, options, home)
            elif options.offscreen:
                play_unattended(journal, prescription, supply, options)
            else:
                play_in_window(journal, prescription, supply, home)
        for path in handed.written:
            show(f"hand-over: {path}")
    return 0


def _ask_whether_meant(prescription: Prescription, meant: bool) -> None:
    """An order that nobody signed acts on somebody only after a yes; recordings and model patients act on nobody."""
    titles = tuple(exercise.title for exercise in prescription.exercises)
    order = Unsigned(prescription.patient, prescription.clinic, prescription.revision, titles)
    if not unsigned_confirmed(meant)(order):
        raise CommandError(say("command.unsigned"))


def _supply(name: str, prescription: Prescription, home: Home, options: argparse.Namespace) -> Supply:
    return source_by_name(
        name,
        channels=channels_needed(prescription),
        seed=options.seed,
        rate_hz=options.rate,
        unit=options.unit,
        own_sensors=home.root / "sensors",
        sent=opened(prescription.sensors or ())[0],
    )


def retest_unattended(
    journal: Journal, prescription: Prescription, supply: Supply, options: argparse.Namespace, home: Home
) -> None:
    """The test that the order repeats, without a window. Raises CommandError where none is due."""
    if retest_due(prescription, read_history(journal), datetime.now(UTC)) is None:
        raise CommandError(say("command.no-retest"))
    test = retesting(prescription, journal, supply, clock=lambda: datetime.now(UTC), note=UNATTENDED)

    def moved() -> Acquisition:
        return Acquisition(_supply(options.then, prescription, home, options).source)

    retest_offscreen(test, show, moved=moved if options.then else None, fast=options.fast)
    show(f"journal: {journal.path}")


def play_unattended(journal: Journal, prescription: Prescription, supply: Supply, options: argparse.Namespace) -> None:
    """One session without a window, each line printed after what it tells is durable."""
    sitting = set_up(
        prescription, journal, supply, clock=lambda: datetime.now(UTC), by_ticks=options.fast, note=UNATTENDED
    )
    if retest_due(prescription, read_history(journal), datetime.now(UTC)):
        show("a test is due; 'play --offscreen --retest' leads it, best before the exercises")
    for reason in sitting.plan.reasons:
        show(Words("en")(f"reasons.{reason}"))
    if not sitting.plan.exercises:
        return
    practice = supply.source.kind in PRACTICE_SOURCES
    shelf = shelf_of(journal, prescription.timezone, practice=practice)
    workbench = Workbench(options.seed, sitting.plan.day, shelf)
    play_offscreen(
        sitting.conductor,
        show,
        player=supply.player,
        unattended=Unattended(options.workshop),
        workbench=workbench,
        fast=options.fast,
    )
    show(f"journal: {journal.path}")


def play_in_window(journal: Journal, prescription: Prescription, supply: Supply, home: Home) -> None:
    """The launcher with this prescription and this source."""
    from musclewood.games.screens.window import open_launcher  # pygame takes its time; only a window needs it

    open_launcher(prescription, journal, {supply.source.kind: lambda: supply}, home)


def _check_workshop(prescription: Prescription, workshop: str | None) -> None:
    ordered: Sequence[str] = sorted({name for exercise in prescription.exercises for name in exercise.workshops})
    if workshop is not None and workshop not in ordered:
        raise CommandError(say("command.no-workshop", workshop=workshop, known=", ".join(ordered)), code=USAGE_WRONG)
