"""The chain as a whole: ticks on a regular grid, activation against a reference, faults told apart from rest."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from musclewood.signal.stream.activation import Reference, relative_activation
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.chain import Chain

Make = Callable[..., Samples]


@pytest.mark.parametrize(("rate_hz", "step_s"), [(1000.0, 0.004), (2048.0, 8 / 2048), (200.0, 0.005), (100.0, 0.01)])
def test_ticks_come_about_every_4_ms(rate_hz: float, step_s: float) -> None:
    chain = Chain(rate_hz, 1)
    assert chain.step_s == pytest.approx(step_s)
    out = chain.process(Block(np.ones((int(rate_hz), 1)), 0.0))
    assert len(out.amplitude_uv) == int(rate_hz) // round(step_s * rate_hz)


def test_lost_samples_take_their_time(muscle: Make) -> None:
    samples = muscle(1000.0, 2.0, [])
    chain = Chain(1000.0, 1)
    chain.process(Block(samples[:500], 0.0))
    out = chain.process(Block(samples[902:], 0.902, lost=402))
    assert out.start_s == pytest.approx(0.5)
    assert out.start_s + len(out.readable) * out.step_s == pytest.approx(2.0)
    gap = round(0.402 / out.step_s)
    assert not out.readable[:gap].any() and out.readable[gap + 15 :].all()
    assert np.ptp(out.amplitude_uv[:gap]) == 0.0


def test_activation_is_unknown_without_a_reference_and_right_with_one(muscle: Make) -> None:
    samples = muscle(1000.0, 8.0, [(2.0, 6.0, 0.5)])
    chain = Chain(1000.0, 1)
    assert np.isnan(chain.process(Block(samples[:1000], 0.0)).activation).all()
    chain.refer_to(Reference(rest_uv=(2.0,), mvc_uv=(300.0,)))
    activation = chain.process(Block(samples[1000:], 1.0)).activation[:, 0]
    held = activation[round(1.5 / 0.004) : round(4.5 / 0.004)]
    assert np.median(held) == pytest.approx(0.5, abs=0.05)
    assert activation.min() >= 0.0 and np.median(activation[-100:]) < 0.01


def test_rest_is_removed_in_power() -> None:
    activation = relative_activation(np.array([[3.0], [5.0], [13.0], [26.0]]), Reference((5.0,), (13.0,)))
    np.testing.assert_allclose(activation[:, 0], [0.0, 0.0, 1.0, np.sqrt(26.0**2 - 25.0) / 12.0])


@pytest.mark.parametrize(
    ("rest", "mvc"), [((1.0,), (1.0,)), ((-1.0,), (5.0,)), ((1.0,), (float("nan"),)), ((1.0, 2.0), (5.0,))]
)
def test_a_reference_that_gives_no_fraction_is_refused(rest: tuple[float, ...], mvc: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="rest"):
        Reference(rest, mvc)


def test_a_reference_for_other_channels_is_refused() -> None:
    with pytest.raises(ValueError, match="2 channels"):
        Chain(1000.0, 1).refer_to(Reference((1.0, 1.0), (2.0, 2.0)))


def test_an_envelope_is_only_smoothed_and_may_stand_still() -> None:
    level = np.repeat([0.0, 80.0, 0.0], [100, 200, 200])[:, np.newaxis]
    chain = Chain(100.0, 1, envelope=True, reference=Reference((0.0,), (100.0,)))
    out = chain.process(Block(level, 0.0))
    assert out.readable.all()
    assert out.activation[250, 0] == pytest.approx(0.8, abs=0.01)
    assert out.contracting[120:295].all() and not out.contracting[350:].any()
    (found,) = [each for _, each in chain.take_contractions()]
    assert found.onset_s == pytest.approx(1.0, abs=0.03) and found.offset_s == pytest.approx(3.0, abs=0.05)


def test_channels_do_not_touch_each_other(muscle: Make) -> None:
    one = muscle(1000.0, 6.0, [(2.0, 4.0, 0.5)], seed=1)
    other = muscle(1000.0, 6.0, [(1.0, 5.0, 0.9)], seed=2)
    alone, both = Chain(1000.0, 1), Chain(1000.0, 2)
    single = alone.process(Block(one, 0.0))
    double = both.process(Block(np.hstack([one, other]), 0.0))
    np.testing.assert_allclose(double.amplitude_uv[:, 0], single.amplitude_uv[:, 0], rtol=1e-9)
    np.testing.assert_array_equal(double.contracting[:, 0], single.contracting[:, 0])
    assert [channel for channel, _ in both.take_contractions()] == [0, 1]


def test_a_wire_that_hangs_in_the_air_is_not_readable(muscle: Make) -> None:
    samples = muscle(1000.0, 4.0, [(1.0, 2.0, 0.5)])
    samples[2500:3500] = samples[2500]
    out = Chain(1000.0, 1).process(Block(samples, 0.0))
    assert not out.readable[660:880].any() and out.readable[895:].all()
