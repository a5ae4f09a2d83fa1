"""The test beds for Bluetooth, within reach of every test in this folder."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent / "beds"))

from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sensors.description import SensorDescription


@pytest.fixture
def duo() -> SensorDescription:
    """Two raw channels at 1 kHz, 100 packets a second."""
    sensor = known_sensors().sensor("two-channel-raw")
    assert sensor is not None
    return sensor


@pytest.fixture
def solo() -> SensorDescription:
    """One envelope at 50 Hz, a one-byte counter."""
    sensor = known_sensors().sensor("one-channel-envelope")
    assert sensor is not None
    return sensor
