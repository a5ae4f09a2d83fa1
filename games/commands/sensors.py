"""`musclewood sensors`: which sensors are within reach; with --describe, a description drafted
for one that has none."""

from __future__ import annotations

import argparse
import asyncio
import sys
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands.printing import show
from musclewood.games.running.errors import DONE, USAGE_WRONG, CommandError
from musclewood.profiles.home.homes import Home
from musclewood.signal.sensors.catalogue import known_sensors

LISTEN_S = 30.0  # our choice: a counter of one byte begins anew, and there is time for rest and effort


def add(commands: Any) -> None:
    """Describe the command to argparse."""
    parser = commands.add_parser(
        "sensors",
        help="look for Bluetooth sensors, or describe a new one",
        description="Look for Bluetooth sensors that have a description, here or in the folder 'sensors' of the home.",
        epilog="With --describe: wear the sensor, then squeeze and rest in turns, one muscle after the "
        "other, while it is "
        "listened to. The draft is TOML on standard output; everything that listening cannot tell is marked CHECK. "
        "Nothing is ever written to a sensor but what --start and --stop say: take them from its papers.",
    )
    parser.add_argument("--seconds", type=float, metavar="S", help=f"how long to look (5) or to listen ({LISTEN_S:g})")
    parser.add_argument(
        "--describe", nargs="?", const="", metavar="NAME",
        help="listen to the sensor of this name or address and draft its description; without a name: what "
            "is within reach",
    )  # fmt: skip
    parser.add_argument("--channels", type=int, choices=range(1, 9), metavar="N", help="how many the new sensor has")
    parser.add_argument("--uv-per-count", type=float, metavar="UV", help="what one count of it is worth, in µV")
    parser.add_argument(
        "--start", type=bytes.fromhex, default=b"", metavar="HEX", help="what starts it, such as '01 a0'"
    )
    parser.add_argument("--stop", type=bytes.fromhex, default=b"", metavar="HEX", help="what stops it")
    parser.add_argument("--command", default="", metavar="UUID", help="where both are written, if there are several")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Scan and print, nearest first.  Raises SensorError where Bluetooth or the sensor is the trouble."""
    from musclewood.signal.sensors.scanning import scan  # the Bluetooth library takes its time

    if options.describe is not None:
        return describe(options)
    known = known_sensors(Home.find().root / "sensors")
    for fault in known.refused:
        show(f"left out: {fault}")
    result = scan(known.sensors, max(0.5, min(60.0, options.seconds or 5.0)))
    if result.trouble is not None:
        raise result.trouble.error
    for sensor in result.found:
        source = f"ble:{sensor.description.id}@{sensor.address}"
        show(f"{sensor.name or sensor.description.name}  {sensor.strength_dbm} dBm  --source {source}")
    return DONE


def describe(options: argparse.Namespace) -> int:
    """Listen to one sensor and print a draft.  Raises CommandError and SensorError."""
    from musclewood.signal.sensors.drafting import NothingToDraft, Told, draft
    from musclewood.signal.sensors.overhearing import Command
    from musclewood.signal.sensors.troubles import trouble_of

    command = Command(options.start, options.stop, options.command.lower())
    try:
        heard = asyncio.run(_listen(options, command))
    except CommandError:
        raise
    except Exception as error:  # each system's Bluetooth raises errors of its own
        raise trouble_of(error).error from error
    if heard is None:
        return DONE
    try:
        text = draft(heard, Told(options.channels, options.uv_per_count, command))
    except NothingToDraft as nothing:
        raise CommandError(nothing.args[0]) from None
    for line in text.splitlines():
        show(line)
    return DONE


async def _listen(options: argparse.Namespace, command: Any) -> Any:
    """What was heard of the one that is meant; None after telling what there is."""
    from musclewood.signal.sensors.overhearing import neighbours, overhear
    from musclewood.signal.sensors.scanning import SCAN_S, Radio

    radio = Radio()
    near = await neighbours(SCAN_S if not options.describe else SCAN_S / 2, radio)
    if not options.describe:
        for one in near:
            show(f"{one.name or '-'}  {one.strength_dbm} dBm  --describe {one.address}")
        if not near:
            raise CommandError(say("command.nothing-near"))
        return None
    meant = [one for one in near if one.is_called(options.describe)]
    if len(meant) != 1:
        known = ", ".join(f"{one.name} {one.address}".strip() for one in meant or near) or "-"
        raise CommandError(say("command.not-one-sensor", name=options.describe, known=known), code=USAGE_WRONG)
    seconds = max(3.0, min(600.0, options.seconds or LISTEN_S))
    _remark(say("command.listening", name=meant[0].name or meant[0].address, seconds=f"{seconds:g}"))
    return await overhear(meant[0], seconds, command, radio)


def _remark(line: str) -> None:
    """Beside the draft, which may go into a file."""
    from musclewood.profiles.disk.plain_text import one_line

    print(one_line(line), file=sys.stderr, flush=True)
