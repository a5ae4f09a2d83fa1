"""How long a sample takes from a sensor's notification to activation, and to the frame that shows it.

    python tests/bench/sensor_latency.py [--seconds 30]

A fake sensor sends over a private message bus, in this process. The game runs in another: bleak, the source's thread,
its queue, the chain and the window with the kiln, drawn 60 times a second on a display that is not shown. Clocks are
the same in both (CLOCK_MONOTONIC). Needs Linux and dbus-daemon.

activation   from the moment a packet leaves the sensor until the chain has made ticks of it
collected    the same, until the game has taken these ticks
whole way    from the first sample of a step in the signal, rest to 60 %MVC, until a frame is on the display in which
             activation is past half of the step; beside it a moving RMS of 125 ms, looked at by the same frames.
             Farrell & Weir 2007, IEEE TNSRE 15:111, found 100-125 ms to be the most that helps a myoelectric control.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / "signal" / "sources_ble" / "beds"), str(TESTS.parent)]

from bluez_bed import BluezBed, missing
from fake_sensor import FakeSensor, contractions
from musclewood.games.engine.session_events import Tick
from musclewood.games.running.setting_up import set_up
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.screens.base.day import day_of
from musclewood.games.screens.base.play import Attentive, Play
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.prescription import Prescription, parse
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sources.ble import BleSource
from musclewood.signal.stream.activation import Reference
from musclewood.signal.stream.blocks import Block

from tests.signal.moving_rms import chain_with_moving_rms

SENSOR = "two-channel-raw"
REST_S, STEP_S = 1.3, 1.2  # not a multiple of a packet or of a frame
STRONG, WEAK = 600, 30  # counts of 0.1 µV
HALF = 0.3  # of the step to 60 %MVC
MVC_UV = 100.0
WARM_S = 10.0  # until the kiln is on the screen and all its paper is cut; not counted

ORDER = """
format = "musclewood-prescription/1"
patient = "HB-0042"
clinic = "Hornbeam Clinic"
revision = 1
issued = 2026-01-01
review = 2099-12-31
timezone = "Europe/Prague"
days = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
sessions_per_day = 4
hours_between_sessions = 0
[calibration]
rest_s = 1.0
trials = 1
trial_s = 1.0
rest_between_s = 1.0
[stop]
pain_stop = 5
pain_lighten = 3
pain_rise_stop = 3
[ceilings]
reps_per_day = 200
reps_per_week = 2000
minutes_per_day = 60
sessions_per_week = 28
[[muscles]]
id = "biceps"
name = "Biceps"
side = "right"
role = "involved"
placement = "Middle of the upper arm"
channel = 0
[[exercises]]
id = "elbow-hold"
title = "Bend the elbow"
kind = "hold"
workshops = ["kiln"]
muscles = ["biceps"]
sets = 1
reps = 30
hold_s = 1.0
rest_s = 1.0
set_rest_s = 4.0
quiet_pct_mvc = 20
[exercises.effort]
target_pct_mvc = 60
min_pct_mvc = 50
max_pct_mvc = 70
tolerance_pct_mvc = 10
ceiling_pct_mvc = 100
"""


class TimedSensor(FakeSensor):
    """Remembers when each packet left; packets are prepared, so that encoding does not compete for the processor."""

    def __init__(self, *arguments: object) -> None:
        super().__init__(*arguments)  # type: ignore[arg-type]
        self.left_s: list[float] = []
        self.first: int | None = None
        period = round((REST_S + STEP_S) / 0.01)
        self._made = [FakeSensor.packet(self, number)[2:] for number in range(4 * period)]

    def packet(self, number: int) -> bytes:
        if self.first is None:
            self.first = number
        self.left_s.append(time.monotonic())
        return (number % 65536).to_bytes(2, "little") + self._made[number % len(self._made)]


# --- the game, in a process of its own


class TimedAcquisition(Attentive):
    """Notes when ticks of each block are made and taken; keeps a moving RMS beside the chain in use."""

    def __init__(self, source: BleSource) -> None:
        super().__init__(source)
        reference = Reference((3.0,) * 2, (MVC_UV,) * 2)
        self.refer_to(reference)
        self._rms = chain_with_moving_rms(source.rate_hz, 2, reference)
        self.made: list[tuple[float, float, float]] = []  # end of the block in sensor time, made at, taken at
        self._waiting: list[tuple[float, float]] = []
        self.rms = 0.0

    def refer_to(self, reference: Reference) -> None:
        super().refer_to(Reference((3.0,) * 2, (MVC_UV,) * 2))  # the same for both, whatever was calibrated

    def _work_on(self, blocks: Sequence[Block]) -> Any:
        heard = super()._work_on(blocks)
        now_s = time.monotonic()
        for block in blocks:
            self._waiting.append((block.start_s + len(block.samples_uv) / 1000.0, now_s))
            ticks = self._rms.process(block).activation
            self.rms = float(ticks[-1, 0]) if len(ticks) else self.rms
        return heard

    def poll(self, elapsed_s: float) -> Any:
        ready, self._waiting = self._waiting, []
        heard = super().poll(elapsed_s)
        now_s = time.monotonic()
        self.made += [(end_s, made_s, now_s) for end_s, made_s in ready]
        return heard


def play_game(seconds: float) -> None:
    """Draw sixty frames a second for so long, and print what was noted as JSON."""
    os.environ["SDL_VIDEODRIVER"] = os.environ["SDL_AUDIODRIVER"] = "dummy"
    import pygame
    from musclewood.games.running.offscreen import Unattended
    from musclewood.games.screens.showing import Showing

    prescription: Prescription = parse(ORDER)
    description = known_sensors().sensor(SENSOR)
    assert description is not None
    with tempfile.TemporaryDirectory() as folder, Journal.open(Path(folder) / "journal.sqlite") as journal:
        clock = lambda: datetime.now(UTC)
        sitting = set_up(prescription, journal, Supply(BleSource(description)), clock=clock, listen=TimedAcquisition)
        acquisition = sitting.conductor.acquisition
        assert isinstance(acquisition, TimedAcquisition)
        day = day_of(prescription, journal, {}, clock=clock, keep=lambda settings: None)
        game = Showing(
            Play(sitting.conductor, today=sitting.plan.day, seed=0), day, Unattended(), Path(folder) / "s.toml"
        )
        frames: list[tuple[float, float, float, float, float]] = []
        pace, end_s = pygame.time.Clock(), time.monotonic() + seconds
        while time.monotonic() < end_s:
            dt_s = pace.tick(60) / 1000
            began_s = time.monotonic()
            game.step(pygame.event.get(), dt_s)
            last: Tick | None = acquisition.last
            seen, rms = (last.activation[0] if last else 0.0), acquisition.rms
            game.draw()
            pygame.display.flip()
            newest_s = acquisition.made[-1][0] if acquisition.made else 0.0
            frames.append((time.monotonic(), seen, rms, newest_s, time.monotonic() - began_s))
        game.close()
    print(json.dumps({"blocks": acquisition.made, "frames": frames}))


# --- the sensor, in this one


def measure(seconds: float) -> tuple[TimedSensor, dict[str, Any]]:
    description = known_sensors().sensor(SENSOR)
    assert description is not None
    sensor = TimedSensor(description, contractions(description.rate_hz, STEP_S, REST_S, STRONG, WEAK))
    with BluezBed(sensor):
        command = [sys.executable, __file__, "--game", "--seconds", str(seconds)]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
    return sensor, json.loads(done.stdout.splitlines()[-1])


def steps_s(sensor: TimedSensor) -> list[float]:
    """When the first sample of each step was made, by the clock: a packet leaves when its last sample is made."""
    assert sensor.first is not None
    made = []
    for place, left_s in enumerate(sensor.left_s):
        first = (sensor.first + place) * 10
        for sample in range(first, first + 10):
            phase = sample % round(1000 * (REST_S + STEP_S))
            if phase == round(1000 * REST_S):
                made.append(left_s - (first + 10 - sample) / 1000.0)
    return made


def shown_after_s(steps: list[float], frames: np.ndarray, column: int) -> np.ndarray:
    """For each step, how long until a frame was done in which this column is past half; NaN where none came."""
    found = []
    for at_s in steps:
        later = frames[(frames[:, 0] > at_s) & (frames[:, 0] < at_s + STEP_S)]
        past = later[later[:, column] > HALF]
        found.append(past[0, 0] - at_s if len(past) else np.nan)
    return np.array(found)


def line(name: str, values_s: np.ndarray) -> str:
    p50, p95, p99 = 1000.0 * np.nanpercentile(values_s, [50, 95, 99])
    worst = 1000.0 * np.nanmax(values_s)
    return f"{name:28s} p50 {p50:6.1f}  p95 {p95:6.1f}  p99 {p99:6.1f}  worst {worst:6.1f} ms of {len(values_s)}"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--game", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.game:
        play_game(asked.seconds)
        return 0
    if missing():
        print(missing())
        return 0
    sensor, noted = measure(asked.seconds)
    blocks, frames = np.array(noted["blocks"]), np.array(noted["frames"])
    drawn = frames[frames[:, 0] > frames[0, 0] + WARM_S]
    blocks = blocks[blocks[:, 2] > drawn[0, 0]]
    left_s = np.array(sensor.left_s)[np.round(blocks[:, 0] * 100).astype(int) - 1]
    print(f"{len(drawn)} frames, {1 / np.diff(drawn[:, 0]).mean():.1f} a second, each drawn in "
          f"{1000 * np.median(drawn[:, 4]):.1f} ms (median), {1000 * np.percentile(drawn[:, 4], 99):.1f} ms "
              "(p99)")  # fmt: skip
    print(line("activation", blocks[:, 1] - left_s))
    print(line("collected by the game", blocks[:, 2] - left_s))
    steps = [at_s for at_s in steps_s(sensor) if drawn[0, 0] < at_s < drawn[-1, 0] - STEP_S]
    print(line("whole way, this filter", shown_after_s(steps, drawn, 1)))
    print(line("whole way, moving RMS", shown_after_s(steps, drawn, 2)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
