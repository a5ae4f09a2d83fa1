"""A sensor that nobody knew before: one TOML file in the folder `sensors`, and everything works with it."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import bluez_bed
import pygame
import pytest
from bluez_bed import BluezBed
from fake_sensor import FakeSensor, Squeeze, wearer_of
from musclewood.games.__main__ import main
from musclewood.games.gallery.gallery import a_day
from musclewood.games.home.own_sensors import OwnSensors
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.running.sources_by_name import source_by_name
from musclewood.games.screens.base.page import Push, Surroundings
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.setup.sensors import SensorsPage
from musclewood.profiles.home.homes import Home
from musclewood.profiles.orders.prescription import Prescription
from musclewood.signal.sensors.description import read_description
from musclewood.signal.stream.blocks import Block
from virtual_play import FRAME_S, play_through
from virtual_radio import Air

WRITTEN = """
format = "musclewood-sensor/1"
name = "Somebody's own"
advertised_name = "Own"

[gatt]
service = "7a1e0000-6d75-7363-6c65-776f6f64000a"
data = "7a1e0001-6d75-7363-6c65-776f6f64000a"
start = "0a"

[signal]
kind = "envelope"
rate_hz = 80
channels = ["inner", "outer"]
uv_per_count = 0.25
zero_count = 32768

[packet]
byte_order = "big"
counter = { at_byte = 2, type = "u8", counts = "samples" }
samples_at_byte = 4
sample_type = "u16"
samples = 2
order = "by channel"
"""


@pytest.fixture
def written(own_home: Path) -> Path:
    path = own_home / "sensors" / "own.toml"
    path.parent.mkdir(parents=True)
    path.write_text(WRITTEN, encoding="utf-8")
    return path


def test_it_is_checked(written: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(written)]) == 0
    assert 'sensor "Somebody\'s own": 2 channel(s), an envelope at 80 Hz' in capsys.readouterr().out
    written.write_text(WRITTEN.replace("rate_hz = 80", "rate_hz = 8").replace('"u16"', '"u15"'))
    assert main(["check", str(written)]) == 1
    told = capsys.readouterr().err
    assert "signal.rate_hz" in told and "packet.sample_type" in told


def test_it_is_known_by_the_name_of_its_file(
    written: Path, written_order: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    """And if the file has mistakes, `play` names them."""
    assert source_by_name("ble:own", own_sensors=written.parent).source.labels == ("inner", "outer")
    assert main(["play", str(written_order()), "--source", "ble:own", "--offscreen"]) == 1
    assert "nobody signed this order" in capsys.readouterr().err, "a muscle is not led by it without a yes"
    written.write_text(WRITTEN.replace('order = "by channel"', "ordre = 1"))
    assert main(["play", str(written_order()), "--source", "ble:own", "--offscreen"]) == 1
    assert "packet.ordre" in capsys.readouterr().err


@pytest.mark.skipif(bool(bluez_bed.missing()), reason=bluez_bed.missing() or "usable")
def test_it_is_found(written: Path) -> None:
    bed = [sys.executable, bluez_bed.__file__, "--sensor", "own", "--own-folder", str(written.parent), "--"]
    found = subprocess.run(
        [*bed, sys.executable, "-m", "musclewood.games", "sensors", "--seconds", "0.5"],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert (found.returncode, found.stderr) == (0, "")
    assert found.stdout.startswith("Own 0001  -60 dBm  --source ble:own@C0:FF:EE:00:00:01")


def test_a_whole_session_is_played_on_it(written: Path, order: Callable[..., Prescription], tmp_path: Path) -> None:
    description = read_description(written)
    squeezes = [Squeeze(5.0, 1.0, 1.6), *[Squeeze(2.2, 0.55, 1.4)] * 2]
    wearer = wearer_of(description, squeezes)
    sensor = FakeSensor(description, lambda sample, channel: 32768 + wearer(sample, channel))
    band = {"target": 55, "low": 40, "high": 70, "tolerance": 15, "ceiling": 120, "quiet_pct_mvc": 15}
    short = {"sets": 1, "reps": 2, "trials": 1, "trial_s": 1.0, "hold_s": 0.6, "rest_s": 1.0, "set_rest_s": 1.0}
    seen = play_through(order(**band, **short), Air(sensor), tmp_path, frame_s=2 * FRAME_S, limit_s=60.0)
    assert seen.verdicts == ["counted"] * 2 and seen.end is not None and seen.end.ending == "complete"


@pytest.mark.skipif(bool(bluez_bed.missing()), reason=bluez_bed.missing() or "usable")
def test_it_is_chosen_on_the_screen_and_streams(written: Path, own_home: Path) -> None:
    """The page scans with the real library; what is chosen there is what is connected, though a twin is nearer."""
    pygame.font.init()
    description = read_description(written)
    own = FakeSensor(description, strength_dbm=-85, address="C0:FF:EE:00:00:09", name="Own 0009")
    day = a_day()
    day.sensors = OwnSensors(Home(own_home), channels=2)
    page = SensorsPage(Surroundings(Theme(Settings()), Backdrops((320, 180), at_once=True)), day)
    with BluezBed(FakeSensor(description), own):
        limit_s = time.monotonic() + 30.0
        while len(page.found) < 2 and time.monotonic() < limit_s:
            page.update(0.02)
            time.sleep(0.02)
        assert [sensor.name for sensor in page.found] == ["Own 0001", "Own 0009"]
        assert isinstance(page.chosen(own.address), Push)
        source = day.sensors.source()
        source.start()
        blocks: list[Block] = []
        while not blocks and time.monotonic() < limit_s:
            blocks = source.wait(0.1)
        assert source.status.sensor_name == "Own 0009" and blocks[0].samples_uv.shape == (2, 2)
        source.stop()
