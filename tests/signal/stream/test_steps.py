"""How coarse a converter is, and what that does to rest."""

from __future__ import annotations

import numpy as np
import pytest
from musclewood.signal.stream.blocks import Block, Samples
from musclewood.signal.stream.chain import Chain
from musclewood.signal.stream.conditioning import Conditioning, band_hz
from musclewood.signal.stream.steps import StepSize

from tests.signal.emg_noise import emg_noise

STEP_UV = 3000.0 / 256.0  # 8 bits over +/- 1.5 mV


def coarse(samples: Samples, step_uv: float = STEP_UV) -> Samples:
    return np.round(samples / step_uv) * step_uv


def told(stage: StepSize, samples: Samples, size: int) -> list[tuple[int, int, float]]:
    return [one for at in range(0, len(samples), size) for one in stage.process(samples[at : at + size])]


@pytest.mark.parametrize("rate_hz", [200.0, 1000.0, 4000.0])
def test_the_noise_of_rounding_is_what_theory_says(rate_hz: float) -> None:
    """Step / sqrt(12), white up to half the rate (Widrow & Kollar 2008), so far as the band-pass lets it through."""
    emg = 60.0 * emg_noise(round(20.0 * rate_hz), rate_hz, 3)[:, np.newaxis]
    stage = StepSize(1, band_hz(rate_hz) / (0.5 * rate_hz))
    ((channel, sample, noise_uv),) = told(stage, coarse(emg), 64)
    assert channel == 0 and sample < 10 * 200 and not stage.learning
    error, _ = Conditioning(rate_hz, 1).process(coarse(emg) - emg)
    assert noise_uv == pytest.approx(float(np.std(error)), rel=0.12)


@pytest.mark.parametrize("size", [1, 7, 500])
def test_blocks_of_any_size_tell_the_same(size: int) -> None:
    samples = np.column_stack([coarse(30.0 * emg_noise(3000, 1000.0, seed)) for seed in (1, 2)])
    whole, stage = told(StepSize(2, 0.86), samples, 3000), StepSize(2, 0.86)
    first = told(stage, samples[:50], size)
    assert len(whole) == 2 and sorted(first + told(stage, samples[50:], size)) == sorted(whole)


def test_what_is_not_coarse_says_so() -> None:
    stage = StepSize(1, 0.86)
    assert told(stage, emg_noise(1000, 1000.0, 4)[:, np.newaxis], 100) == [] and not stage.learning


@pytest.mark.parametrize("size", [16, 333])
def test_a_coarse_chain_does_not_depend_on_blocks_and_takes_one_step_for_no_contraction(size: int) -> None:
    """Rest of which an 8 bit sensor shows nothing for seconds, a burst, and then hum of less than a step."""
    time_s = np.arange(24_000) / 1000.0
    emg = 1.2 * emg_noise(24_000, 1000.0, 6) * np.where((time_s > 4.0) & (time_s < 6.0), 60.0, 1.0)
    samples = coarse(emg + 6.5 * np.sin(2.0 * np.pi * 50.02 * time_s) * (time_s > 12.0))[:, np.newaxis]
    one, other = Chain(1000.0, 1), Chain(1000.0, 1)
    whole = one.process(Block(samples, 0.0)).contracting
    parts = [other.process(Block(samples[at : at + size], 0.0)).contracting for at in range(0, 24_000, size)]
    np.testing.assert_array_equal(np.concatenate(parts), whole)
    found = [span.onset_s for _, span in one.take_contractions()]
    assert len(found) == 1 and abs(found[0] - 4.0) < 0.05


@pytest.mark.parametrize("rate_hz", [200.0, 1000.0])
@pytest.mark.parametrize("noise_uv", [3.0, 4.0])
def test_rest_on_eight_bits_can_be_read_and_its_first_seconds_hold_no_contraction(
    rate_hz: float, noise_uv: float
) -> None:
    """Noise of a good sensor and skin, 1-5 uV (common practice, no source), that seldom reaches the next step."""
    random = np.random.default_rng(8)
    rest = coarse(noise_uv * random.standard_normal((round(20.0 * rate_hz), 1)))
    chain = Chain(rate_hz, 1)
    seen = chain.process(Block(rest, 0.0))
    assert seen.readable[round(1.0 / chain.step_s) :].all()
    assert not seen.contracting.any()


def test_what_steps_hide_is_as_large_whether_hum_stirs_it_or_not() -> None:
    """3 µV of noise: on 8 bits hum, though it is taken out, shows what seldom reaches the next step without it."""
    rate_hz, random = 1000.0, np.random.default_rng(10)
    time_s = np.arange(round(24.0 * rate_hz)) / rate_hz
    hum = 10.0 * np.sin(2.0 * np.pi * 50.02 * time_s) * (time_s > 12.0)
    rest = coarse((3.0 * random.standard_normal(len(time_s)) + hum)[:, np.newaxis])
    amplitude_uv = Chain(rate_hz, 1).process(Block(rest, 0.0)).amplitude_uv[:, 0]
    quiet, stirred = (float(np.median(amplitude_uv[from_s * 250 : to_s * 250])) for from_s, to_s in ((4, 12), (14, 24)))
    assert stirred / quiet < 1.25


def test_hum_that_comes_back_upon_a_number_that_stands_still_is_taken_out_within_half_a_second() -> None:
    """2 µV of noise reach the next step once in 300 samples; such a rest is no measure of how loud hum may be."""
    rate_hz, random = 500.0, np.random.default_rng(11)
    time_s = np.arange(round(28.0 * rate_hz)) / rate_hz
    hum = 10.0 * np.sin(2.0 * np.pi * 50.02 * time_s) * (time_s % 24.0 < 14.0)
    samples = coarse((2.0 * random.standard_normal(len(time_s)) + hum)[:, np.newaxis])
    chain = Chain(rate_hz, 1)
    amplitude_uv = chain.process(Block(samples, 0.0)).amplitude_uv[:, 0]
    without, back = (amplitude_uv[round(a / chain.step_s) : round(b / chain.step_s)] for a, b in ((20, 24), (24.5, 26)))
    assert np.median(back) < 1.3 * np.median(without)


@pytest.mark.parametrize("size", [16, 977])
def test_a_dead_coarse_sensor_is_noticed_within_half_a_minute(size: int) -> None:
    random = np.random.default_rng(9)
    samples = coarse(3.5 * random.standard_normal((8_000, 1)))
    samples[1_000:] = samples[999]
    chain = Chain(200.0, 1)
    parts = [chain.process(Block(samples[at : at + size], 0.0)).readable for at in range(0, 8_000, size)]
    readable = np.concatenate(parts)[:, 0]
    in_a_tick = round(200.0 * chain.step_s)
    assert readable[200 // in_a_tick : 1_000 // in_a_tick].all() and not readable[7_100 // in_a_tick :].any()


def test_a_fine_converter_that_goes_dead_is_noticed_at_once() -> None:
    samples = 3.0 * emg_noise(4_000, 1000.0, 4)[:, np.newaxis]
    samples[2_000:] = samples[1_999]
    readable = Chain(1000.0, 1).process(Block(samples, 0.0)).readable[:, 0]
    assert readable[100:500].all() and not readable[530:].any()
