"""The program in a process of its own, with a fake sensor within its reach."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import bluez_bed
import pytest
from fake_sensor import Squeeze, Wearer, wearer_of
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RepRecord
from musclewood.signal.sensors.catalogue import known_sensors

SENSOR = "two-channel-raw"
MAXIMUM, GOOD, WEAK, SHORT = (
    Squeeze(3.6, 1.0, 1.4),
    Squeeze(1.8, 0.55, 1.2),
    Squeeze(1.8, 0.2, 1.1),
    Squeeze(1.8, 0.55, 0.45),
)
BAND = {"target": 55, "low": 40, "high": 70, "tolerance": 15, "ceiling": 120, "quiet_pct_mvc": 15}
DOSE = {"sets": 1, "trials": 1, "trial_s": 1.0, "hold_s": 0.6, "rest_s": 1.0, "set_rest_s": 1.0}
PLAY = [sys.executable, "-m", "musclewood.games", "play", "--unsigned"]


@dataclass
class Run:
    """The program at work with a fake sensor; `squeezes` is what the sensor sends."""

    process: subprocess.Popen[str]
    home: Path
    squeezes: list[Squeeze]

    def end(self) -> str:
        """Wait for its end; returns what it printed."""
        out, error = self.process.communicate(timeout=150)
        assert self.process.returncode == 0 and "Traceback" not in error, out + error
        print(out)  # shown where a test fails
        if bluez_bed.TOO_BUSY in error:
            pytest.skip(error.strip().splitlines()[-1])
        return out

    def reps(self) -> list[RepRecord]:
        with self.journal() as journal:
            assert journal.verify() == []
            (session,) = journal.sessions()
            assert (session.start.source, session.start.sensor) == ("ble", SENSOR)
            assert session.end is not None and session.end.ending == "complete"
            return journal.records(session.session_id, RepRecord)

    @property
    def truth(self) -> list[str]:
        """What must become of each squeeze after the maximum."""
        return [{GOOD: "counted", WEAK: "weak", SHORT: "short"}[squeeze] for squeeze in self.squeezes[1:]]

    def wearer(self) -> Wearer:
        """What the sensor sent, once more."""
        description = known_sensors().sensor(SENSOR)
        assert description is not None
        return wearer_of(description, self.squeezes)

    def journal(self) -> Journal:
        return Journal.open(self.home / "journals" / "HB-0042.sqlite")


Begin = Callable[..., Run]


@contextmanager
def begun_runs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Begin]:
    """Starts a run, and ends whatever is left of it."""
    begun: dict[str, Run] = {}

    def begin(order: Path, squeezes: list[Squeeze], *options: str, name: str) -> Run:
        if name in begun:
            return begun[name]
        home = tmp_path_factory.mktemp("home")
        order = Path(shutil.copy(order, home))  # another test may write its own meanwhile
        text = ",".join(f"{rest_s}:{level}:{held_s}" for rest_s, level, held_s in squeezes)
        command = [sys.executable, bluez_bed.__file__, "--sensor", SENSOR, "--squeezes", text, *options, "--"]
        command += [*PLAY, str(order), "--source", f"ble:{SENSOR}", "--offscreen", "--home", str(home)]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        begun[name] = Run(process, home, squeezes)
        return begun[name]

    yield begin
    for run in begun.values():
        with run.process as process:  # closes what it printed into, which nobody may have read
            if process.poll() is None:
                process.kill()


def recorded(order: Path) -> Path:
    """The same order, with the samples kept."""
    order.write_text(order.read_text().replace("revision = 1", "revision = 1\nrecord_samples = true"))
    return order
