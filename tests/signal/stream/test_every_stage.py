"""One test for every streaming stage: blocks of any size, causal, input untouched, unit-free."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from musclewood.signal import stream
from musclewood.signal.quality.quality import QualityMonitor
from musclewood.signal.stream.activation import Reference
from musclewood.signal.stream.amplitude import BayesAmplitude, EnvelopeAmplitude
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.chain import Chain
from musclewood.signal.stream.conditioning import Conditioning
from musclewood.signal.stream.contractions import ContractionDetector
from musclewood.signal.stream.mains import MainsRemoval
from musclewood.signal.stream.pulses import PulseCheck
from musclewood.signal.stream.steps import StepSize
from musclewood.signal.stream.ticks import Ticks

RATE_HZ = 1000.0
CHANNELS = 2


@dataclass(frozen=True)
class Kind:
    """How to build a stage, how to feed it samples, and with which power of the input's unit its output goes."""

    build: Callable[[], Any]
    feed: Callable[[Any, Samples], Samples]
    unit_power: int


def _seen(samples: Samples) -> Any:
    return np.ones(samples.shape, bool)


def _chain(chain: Chain, samples: Samples) -> Samples:
    out = chain.process(Block(samples, 0.0))
    return np.hstack([out.amplitude_uv, np.where(out.contracting, 1.0, 0.0) * out.amplitude_uv])


def _activation(chain: Chain, samples: Samples) -> Samples:
    return chain.process(Block(samples, 0.0)).activation


def _pulses(stage: PulseCheck, samples: Samples) -> Samples:
    """Of each tick of 4 samples that these complete, how sharp the signal is that ends in it."""
    before = stage._state.next
    stage.take_in(samples)
    ticks = range(before // 4, (before + len(samples)) // 4)
    told = [[stage.sharpness(channel, tick) for channel in range(CHANNELS)] for tick in ticks]
    return np.array(told).reshape(-1, CHANNELS)


def _quality(stage: QualityMonitor, samples: Samples) -> Samples:
    seconds = stage.process(Block(samples, 0.0))
    rows = [[(one.mains, one.movement, one.noise_uv, *one.levels_uv) for one in second.shares] for second in seconds]
    return np.array(rows).reshape(-1, 7 * CHANNELS)


KINDS = {
    "conditioning": Kind(lambda: Conditioning(RATE_HZ, CHANNELS), lambda stage, x: stage.process(x)[0], 1),
    "mains": Kind(lambda: MainsRemoval(RATE_HZ, CHANNELS), lambda stage, x: stage.process(x, _seen(x)), 1),
    "ticks": Kind(lambda: Ticks(4, CHANNELS), lambda stage, x: stage.process(x, _seen(x))[0], 2),
    "bayes": Kind(lambda: BayesAmplitude(RATE_HZ, CHANNELS), lambda stage, x: stage.process(np.square(x), _seen(x)), 1),
    "envelope": Kind(
        lambda: EnvelopeAmplitude(RATE_HZ, CHANNELS), lambda stage, x: stage.process(np.square(x), _seen(x)), 1
    ),
    "detector": Kind(
        lambda: ContractionDetector(1.0 / RATE_HZ, CHANNELS),
        lambda stage, x: stage.process(np.square(x), np.abs(x), _seen(x)).astype(float),
        0,
    ),
    "pulses": Kind(lambda: PulseCheck(RATE_HZ, CHANNELS, 4), _pulses, 0),
    "quality": Kind(lambda: QualityMonitor(RATE_HZ, CHANNELS), _quality, 1),
    "chain": Kind(lambda: Chain(RATE_HZ, CHANNELS), _chain, 1),
    "chain of an envelope": Kind(lambda: Chain(RATE_HZ, CHANNELS, envelope=True), _chain, 1),
    "chain with reference": Kind(
        lambda: Chain(RATE_HZ, CHANNELS, reference=Reference((3.0, 4.0), (200.0, 100.0))), _activation, 2
    ),
}
# A reference and the advice on quality are in µV.
UNIT_FREE = [name for name in KINDS if name not in ("chain with reference", "quality")]


@pytest.fixture(scope="module")
def samples(muscle: Callable[..., Samples]) -> Samples:
    course = [(0.5, 1.2, 0.6), (1.9, 2.6, 0.3)]
    both = np.hstack([muscle(RATE_HZ, 3.0, course, seed=seed) for seed in (1, 2)])
    hum = 20.0 * np.sin(2 * np.pi * 50.2 * np.arange(len(both)) / RATE_HZ)
    return both + hum[:, np.newaxis]


def test_no_stage_is_left_out() -> None:
    """A stage is a class of the stream that takes samples in bit by bit."""
    kinds = {type(kind.build()) for kind in KINDS.values()}
    told_once = {StepSize}  # test_steps.py
    modules = [
        importlib.import_module(f"{stream.__name__}.{found.name}") for found in pkgutil.iter_modules(stream.__path__)
    ]
    stages = {
        one
        for module in modules
        for one in vars(module).values()
        if isinstance(one, type)
        and {"process", "take_in"} & vars(one).keys()
        and not getattr(one, "_is_protocol", False)
    }
    assert stages and stages <= kinds | told_once


def _run(kind: Kind, samples: Samples, size: int) -> Samples:
    stage = kind.build()
    parts = [kind.feed(stage, samples[:0])]
    for start in range(0, len(samples), size):
        parts.append(kind.feed(stage, samples[start : start + size]))
        if start % 3 == 0:
            parts.append(kind.feed(stage, samples[:0]))
    return np.concatenate(parts)


@pytest.mark.parametrize("name", KINDS)
@pytest.mark.parametrize("size", [1, 7, 16, 1000])
def test_blocks_of_any_size_give_the_same(name: str, size: int, samples: Samples) -> None:
    kind = KINDS[name]
    part = samples[: 1300 if size == 1 else len(samples)]
    whole = _run(kind, part, len(part))
    assert len(whole) > 0 and np.ptp(whole) > 0.0
    np.testing.assert_allclose(_run(kind, part, size), whole, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("name", KINDS)
def test_the_past_does_not_change_with_the_future(name: str, samples: Samples) -> None:
    other = samples.copy()
    other[1500:] = 777.0 * np.cos(np.arange(len(other) - 1500))[:, np.newaxis]
    one, two = (_run(KINDS[name], given, len(samples)) for given in (samples, other))
    known = len(one) * 1500 // len(samples)
    np.testing.assert_array_equal(one[:known], two[:known])
    assert not np.array_equal(one, two)


@pytest.mark.parametrize("name", KINDS)
def test_input_is_left_alone(name: str, samples: Samples) -> None:
    given = samples.copy()
    given.flags.writeable = False
    KINDS[name].feed(KINDS[name].build(), given)
    np.testing.assert_array_equal(given, samples)


@pytest.mark.parametrize("name", UNIT_FREE)
@pytest.mark.parametrize("factor", [1000.0, 0.001])
def test_units_do_not_matter(name: str, factor: float, samples: Samples) -> None:
    kind = KINDS[name]
    plain, scaled = (_run(kind, given, 500) for given in (samples, samples * factor))
    np.testing.assert_allclose(scaled / factor**kind.unit_power, plain, rtol=1e-6, atol=1e-6)
