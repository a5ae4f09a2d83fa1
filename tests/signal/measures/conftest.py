"""Real recordings in µV, for tests of what is measured on them."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

FULL_SCALE_UV = 3000.0  # of the amplifier behind the biceps, from its transfer function: 3 V at a gain of 1000
# The info file of `fatigue` says 16 bits; its counts end at 4095.
BITS = {"bursts": 16, "fatigue": 12, "quick": 16, "quick pair": 16, "quick pair, 8 bit": 8}
FETCHING = Path(__file__).parents[2] / "recordings" / "conftest.py"


def _fetching():
    """The module that fetches and caches recordings; tests are no package, so it is loaded by its place."""
    name = "musclewood_test_recordings"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, FETCHING)
        assert spec is not None and spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


@dataclass(frozen=True)
class Real:
    """One channel of real muscle: samples (n,) in µV."""

    samples_uv: NDArray[np.float64]
    rate_hz: float


@pytest.fixture(scope="session")
def real() -> Callable[[str], Real]:
    """Call with the name of a recording; `bursts` and `fatigue` are biceps."""
    if not FETCHING.exists():
        pytest.skip("the tests of real recordings, which fetch them, are not here")
    fetching = _fetching()

    def read(name: str) -> Real:
        try:
            found = fetching.load_recording(name)
        except fetching.NoRegistry as reason:
            pytest.skip(str(reason))
        samples = found.samples[:, 0]
        if name in BITS:
            samples = (samples / 2 ** BITS[name] - 0.5) * FULL_SCALE_UV
        return Real(samples, found.rate_hz)

    return read
