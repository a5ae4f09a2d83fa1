"""Open EMG recordings that come inside Python packages, for tests that need real muscle.

They are not part of the project: put the wheels named below into a folder (`pip download --no-deps NAME==VERSION`) and
name that folder in MUSCLEWOOD_RECORDINGS. Without it these tests are skipped.
"""

from __future__ import annotations

import io
import os
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

PLUX = ("biosignalsnotebooks-0.6.14-py3-none-any.whl", "biosignalsnotebooks/notebook_files/osf_files/signal_samples/")
HDEMG = ("openhdemg-0.1.2-py3-none-any.whl", "openhdemg/library/decomposed_test_files/otb_testfile.mat")
FULL_SCALE_UV = 3000.0  # of the amplifier behind the first two, from its transfer function: 3 V at a gain of 1000


@dataclass(frozen=True)
class Real:
    """One channel of real muscle: samples (n,) in µV."""

    samples_uv: NDArray[np.float64]
    rate_hz: float


@pytest.fixture(scope="session")
def real() -> Callable[[str], Real]:
    """Call with `bursts` or `fatigue` (biceps, biosignalsnotebooks) or `vastus_lateralis` (openhdemg)."""
    folder = os.environ.get("MUSCLEWOOD_RECORDINGS")
    if not folder:
        pytest.skip("MUSCLEWOOD_RECORDINGS names no folder with recordings")

    @cache
    def read(name: str) -> Real:
        if name == "vastus_lateralis":
            return _grid(Path(folder))
        return _biceps(Path(folder), name, 16 if name == "bursts" else 12)

    return read


def _member(folder: Path, wheel: str, member: str) -> io.BytesIO:
    file = folder / wheel
    if not file.exists():
        pytest.skip(f"{wheel} is not in the folder of recordings")
    with zipfile.ZipFile(file) as opened:
        return io.BytesIO(opened.read(member))


def _biceps(folder: Path, name: str, bits: int) -> Real:
    h5py = pytest.importorskip("h5py")
    with h5py.File(_member(folder, PLUX[0], f"{PLUX[1]}emg_{name}.h5")) as opened:
        raw = opened[next(iter(opened))]["raw"]
        channel = next(key for key in raw if key.startswith("channel"))
        counts = raw[channel][:, 0].astype(float)
    return Real((counts / 2**bits - 0.5) * FULL_SCALE_UV, 1000.0)


def _grid(folder: Path) -> Real:
    """Two neighbouring electrodes of a grid over the vastus lateralis, 8 mm apart, as one bipolar channel."""
    from scipy.io import loadmat

    data = loadmat(_member(folder, *HDEMG))["Data"]
    while data.dtype == object:
        data = data[0, 0]
    return Real(np.asarray(data[:, 28] - data[:, 27], dtype=np.float64), 2048.0)
