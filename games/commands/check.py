"""`musclewood check`: is this prescription or sensor file fine, and if not, what is wrong where?"""

from __future__ import annotations

import argparse
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands.printing import show
from musclewood.games.home.prescribed import prescription_as_written
from musclewood.games.running.errors import USAGE_WRONG, CommandError
from musclewood.games.workshops.ordered import workshop_faults
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.disk.plain_text import refuse_long_keys
from musclewood.profiles.errors import StorageError
from musclewood.profiles.orders.daily_dose import daily_dose
from musclewood.profiles.orders.exercises import at_effort, minutes_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.usual_practice import concerns
from musclewood.profiles.plan.reminders import plan_as_calendar
from musclewood.profiles.trust.signature import LARGEST_BYTES
from musclewood.signal.sensors.description import SensorDescription, SensorDescriptionError, read_description


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "check",
        help="check prescriptions and sensor files",
        description="Check prescriptions and sensor descriptions; one line for each fault, with its place and remedy.",
    )
    parser.add_argument("files", type=Path, nargs="+", metavar="FILE", help="a TOML file")
    parser.add_argument(
        "--calendar",
        type=Path,
        metavar="FILE.ics",
        help="write the plan of the one prescription, rest days included, for the calendar of a phone or computer",
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Check every file; raises CommandError with all faults of all of them."""
    if options.calendar is not None and (len(options.files) != 1 or _describes_a_sensor(options.files[0])):
        raise CommandError(say("command.one-for-calendar"), code=USAGE_WRONG)
    faults: list[str] = []
    for path in options.files:
        lines, wrong = check(path)
        for line in lines:
            show(line)
        faults += wrong
    if faults:
        raise CommandError(*faults)
    if options.calendar is not None:
        write_calendar(prescription_as_written(options.files[0]), options.calendar)
    return 0


def write_calendar(prescription: Prescription, path: Path) -> None:
    """The plan as a file that any calendar takes; a later revision updates the same events."""
    try:
        write_whole(path, plan_as_calendar(prescription), mode=0o644)
    except (StorageError, OSError) as error:
        raise CommandError(say("command.calendar-unwritten", path=path, error=error)) from None
    show(f"calendar: {path}")


def check(path: Path) -> tuple[list[str], Sequence[str]]:
    """Lines that describe a file that is fine, or lines that say what is wrong; one of the two is empty."""
    try:
        if _describes_a_sensor(path):
            return describe_sensor(path, read_description(path)), []
        order = prescription_as_written(path)
        faults = [say("wrong.in-file", name=path, problem=fault.line) for fault in workshop_faults(order)]
        return ([], faults) if faults else (describe_prescription(path, order), [])
    except CommandError as error:
        return [], list(error.lines)
    except SensorDescriptionError as error:
        return [], list(error.args)


def describe_prescription(path: Path, prescription: Prescription) -> list[str]:
    """What was ordered, in a few lines."""
    reps, minutes = daily_dose(prescription)
    order, most = prescription, prescription.ceilings
    issue = f"prescription {order.revision} for {order.patient}, issued {order.issued}, review {order.review}"
    dose = f"{order.sessions_per_day} session(s) a day: {reps} reps, about {minutes:.0f} min"
    limits = f"at most {most.reps_per_day} reps and {most.minutes_per_day:g} min"
    lines = [f"{path}: fine", f"  {issue}", f"  {' '.join(order.days)}; {dose}; {limits}"]
    for exercise in prescription.exercises:
        effort = exercise.effort
        lines.append(
            f"  {exercise.id} ({exercise.kind}, {', '.join(exercise.workshops)}): {exercise.sets} x {exercise.reps}, "
            f"{exercise.hold_s:g} s {at_effort(exercise)} "
            f"({effort.min_pct_mvc:g} to {effort.max_pct_mvc:g}, never above {effort.ceiling_pct_mvc:g}), "
            f"rest {exercise.rest_s:g} s, {minutes_of(exercise):.0f} min"
        )
    meant = prescription.acknowledged or ()
    for concern in concerns(prescription):
        standing = (
            "outside usual practice, acknowledged when signed" if concern.id in meant else "outside usual practice"
        )
        lines.append(f"  {standing}: {concern.sentence()}")
    return lines


def describe_sensor(path: Path, sensor: SensorDescription) -> list[str]:
    """What a sensor sends, in a line."""
    shape = "an envelope" if sensor.envelope else "raw samples"
    return [
        f"{path}: fine",
        f"  sensor {sensor.name!r}: {len(sensor.labels)} channel(s), {shape} at {sensor.rate_hz:g} Hz",
    ]


def _describes_a_sensor(path: Path) -> bool:
    """Told by its format line, or by the tables that only a sensor file has; whatever cannot be read is no sensor."""
    try:
        text = read_bounded(path, LARGEST_BYTES).decode("utf-8")
        refuse_long_keys(text)
        content = tomllib.loads(text)
    except (StorageError, ValueError, RecursionError):
        return False
    declared = content.get("format")
    return str(declared).startswith("musclewood-sensor") or ("gatt" in content and "packet" in content)
