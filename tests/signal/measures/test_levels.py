"""The level of a faint muscle: heartbeats, knocks and hum that comes or goes are no effort and no unrest.

A heart beats 60 to 100 times a minute at rest (common practice, no source); seen from the trunk a beat lifts a smoothed
amplitude for about 0.2 s.
"""

from __future__ import annotations

import numpy as np
from musclewood.signal.measures.faint_efforts import Rest
from musclewood.signal.measures.levels import FaintLevel
from musclewood.signal.simulation.disturbances import hum
from musclewood.signal.stream.blocks import Block
from musclewood.signal.stream.chain import HUM_SETTLES_S, Chain
from numpy.typing import NDArray

from tests.signal.emg_noise import emg_noise

STEP_S = 0.004
BEAT_S, SHOWN_S = 0.83, 0.2


def with_hearts(level_uv: float, seconds: float) -> NDArray[np.float64]:
    time_s = np.arange(round(seconds / STEP_S)) * STEP_S
    return np.where(time_s % BEAT_S < SHOWN_S, 60.0, level_uv)


def level_after(amplitude_uv: NDArray[np.float64], *, settled: bool = True) -> FaintLevel:
    level = FaintLevel(4.0, 6.0, 0.4, 0.05, STEP_S)
    for quiet in np.full(500, 4.0):
        level.step(float(quiet), True)
    for one in amplitude_uv:
        level.step(float(one), True, settled=settled)
    return level


def test_a_heart_is_no_effort_and_hides_none() -> None:
    assert not level_after(with_hearts(4.0, 5.0)).contracting
    with_heart, without = level_after(with_hearts(5.0, 5.0)), level_after(np.full(1250, 5.0))
    assert with_heart.contracting and with_heart.activation == without.activation


def test_a_heart_makes_no_restless_rest() -> None:
    random = np.random.default_rng(3)
    calm, beating = Rest(STEP_S), Rest(STEP_S)
    for _ in range(3):
        noise = np.exp(0.05 * random.standard_normal(5000))
        calm.add((4.0 * noise).tolist())
        beating.add((with_hearts(4.0, 20.0) * noise).tolist())
    assert not beating.restless and beating.scatter < 1.5 * calm.scatter
    assert beating.level_uv is not None and calm.level_uv is not None
    assert abs(beating.level_uv / calm.level_uv - 1.0) < 0.05


def test_steps_larger_than_rest_show_and_noise_does_not() -> None:
    """8 bits over 3 mV: steps of 11.7 µV, of which rest of 3 µV changes one sample in twenty."""
    rest_uv = 3.0 * emg_noise(20_000, 1000.0, 5)
    for step_uv, standing in ((11.7, True), (0.05, False)):
        amplitude = Chain(1000.0, 1).process(Block((np.round(rest_uv / step_uv) * step_uv)[:, np.newaxis], 20.0))
        rest = Rest(STEP_S)
        rest.add(amplitude.amplitude_uv[500:, 0].tolist())
        assert (rest.hidden > 0.5) == standing and (rest.hidden > 0.0) == standing


def test_a_second_spoilt_now_and_then_makes_no_restless_rest_but_a_wandering_tone_does() -> None:
    random = np.random.default_rng(4)
    spoilt, wandering = Rest(STEP_S), Rest(STEP_S)
    seconds = 4.0 * np.exp(0.05 * random.standard_normal(60))
    seconds[::10] *= 3.0
    spoilt.add(np.repeat(seconds, 250).tolist())
    wandering.add(np.repeat(4.0 * np.exp(0.3 * random.standard_normal(60)), 250).tolist())
    assert not spoilt.restless and spoilt.scatter < 0.1
    assert wandering.restless and wandering.scatter > 0.2


def test_no_effort_begins_while_hum_settles_but_one_goes_on() -> None:
    assert not level_after(np.full(750, 5.0), settled=False).contracting
    level = level_after(np.full(750, 5.0))
    for _ in range(500):
        level.step(5.0, True, settled=False)
    assert level.contracting and level.activation > 0.0
    for _ in range(500):
        level.step(4.0, True, settled=False)
    assert not level.contracting, "letting go is seen all the same"


def test_the_chain_says_when_hum_came() -> None:
    rate_hz, came_s = 1000.0, 6.0
    time_s = np.arange(round(10.0 * rate_hz)) / rate_hz
    rest = 3.0 * emg_noise(len(time_s), rate_hz, 8)
    for on, spoilt_s in ((time_s >= came_s, HUM_SETTLES_S), (time_s < 0.0, 0.0)):
        samples = (rest + 20.0 * hum(time_s, 50.05) * on)[:, np.newaxis]
        chain, parts = Chain(rate_hz, 1), []
        for start in range(0, len(samples), 37):
            parts.append(chain.process(Block(samples[start : start + 37], float(time_s[start]))).settled)
        settled = np.concatenate(parts)
        late_s = np.flatnonzero(~settled) * chain.step_s - came_s
        assert len(late_s) * chain.step_s == np.clip(spoilt_s, 0.0, spoilt_s)
        assert not len(late_s) or (late_s[0] < 0.3 and late_s[0] >= 0.0)


def test_the_smallest_effort_that_is_told_from_rest_is_that_of_the_power_calculation() -> None:
    """By hand: ln of what is asked for against 2.5 scatters, 60 % of the maximum."""
    for scatter, ratio in ((0.04, 1.27), (0.10, 1.67), (0.15, 2.03), (0.20, 2.40)):
        for times, told in ((0.98, False), (1.02, True)):
            assert FaintLevel(4.0, 4.0 * ratio * times, 0.35, scatter, STEP_S).tells(0.6) == told
