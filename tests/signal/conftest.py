"""Synthetic muscles with a known course."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.bursts import Contraction
from musclewood.signal.stream.chain import Chain

from tests.signal.emg_noise import emg_noise

Course = Sequence[tuple[float, float, float]]  # onset s, offset s, level as a fraction of 300 µV
MVC_UV = 300.0
NOISE_UV = 2.0


def make_muscle(
    rate_hz: float,
    duration_s: float,
    course: Course,
    *,
    seed: int = 1,
    tone_uv: Callable[[Samples], Samples] | None = None,
    rise_s: float = 0.1,
    fall_s: float = 0.05,
    noise_uv: float = NOISE_UV,
) -> Samples:
    """EMG of the usual spectrum that follows trapezoids, over resting tone and white noise; shape (n, 1), µV."""
    time_s = np.arange(int(duration_s * rate_hz)) / rate_hz
    level = np.zeros_like(time_s)
    for onset_s, offset_s, height in course:
        up, down = (min(edge_s, 0.3 * (offset_s - onset_s)) for edge_s in (rise_s, fall_s))
        shape = np.clip(np.minimum((time_s - onset_s) / up, (offset_s - time_s) / down), 0.0, 1.0)
        level = np.maximum(level, height * shape)
    tone = tone_uv(time_s) if tone_uv else np.zeros_like(time_s)
    size = np.sqrt(np.square(level * MVC_UV) + np.square(tone))
    white = np.random.default_rng(seed).normal(size=len(time_s))
    return (emg_noise(len(time_s), rate_hz, seed) * size + noise_uv * white)[:, np.newaxis]


def detect(samples_uv: Samples, rate_hz: float) -> list[Contraction]:
    """What the chain finds in one channel."""
    chain = Chain(rate_hz, samples_uv.shape[1])
    step = int(rate_hz)
    for start in range(0, len(samples_uv), step):
        chain.process(Block(samples_uv[start : start + step], start / rate_hz))
    chain.finish()
    return [found for _, found in chain.take_contractions()]


@pytest.fixture(scope="session")
def muscle() -> Callable[..., Samples]:
    return make_muscle


@pytest.fixture(scope="session")
def detected() -> Callable[[Samples, float], list[Contraction]]:
    return detect


@pytest.fixture(scope="session")
def motor_units() -> ModuleType:
    """The generator of motor units, `motor_units.py`."""
    path = Path(__file__).with_name("motor_units.py")
    spec = importlib.util.spec_from_file_location("musclewood_motor_units", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
