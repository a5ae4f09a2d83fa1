"""Real recordings: fetched once from the package registry, checked by their hash, kept in a cache folder.

MUSCLEWOOD_TEST_CACHE names another folder. Where there is no registry the tests that need a recording are skipped.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from zipfile import ZipFile

import h5py
import numpy as np
import pytest
from musclewood.signal.stream.blocks import Samples
from platformdirs import user_cache_path
from scipy.io import loadmat

HERE = Path(__file__).parent
SAMPLES = "biosignalsnotebooks/notebook_files/osf_files/signal_samples/"
NOTEBOOKS, OPENHDEMG = "biosignalsnotebooks", "openhdemg"
MEMBERS = {
    "bursts": (NOTEBOOKS, SAMPLES + "emg_bursts.h5", "channel_3"),
    "fatigue": (NOTEBOOKS, SAMPLES + "emg_fatigue.h5", "channel_2"),
    "quick": (NOTEBOOKS, SAMPLES + "emg_1000_hz_16_bits_solo.h5", "channel_1"),
    "quick pair": (NOTEBOOKS, SAMPLES + "emg_1000_hz_8_16_bits.h5", "channel_6"),
    "quick, loud": (NOTEBOOKS, SAMPLES + "emg_1000_hz_16_bits.h5", "channel_6"),
    "heart": (NOTEBOOKS, SAMPLES + "ecg_20_sec_1000_Hz.h5", "channel_1"),
    "heart, 4 kHz": (NOTEBOOKS, SAMPLES + "ecg_4000_Hz.h5", "channel_1"),
    "heart, 200 Hz": (NOTEBOOKS, SAMPLES + "ecg_sample.h5", "channel_1"),
    "quick pair, 8 bit": (NOTEBOOKS, SAMPLES + "emg_1000_hz_8_16_bits.h5", "channel_5"),
}
VASTUS = "openhdemg/library/decomposed_test_files/otb_testfile.mat"


class NoRegistry(Exception):
    """The recordings cannot be fetched here."""


@dataclass(frozen=True)
class Label:
    """One contraction as read by eye, s."""

    onset_s: float
    onset_uncertainty_s: float
    offset_s: float
    offset_uncertainty_s: float


@dataclass(frozen=True)
class RealRecording:
    """Samples (n, 1) in the sensor's own counts, or in µV where the file has them; force in %MVC where recorded."""

    samples: Samples
    rate_hz: float
    labels: tuple[Label, ...]
    force_pct_mvc: Samples | None = None


def cache_folder() -> Path:
    return Path(os.environ.get("MUSCLEWOOD_TEST_CACHE") or user_cache_path("musclewood") / "test-recordings")


@lru_cache
def _wheel(package: str) -> Path:
    folder = cache_folder()
    command = [
        sys.executable,
        "-m",
        "pip",
        "download",
        "--quiet",
        "--no-deps",
        "--only-binary=:all:",
        "--require-hashes",
    ]
    ready = sorted(folder.glob(f"{package}-*.whl"))
    if not ready:
        folder.mkdir(parents=True, exist_ok=True)
        done = subprocess.run(
            [*command, "--dest", str(folder), "--requirement", str(HERE / "requirements.txt")],
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
        ready = sorted(folder.glob(f"{package}-*.whl"))
        if done.returncode or not ready:
            last = (done.stderr.strip().splitlines() or ["no message"])[-1]
            raise NoRegistry(f"{package} cannot be fetched from the package registry: {last[:200]}")
    wheel = ready[-1]
    if hashlib.sha256(wheel.read_bytes()).hexdigest() not in (HERE / "requirements.txt").read_text(encoding="utf-8"):
        raise RuntimeError(f"{wheel} is not the file that was pinned; remove it")
    return wheel


def _labels(name: str) -> tuple[Label, ...]:
    known = json.loads((HERE / "labels.json").read_text(encoding="utf-8"))["recordings"]
    return tuple(Label(*row) for row in known.get(name, ()))


@lru_cache
def load_recording(name: str) -> RealRecording:
    """One of MEMBERS, or "vastus_lateralis".  Raises NoRegistry."""
    if name == "vastus_lateralis":
        with ZipFile(_wheel(OPENHDEMG)) as wheel:
            data = loadmat(io.BytesIO(wheel.read(VASTUS)))["Data"][0, 0].astype(float)
        pair = data[:, 28] - data[:, 27]  # neighbours 8 mm apart, along the fibres
        return RealRecording(pair[:, np.newaxis], 2048.0, _labels(name), data[:, 74])
    package, member, channel = MEMBERS[name]
    with ZipFile(_wheel(package)) as wheel, h5py.File(io.BytesIO(wheel.read(member)), "r") as file:
        device = next(each for each in file.values() if channel in each["raw"])
        samples = device["raw"][channel][:].astype(float)
        return RealRecording(samples, float(device.attrs["sampling rate"]), _labels(name))


@pytest.fixture
def recording(request: pytest.FixtureRequest) -> RealRecording:
    """The recording that the test's parameter names."""
    try:
        return load_recording(request.param)
    except NoRegistry as reason:
        pytest.skip(str(reason))
