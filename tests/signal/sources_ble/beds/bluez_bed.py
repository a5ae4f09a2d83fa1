"""A private message bus with a fake Bluetooth service and fake sensors, for this process or another program.

    with BluezBed(FakeSensor(description)) as bed:          # in a test: sets DBUS_SYSTEM_BUS_ADDRESS and PATH
        ...

    python tests/signal/sources_ble/beds/bluez_bed.py --sensor two-channel-raw -- musclewood sensors

runs any program, unmodified, with the fake sensor within its reach, and returns its exit code. `BluezBed.environment`
is the same for a program that a test starts itself.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Coroutine
from pathlib import Path
from threading import Thread
from types import TracebackType
from typing import Any, Self

sys.path.insert(0, str(Path(__file__).parent))

from fake_bluez import FakeBluez
from fake_sensor import FakeSensor, Signal, Squeeze, contractions, efforts, wearer_of
from link_faults import clean, lossy
from musclewood.signal.sensors.catalogue import known_sensors

_BUS = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-BUS Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>system</type><listen>unix:path={socket}</listen><auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/><allow eavesdrop="true"/><allow own="*"/>
    {denied}
  </policy>
</busconfig>
"""


# Whatever takes longer than this is a radio hole for any program; our choice, below the half second of the games.
LATE_S = 0.3
TOO_BUSY = "this computer was too busy to be a sensor"


def missing() -> str:
    """Why this bed cannot be used here; empty if it can."""
    if sys.platform != "linux":
        return "the Bluetooth service on a message bus is Linux's own"
    return "" if shutil.which("dbus-daemon") else "dbus-daemon is not installed"


class BluezBed:
    """service=False: nobody answers for Bluetooth. denied=True: the bus forbids talking to the service."""

    def __init__(
        self, *sensors: FakeSensor, service: bool = True, adapter: bool = True, powered: bool = True,
        denied: bool = False,
    ) -> None:  # fmt: skip
        self.bluez = FakeBluez(*sensors, adapter=adapter, powered=powered)
        self._service, self._denied = service, denied
        self._loop = asyncio.new_event_loop()
        self._thread = Thread(target=self._loop.run_forever, name="fake bluetooth", daemon=True)
        self._before: dict[str, str | None] = {}
        self.environment: dict[str, str] = {}

    def __enter__(self) -> Self:
        self._folder = Path(tempfile.mkdtemp(prefix="bus"))  # short: a socket's path may have 107 bytes
        self._start_bus()
        self._put_version_in_path()
        self._before = {name: os.environ.get(name) for name in self.environment}
        os.environ.update(self.environment)
        self._thread.start()
        if self._service:
            self.wait(self.bluez.start(self._address))
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.wait(self.bluez.vanish())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()
        self.end_bus()
        for name, value in self._before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
        shutil.rmtree(self._folder)

    def wait(self, work: Coroutine[Any, Any, None]) -> None:
        """Do this in the service's thread, for example `bed.wait(bed.bluez.vanish())`."""
        asyncio.run_coroutine_threadsafe(work, self._loop).result(10.0)

    def do(self, change: Callable[[], object]) -> None:
        """The same for a plain function, such as `lambda: bed.bluez.power(False)`."""

        async def work() -> None:
            change()

        self.wait(work())

    def now_s(self) -> float:
        """The time that the sensors know."""
        return self._loop.time()

    def start_service(self) -> None:
        self.wait(self.bluez.start(self._address))

    def end_bus(self) -> None:
        """The message bus itself dies."""
        if self._daemon.poll() is None:
            self._daemon.terminate()
            self._daemon.communicate()

    def _start_bus(self) -> None:
        denied = '<deny send_destination="org.bluez"/>' if self._denied else ""
        config = self._folder / "bus.conf"
        config.write_text(_BUS.format(socket=self._folder / "socket", denied=denied))
        self._daemon = subprocess.Popen(
            ["dbus-daemon", f"--config-file={config}", "--nofork", "--print-address=1"],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        assert self._daemon.stdout is not None
        self._address = self._daemon.stdout.readline().strip()
        self.environment["DBUS_SYSTEM_BUS_ADDRESS"] = self._address

    def _put_version_in_path(self) -> None:
        """bleak asks this program which BlueZ it talks to."""
        stub = self._folder / "bluetoothctl"
        stub.write_text("#!/bin/sh\necho 'bluetoothctl: 5.79'\n")
        stub.chmod(0o755)
        self.environment["PATH"] = f"{self._folder}{os.pathsep}{os.environ['PATH']}"


def main() -> int:
    parser = argparse.ArgumentParser(description="Run a program with a fake Bluetooth sensor within its reach.")
    parser.add_argument("--sensor", default="two-channel-raw", help="id of a sensor description")
    parser.add_argument("--own-folder", type=Path, help="a folder with more descriptions")
    parser.add_argument("--on", type=float, default=4.0, help="seconds of each contraction")
    parser.add_argument("--off", type=float, default=4.0, help="seconds of rest before each")
    parser.add_argument(
        "--squeezes",
        type=_squeezes,
        metavar="REST:LEVEL:HELD,...",
        help="instead of --on and --off: one after the other",
    )
    parser.add_argument("--loss", type=float, default=0.0, help="share of packets lost, 0 to 1")
    parser.add_argument(
        "--happens", type=_happenings, default=[], metavar="S:WHAT,...",
        help="so many seconds after the first sample of the squeezes: " + ", ".join(HAPPENINGS),
    )  # fmt: skip
    parser.add_argument("program", nargs="+", help="after --: the program and its arguments")
    asked = parser.parse_args()
    description = known_sensors(asked.own_folder).sensor(asked.sensor)
    if description is None or missing():
        parser.error(missing() or f"no sensor '{asked.sensor}'")
    signal: Signal
    if asked.squeezes:
        signal = wearer_of(description, asked.squeezes)
    else:
        signal = (efforts if description.envelope else contractions)(description.rate_hz, asked.on, asked.off)
    sensor = FakeSensor(description, signal, lossy(asked.loss) if asked.loss else clean)
    with BluezBed(sensor) as bed:
        Thread(target=_let_happen, args=(bed, sensor, asked.happens), daemon=True).start()
        code = subprocess.run(asked.program, check=False).returncode
    if sensor.late_s > LATE_S:
        print(f"{TOO_BUSY}: a packet left {sensor.late_s:.2f} s late", file=sys.stderr)
    return code


def _away(bed: BluezBed, sensor: FakeSensor) -> None:
    """The battery is taken out; two supervision timeouts later the service says so."""
    bed.do(sensor.switch_off)
    time.sleep(0.5)
    bed.do(lambda: bed.bluez.disconnect(sensor))


HAPPENINGS: dict[str, Callable[[BluezBed, FakeSensor], None]] = {
    "hole": lambda bed, sensor: bed.do(lambda: setattr(sensor, "reachable", False)),
    "near": lambda bed, sensor: bed.do(lambda: setattr(sensor, "reachable", True)),
    "power-off": _away,
    "power-on": lambda bed, sensor: bed.do(lambda: sensor.switch_on(bed.now_s())),
    "adapter-off": lambda bed, sensor: bed.do(lambda: bed.bluez.power(False)),
    "adapter-on": lambda bed, sensor: bed.do(lambda: bed.bluez.power(True)),
    "vanish": lambda bed, sensor: bed.wait(bed.bluez.vanish()),
    "return": lambda bed, sensor: bed.start_service(),
}


def _happenings(text: str) -> list[tuple[float, str]]:
    pairs = [part.split(":") for part in text.split(",")]
    return [(float(at_s), what) for at_s, what in pairs]


def _let_happen(bed: BluezBed, sensor: FakeSensor, happenings: list[tuple[float, str]]) -> None:
    while getattr(sensor.signal, "first", 0) is None:
        time.sleep(0.005)
    begun_s = time.monotonic()
    for at_s, what in happenings:
        time.sleep(max(0.0, begun_s + at_s - time.monotonic()))
        HAPPENINGS[what](bed, sensor)


def _squeezes(text: str) -> list[Squeeze]:
    """Such as 2:1:1.5,2:0.8:1: two seconds of rest, all the strength for 1.5 s, and so on."""
    return [Squeeze(*map(float, part.split(":"))) for part in text.split(",")]


if __name__ == "__main__":
    sys.exit(main())
